package checklists_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// somebodyNamed are the lists that ask for a qualified person, at a mill with
// Ann of the crew as given.
func somebodyNamed(t *testing.T, ann procedures.Person) (weekly, shock checklists.List, f checklists.Facts) {
	t.Helper()
	f = under(nil, nil)
	ann.ID, ann.Name, ann.Role = "ann", "Ann", procedures.Operator
	f.People = []procedures.Person{ann, helper()}
	for _, l := range checklists.StarterLists(aSetUp(), aPlant()) {
		l.Version, l.InForce = 1, at("2025-05-01 12:00")
		f.Lists = append(f.Lists, l)
	}
	return listed(f.Lists, checklists.Weekly), listed(f.Lists, checklists.AfterShockLoad), f
}

// 29 CFR 1910.265(c)(24)(iii): a qualified person; what ran out in January
// qualifies nobody in June.
func TestNobodyIsNamedAsQualifiedOnceThatHasRunOut(t *testing.T) {
	for name, tc := range map[string]struct {
		ann procedures.Person
		ok  bool
	}{
		"without an end": {procedures.Person{QualifiedLifting: true}, true},
		"ends later":     {procedures.Person{QualifiedLifting: true, LiftingUntil: underWay.Add(1)}, true},
		"ends now":       {procedures.Person{QualifiedLifting: true, LiftingUntil: underWay}, false},
		"never was":      {procedures.Person{}, false},
	} {
		_, shock, f := somebodyNamed(t, tc.ann)
		_, err := checklists.Take(shock, "L1", checklists.Answer{Result: checklists.OK, Person: "ann"}, sawyer(), f, underWay)
		if tc.ok {
			require.NoError(t, err, name)
			continue
		}
		require.NotNil(t, problems(t, err).For("person"), name)
	}
	electrical, _, f := somebodyNamed(t, procedures.Person{QualifiedElectrical: true, ElectricalUntil: underWay})
	for i := range electrical.Items {
		electrical.Items[i].Qualified = checklists.ForElectrical
	}
	_, err := checklists.Take(electrical, "W1-by", checklists.Answer{Result: checklists.OK, Person: "ann"}, sawyer(), f, underWay)
	require.NotNil(t, problems(t, err).For("person"))
}

// 29 CFR 570.58: nobody under 18 at a hoist, whatever the mill has recorded.
func TestNobodyUnderAgeIsNamedForWorkTheLawBars(t *testing.T) {
	_, shock, f := somebodyNamed(t, procedures.Person{QualifiedLifting: true, Minor: true})
	name := func() error {
		_, err := checklists.Take(shock, "L1", checklists.Answer{Result: checklists.OK, Person: "ann"}, sawyer(), f, underWay)
		return err
	}
	require.NotNil(t, problems(t, name()).For("person"))
	f.Minors = procedures.MinorRule{Law: procedures.LawUK, Allowed: true}
	require.NoError(t, name(), "where a supervisor signed that the law allows it")
	f.Minors, f.People[0].MinorUntil = procedures.MinorRule{}, underWay
	require.NoError(t, name(), "18 today")
}

// 29 CFR 1910.265(c)(24)(iii): the chain is measured by somebody qualified, not by
// anybody who names one.
func TestChainIsPassedOnlyByWhoIsQualified(t *testing.T) {
	weekly, _, f := somebodyNamed(t, procedures.Person{QualifiedLifting: true, LiftingUntil: underWay.Add(1)})
	ann := f.People[0]
	stretch := 0.0
	pass := checklists.Answer{Result: checklists.OK, Number: &stretch}
	_, err := checklists.Take(weekly, "W1", pass, helper(), f, underWay)
	require.NotNil(t, problems(t, err).For("result"), "Ben is not qualified, whoever he names")
	_, err = checklists.Take(weekly, "W1", pass, ann, f, underWay)
	require.NoError(t, err)
	over := ann
	over.LiftingUntil = underWay
	_, err = checklists.Take(weekly, "W1", pass, over, f, underWay)
	require.NotNil(t, problems(t, err).For("result"))
	_, err = checklists.Take(weekly, "W1", checklists.Answer{Result: checklists.Found, Note: "a link is bent", Photo: "p"}, helper(), f, underWay)
	require.NoError(t, err, "what is wrong is reported by anybody")
	_, err = checklists.Take(weekly, "W1", checklists.Answer{Result: checklists.NotChecked, Note: "nobody qualified here"}, helper(), f, underWay)
	require.NoError(t, err)
}
