package server

import (
	"fmt"
	"net/http"
	"net/url"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// The server's clock jumps back and forward while people send: by minutes, days, a
// year. A stop is never refused for it, each one answered is in the record once, and
// what the wrong time holds goes on when a supervisor signs that the clock is right.
func TestClockJumpsWhilePeopleWork(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	phones := map[string]*phone{"ada": m.as("ada"), "bo": m.as("bo")}
	sent := map[string]int{}
	for i, jump := range []time.Duration{0, -5 * 24 * time.Hour, 3 * time.Hour, 5 * 24 * time.Hour, -10 * time.Minute, 400 * 24 * time.Hour, -400 * 24 * time.Hour} {
		m.clock.Advance(jump)
		var mu sync.Mutex
		var all sync.WaitGroup
		for who, p := range phones {
			all.Go(func() {
				for n := range 4 {
					if n == 2 { // in the middle of it, a minute back and on
						m.clock.Advance(-time.Minute)
					}
					words := fmt.Sprintf("jump %d, %s, %d", i, who, n)
					form := url.Values{"submission": {store.NewID()}, "equipment": {"head-saw"}, "what": {words}}
					for range 2 { // the second time it is not done again
						where, status, err := p.send("/stop-it", form)
						if err != nil || where == "" {
							t.Errorf("%s: %d %v", words, status, err)
						}
					}
					mu.Lock()
					sent[words]++
					mu.Unlock()
					if n == 2 {
						m.clock.Advance(time.Minute)
					}
				}
			})
		}
		all.Wait()
		require.False(t, t.Failed())
		for who := range phones { // a session may be over by the new time
			reply := phones[who].post("/sign-in", url.Values{"person": {string(m.people[who].ID)}, "pin": {testSecrets[who]}})
			require.Equal(t, http.StatusOK, reply.Status, reply.Body)
		}
	}
	defects, err := m.desk().DefectsSince(t.Context(), time.Time{})
	require.NoError(t, err)
	found := map[string]int{}
	for _, d := range defects {
		found[d.What]++
	}
	require.Equal(t, sent, found)
	reports, built, err := m.store.Rebuild(t.Context(), store.Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	require.True(t, built.OK(), "%+v", built.Differences)
	for _, report := range reports {
		require.True(t, report.OK(), report.Faults)
	}

	require.Equal(t, checklists.Held, m.status("hoist"))
	phones["ada"].get("/").says(t, `href="/clock"`)
	reply := m.as("sam").post("/clock", signed("sam", nil))
	require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
	require.NotContains(t, phones["ada"].get("/").Body, `href="/clock"`)
}
