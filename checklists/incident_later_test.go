package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// 29 CFR 1904.39(a)(2), 24 hours; (b)(7), counted from when it was told to the
// employer (from memory).
func TestHarmLearntOfLaterStartsTheTimeToReportIt(t *testing.T) {
	told := underWay.Add(-time.Hour)
	first := checklists.Incident{ID: "i", Kind: checklists.Hurt, Harmed: "Walt, one finger", Harm: checklists.FirstAid, Happened: beforeShift.Add(-48 * time.Hour), At: beforeShift}
	by, _ := first.ReportBy(procedures.LawUSFederal)
	require.Zero(t, by)
	later, err := first.Learned(checklists.Amputation, told, boss(), underWay)
	require.NoError(t, err)
	by, clause := later.ReportBy(procedures.LawUSFederal)
	require.Equal(t, told.Add(24*time.Hour), by)
	require.Contains(t, clause, "1904.39(b)(7)")
	require.Equal(t, []any{procedures.PersonID("sue"), underWay, "Walt, one finger"}, []any{later.HarmBy, later.HarmAt, later.Harmed})
	later.ClosedAt = underWay
	later, err = later.Learned(checklists.Death, underWay, boss(), underWay)
	require.NoError(t, err, "a closed incident takes it too")
	by, _ = later.ReportBy(procedures.LawUSState)
	require.Equal(t, underWay.Add(8*time.Hour), by)

	for field, tc := range map[string]struct {
		harm  checklists.Harm
		known time.Time
	}{
		"harm": {checklists.FirstAid, told}, "known": {checklists.Hospital, first.Happened.Add(-1)},
	} {
		_, err := first.Learned(tc.harm, tc.known, boss(), underWay)
		require.NotNil(t, problems(t, err).For(field), field)
	}
	_, err = first.Learned(checklists.HarmNotKnown, underWay.Add(1), boss(), underWay)
	require.NotNil(t, problems(t, err).For("harm"), "not known is what it was before")
	require.NotNil(t, problems(t, err).For("known"), "not told yet")
	_, err = first.Learned(checklists.Hospital, told, sawyer(), underWay)
	require.NotEmpty(t, refusal(t, err).Why)
	near := first
	near.Kind = checklists.NearMiss
	_, err = near.Learned(checklists.Hospital, told, boss(), underWay)
	require.NotEmpty(t, refusal(t, err).Why)
}
