package checklists_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestListDueNowTellsItsNextShiftToo(t *testing.T) {
	f := unchecked(t)
	list := f.Lists[0]
	require.Equal(t, checklists.EachShift, list.Schedule.Every)
	now := f.Next(list, beforeShift)
	require.True(t, now.Now)
	next, some := f.Following(list, beforeShift)
	require.True(t, some)
	require.True(t, next.Opens.After(beforeShift) && next.Opens.After(now.Opens), "%s", next.Opens)
	require.Contains(t, next.Said.String(), "shift that starts")
	done := checkedFacts(t, beforeShift)
	_, some = done.Following(done.Lists[0], underWay)
	require.False(t, some, "done: Next tells it")
}
