package procedures

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// 29 CFR 1910.147(a)(3)(i), Appendix A.
func TestProgramSaysWhatTheRuleAsksFor(t *testing.T) {
	kept, err := redLocks().Keep(samSup, crewOfTwo(), nil, shiftDay)
	require.NoError(t, err)
	require.True(t, kept.SetUp())
	require.False(t, Program{}.SetUp())
	_, err = Program{Affected: []Affected{{Equipment: "gone"}}}.Keep(samSup, crewOfTwo(), nil, shiftDay)
	require.Equal(t, []string{"purpose", "duty", "scope", "enforcement", "in_charge", "law", "lock_colour", "tag_standard", "affected"}, fields(err))
	_, err = redLocks().Keep(depOp, crewOfTwo(), nil, shiftDay)
	require.Equal(t, Clause("(c)(1)"), clauseOf(err))
}

// (a)(1)(ii)(A)–(E).
func TestLawChangesWhatIsPrintedAndNothingElse(t *testing.T) {
	said := map[string]bool{}
	for _, law := range Laws() {
		p := redLocks()
		p.Law = law
		kept, err := p.Keep(samSup, crewOfTwo(), nil, shiftDay)
		require.NoError(t, err)
		said[law.Basis().String()] = true
		kept.Law = LawUSFederal
		again, err := redLocks().Keep(samSup, crewOfTwo(), nil, shiftDay)
		require.NoError(t, err)
		require.Equal(t, again, kept)
	}
	require.Len(t, said, 4)
	require.Contains(t, Law("").Basis().String(), "Nobody has said yet")
}

// (c)(1): procedures, training and inspections before anybody services.
func TestProcedureShowsItsThreeLights(t *testing.T) {
	p := hoistProcedure()
	good := Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}}
	require.True(t, ProgramState(p, []Learned{good}, InspectionDue{State: DueSoon}, shiftDay).Ready())

	lights := ProgramState(version(p, 0), []Learned{good, {Person: benOp.ID}}, InspectionDue{State: DueAtNextUse}, shiftDay)
	require.False(t, lights.Ready())
	require.Equal(t, Clause("(c)(4)(i)"), lights.Written.Gap.Clause)
	require.Equal(t, Clause("(c)(7)(i)(A)"), lights.Trained.Gap.Clause)
	require.Equal(t, benOp.ID, lights.Lacking[0].Person)
	require.Equal(t, Clause("(c)(6)(i)"), lights.Inspected.Gap.Clause)
	require.Equal(t, Lights{}.Ready(), false, "the zero Lights is none on")
	require.False(t, ProgramState(p, nil, InspectionDue{State: DueLater}, shiftDay).Trained.On, "nobody is not everybody")
}
