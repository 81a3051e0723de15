package server_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// What was not missed while it was fresh is not missed a week later, when the check
// that was signed for it is the oldest still looked at.
func TestNoCheckThatWasDoneIsCalledMissedDaysAfter(t *testing.T) {
	t.Parallel()
	_, st, _ := demoServer(t)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	type shift struct {
		list   checklists.ListID
		starts time.Time
	}
	missed := func(now time.Time) map[shift]bool {
		found := map[shift]bool{}
		facts, err := st.Of(mill.ID).Facts(t.Context(), now)
		require.NoError(t, err)
		for _, l := range facts.Lists {
			for _, state := range facts.Missed(l, now) {
				if state.Starts.Before(demoNow.Add(-24 * time.Hour)) { // nobody signs after demoNow
					found[shift{l.ID, state.Starts}] = true
				}
			}
		}
		return found
	}
	fresh := missed(demoNow)
	for later := 3 * time.Hour; later < 5*24*time.Hour; later += 3 * time.Hour {
		for one := range missed(demoNow.Add(later)) {
			require.True(t, fresh[one], "%s of %s is called missed only %s later", one.list, one.starts, later)
		}
	}
}
