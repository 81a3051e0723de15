package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// An inspection under way keeps the version of its list for as long as an answer
// holds, and no longer; a version that is not in force yet overtakes nothing.
func TestInspectionKeepsItsVersionWhileItsAnswersLast(t *testing.T) {
	began := at("2025-06-04 05:30")
	walked := checklists.List{ID: "saw", Version: 2, InForce: began.AddDate(0, 0, -9)}
	later := checklists.List{ID: "saw", Version: 3, InForce: began.Add(time.Hour)}
	other := checklists.List{ID: "hoist", Version: 9, InForce: began.AddDate(0, 0, -1)}
	long := began.Add(checklists.AnswerLasts + 1)
	for name, tc := range map[string]struct {
		lists []checklists.List
		now   time.Time
		gone  bool
	}{
		"nothing later":          {[]checklists.List{walked, other}, long, false},
		"later, answers last":    {[]checklists.List{walked, later, other}, began.Add(checklists.AnswerLasts), false},
		"later, answers too old": {[]checklists.List{walked, later, other}, long, true},
		"the other order":        {[]checklists.List{later, walked}, long, true},
		"only a draft":           {[]checklists.List{walked, {ID: "saw", Version: 3}}, long, false},
	} {
		require.Equal(t, tc.gone, checklists.Facts{Lists: tc.lists}.Overtaken(walked, began, tc.now), name)
	}
}

// What was typed is not lost when an inspection is begun anew, and nothing of it
// counts as seen.
func TestCarriedAnswerIsNotSeenAgain(t *testing.T) {
	number := 0.002
	was := checklists.Answer{Item: "gap", Result: checklists.Found, Number: &number, Note: "wide", At: at("2025-06-04 05:30"), Under: "lock-1", Run: "run-1"}
	require.Equal(t, checklists.Answer{Item: "gap", Result: checklists.Found, Number: &number, Note: "wide"}, was.Carried())
}

// Of the shifts of a fortnight the newest that is over; one that runs on is none.
func TestNewestShiftThatIsOver(t *testing.T) {
	mill := aMill()
	shifts, err := mill.ShiftsBetween(at("2025-06-02 00:00"), at("2025-06-06 23:00"))
	require.NoError(t, err)
	require.Greater(t, len(shifts), 2)
	for i, s := range shifts[1:] {
		ended, err := mill.ShiftEnded(s.Ends.Add(-1))
		require.NoError(t, err)
		require.Equal(t, shifts[i].Ends, ended, "%s still runs", s.Name)
		ended, err = mill.ShiftEnded(s.Ends)
		require.NoError(t, err)
		require.Equal(t, s.Ends, ended)
	}
	_, err = checklists.Mill{}.ShiftEnded(at("2025-06-04 05:30"))
	require.Error(t, err)
}
