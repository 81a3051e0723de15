package checklists_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// What holds the mill comes first, whatever it is called: late before due, due
// before what waits, done last; and the check of the shift before others alike.
func TestWhatIsNeededMostComesFirst(t *testing.T) {
	type standing struct {
		checklists.List
		status checklists.DueStatus
	}
	of := func(id checklists.ListID, every checklists.Period, status checklists.DueStatus) standing {
		return standing{checklists.List{ID: id, Schedule: checklists.Schedule{Every: every}}, status}
	}
	all := []standing{
		of("done", checklists.EachShift, checklists.IsDone), of("excused", checklists.EachMonth, checklists.IsExcused), of("due", checklists.EachMonth, checklists.IsDue),
		of("late", checklists.EachMonth, checklists.IsLate), of("unknown", checklists.EachMonth, checklists.DueUnknown), of("shift", checklists.EachShift, checklists.IsLate),
		of("next", checklists.EachShift, checklists.NoShift),
	}
	slices.SortStableFunc(all, func(a, b standing) int { return checklists.MoreNeeded(a.List, b.List, a.status, b.status) })
	var ids []checklists.ListID
	for _, one := range all {
		ids = append(ids, one.ID)
	}
	require.Equal(t, []checklists.ListID{"shift", "late", "unknown", "next", "due", "excused", "done"}, ids)
}
