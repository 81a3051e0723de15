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
