package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// What is kept is held against the tables at every step, see TestMain. Seen to fail
// while each return to service was kept.
func TestReturnsNobodyChecksAfterTakeNoMoreRoom(t *testing.T) {
	m := newMill(t)
	scheduled(t, m, "repair", checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Repair}}, six)
	var at time.Time
	var last checklists.DefectID
	for i := range 40 {
		at = six.Add(time.Duration(i) * 10 * time.Second)
		d, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "head-saw", What: "belt"}, ben, at)
		require.NoError(t, err)
		require.NoError(t, m.MendDefect(t.Context(), NewID(), d, "new belt", "", ben, at))
		require.NoError(t, m.ReturnDefect(t.Context(), NewID(), d, checklists.Recheck{Note: "runs"}, ada, at))
		f, err := m.Facts(t.Context(), at)
		require.NoError(t, err)
		require.Equal(t, d, f.Returned[len(f.Returned)-1].ID)
		require.Less(t, len(f.Returned), 34)
		last = d
	}
	later := at.Add(time.Hour)
	m.s.kept.forget()
	f, err := m.Facts(t.Context(), later)
	require.NoError(t, err)
	require.Len(t, f.Returned, 1+checklists.CallsKept)
	require.Equal(t, last, f.Returned[checklists.CallsKept].ID)
	require.Equal(t, checklists.IsDue, statusAt(t, m, "repair", later))
}
