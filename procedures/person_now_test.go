package procedures

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/plain"
)

var noon = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

func TestQualificationCountsUntilItEnds(t *testing.T) {
	p := Person{ID: "ada", Name: "Ada", Role: Operator, QualifiedElectrical: true, QualifiedLifting: true, Deputy: true}
	require.Equal(t, p, p.Now(noon), "with no end it goes on")
	p.ElectricalUntil, p.LiftingUntil, p.DeputyFrom, p.DeputyUntil = noon, noon.Add(time.Second), noon.Add(-time.Hour), noon.Add(time.Hour)
	for _, tc := range []struct {
		at                          time.Time
		electrical, lifting, deputy bool
	}{
		{noon.Add(-2 * time.Hour), true, true, false}, {noon.Add(-time.Second), true, true, true}, {noon, false, true, true}, {noon.Add(time.Second), false, false, true}, {noon.Add(time.Hour), false, false, false},
	} {
		now := p.Now(tc.at)
		require.Equal(t, []bool{tc.electrical, tc.lifting, tc.deputy, tc.deputy}, []bool{now.QualifiedElectrical, now.QualifiedLifting, now.Deputy, now.Supervises()}, tc.at)
	}
	require.Len(t, p.Lapses(noon), 3)
	require.True(t, p.Lapses(noon)[0].Over)
	require.False(t, p.Lapses(noon)[1].Over)
	require.Empty(t, p.Lapses(noon.AddDate(0, -2, 0)))
}

// Nobody may ever do more as of now than what is kept of them says.
func TestNowGivesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPerson("ada").Draw(t, "person")
		when := func(label string) time.Time {
			return rapid.SampledFrom([]time.Time{{}, noon.Add(-time.Hour), noon, noon.Add(time.Hour)}).Draw(t, label)
		}
		p.DeputyFrom, p.DeputyUntil, p.ElectricalUntil, p.LiftingUntil = when("from"), when("until"), when("electrical"), when("lifting")
		now := p.Now(noon)
		for _, has := range [][2]bool{{now.Deputy, p.Deputy}, {now.QualifiedElectrical, p.QualifiedElectrical}, {now.QualifiedLifting, p.QualifiedLifting}, {now.Supervises(), p.Supervises()}} {
			require.False(t, has[0] && !has[1])
		}
	})
}

// 29 CFR 570.54, 570.55, 570.58: sawmilling, power-driven woodworking machines,
// power-driven hoists.
func TestLawBarsPeopleUnder18FromTheMachines(t *testing.T) {
	kid := Person{ID: "kit", Name: "Kit", Role: Operator, Minor: true, MinorUntil: noon}
	before, clauses := noon.Add(-time.Second), map[EquipmentKind]string{HeadSaw: "570.55", Carriage: "570.55", DogsAndKnees: "570.55", OffBearing: "570.55", Hoist: "570.58", DustCollection: "570.54", Site: "570.54", "": "570.54"}
	for kind, clause := range clauses {
		for _, law := range []Law{LawUSFederal, LawUSState} {
			for _, allowed := range []bool{false, true} {
				var no *plain.Refusal
				require.ErrorAs(t, MinorRule{Law: law, Allowed: allowed}.May(kid, kind, before), &no, "%s %s", law, kind)
				require.Contains(t, no.Clause, clause)
			}
			require.NoError(t, MinorRule{Law: law}.May(kid, kind, noon), "18 today")
		}
		for _, law := range []Law{LawCanada, LawUK, LawFarm, LawOther, ""} {
			require.Error(t, MinorRule{Law: law}.May(kid, kind, before), "nobody has said it is allowed under %q", law)
			require.Equal(t, law == "", MinorRule{Law: law, Allowed: true}.May(kid, kind, before) != nil, law)
		}
	}
	kid.MinorUntil = time.Time{}
	require.Error(t, MinorRule{Law: LawUSFederal}.May(kid, Hoist, noon.AddDate(50, 0, 0)), "with no day kept it holds until taken off")
	kid.Minor = false
	require.NoError(t, MinorRule{}.May(kid, Hoist, noon))
}

// 29 CFR 570.58 is of power-driven hoists; a hand chain is none, and stays part
// of the sawmill, 29 CFR 570.54.
func TestOrderOfPowerDrivenHoistsIsNotNamedForAHandChain(t *testing.T) {
	rule := MinorRule{Law: LawUSFederal, HandHoist: true}
	require.Contains(t, rule.Clause(Hoist), "570.54")
	require.Error(t, rule.May(Person{ID: "kit", Minor: true}, Hoist, noon), "barred all the same")
	require.Contains(t, rule.Clause(HeadSaw), "570.55")
}

func TestNobodyUnder18AnswersForWorkTheyAreBarredFrom(t *testing.T) {
	kid := Person{ID: "kit", Name: "Kit", Role: Supervisor, Deputy: true, Authorized: true, QualifiedElectrical: true, QualifiedLifting: true, Minor: true}
	var bad plain.Problems
	require.ErrorAs(t, MinorRule{Law: LawUSFederal}.MayBe(kid, noon), &bad)
	require.Len(t, bad, 5)
	require.True(t, errors.As(MinorRule{Law: LawOther}.MayBe(kid, noon), &bad))
	require.NoError(t, MinorRule{Law: LawOther, Allowed: true}.MayBe(kid, noon))
	require.NoError(t, MinorRule{Law: LawUSFederal}.MayBe(Person{Role: Operator, Minor: true}, noon))
	kid.Left = true
	require.NoError(t, MinorRule{Law: LawUSFederal}.MayBe(kid, noon), "who has left may be kept as they were")
}
