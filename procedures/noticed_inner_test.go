package procedures

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A text may be as long as is said and not a letter longer; what is wrong stands
// at its field.
func TestTextsMayBeAsLongAsIsSaid(t *testing.T) {
	program := func(set func(*Program, string)) func(string) error {
		return func(text string) error {
			p := redLocks()
			set(&p, text)
			_, err := p.Keep(samSup, crewOfTwo(), nil, shiftDay)
			return err
		}
	}
	person := func(set func(*Person, string)) func(string) error {
		return func(text string) error {
			p := Person{ID: "p", Name: "Jo", Role: Operator}
			set(&p, text)
			return p.Validate()
		}
	}
	for _, tc := range []struct {
		field string
		most  int
		with  func(string) error
	}{
		{"purpose", longestText, program(func(p *Program, s string) { p.Purpose = s })},
		{"duty", longestText, program(func(p *Program, s string) { p.Duty = s })},
		{"scope", longestText, program(func(p *Program, s string) { p.Scope = s })},
		{"enforcement", longestText, program(func(p *Program, s string) { p.Enforcement = s })},
		{"lock_colour", longestName, program(func(p *Program, s string) { p.LockColour = s })},
		{"tag_standard", longestText, program(func(p *Program, s string) { p.TagStandard = s })},
		{"absent_owner", longestText, program(func(p *Program, s string) { p.AbsentOwner = s })},
		{"name", longestName, person(func(p *Person, s string) { p.Name = s })},
		{"firm", longestName, person(func(p *Person, s string) { p.Firm = s })},
		{"electrical_note", longestText, person(func(p *Person, s string) { p.ElectricalNote = s })},
		{"lifting_note", longestText, person(func(p *Person, s string) { p.LiftingNote = s })},
	} {
		require.NoError(t, tc.with(strings.Repeat("x", tc.most)), tc.field)
		require.Equal(t, []string{tc.field}, fields(tc.with(strings.Repeat("x", tc.most+1))), tc.field)
	}
}

// Whoever names the machines in another order gets the same procedure.
func TestDraftDoesNotHangOnTheOrderOfTheMachines(t *testing.T) {
	plant := StarterPlant(registerAnswers("engine"))
	all := []EquipmentID{"carriage", "head-saw", "hoist"}
	want, err := plant.DraftProcedure("p", "All", all...)
	require.NoError(t, err)
	slices.Reverse(all)
	got, err := plant.DraftProcedure("p", "All", append(all, "hoist")...)
	require.NoError(t, err)
	require.Equal(t, want, got)
}

// Zero is proven again only while somebody may be at work.
func TestNothingIsProvenAgainBesideWork(t *testing.T) {
	at := Lockout{Stage: Work, Procedure: Procedure{Steps: []Step{{ID: "hold", Stage: Isolate, Recheck: 1}, {ID: "gauge", Stage: Verify, Recheck: 1}, {ID: "try", Stage: Verify}}}}
	require.True(t, at.Open())
	require.Equal(t, []Step{{ID: "gauge", Stage: Verify, Recheck: 1}}, at.BuildingUp())
	for name, change := range map[string]func(*Lockout){
		"before work": func(l *Lockout) { l.Stage = Verify }, "release": func(l *Lockout) { l.Stage = NotifyRestored },
		"test": func(l *Lockout) { l.Test = "asked" }, "night": func(l *Lockout) { l.Overnight = true },
	} {
		l := at
		change(&l)
		require.Empty(t, l.BuildingUp(), name)
	}
}

func TestNamesOfAListStandApart(t *testing.T) {
	require.Equal(t, `"a", "b", "c, d"`, listed([]EquipmentID{"a", "b", "c, d"}).String())
}

// Only the acts that are named are signed: of the steps those that prove zero.
func TestNoOtherActIsSigned(t *testing.T) {
	l := Lockout{Procedure: Procedure{Steps: []Step{{ID: "off", Stage: Isolate}, {ID: "try", Stage: Verify}}}}
	require.True(t, l.Signed(Event{Kind: StepDone, Step: "try"}))
	require.False(t, l.Signed(Event{Kind: StepDone, Step: "off"}))
	require.False(t, l.Signed(Event{}))
	require.True(t, l.Signed(Event{Kind: Cancelled}))
}
