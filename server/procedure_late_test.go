package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// A lockout done by the placard while no phone reached Stillsaw is entered
// afterwards as a whole: it stands at the times at which it was done, each act
// marked as entered late, on its page and in the record.
func TestWholeLockoutByThePlacardIsFoldedAtItsTimeAndMarkedLate(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	zone, err := m.mill.Location()
	require.NoError(t, err)
	at := time.Date(2026, 3, 3, 3, 0, 0, 0, zone) // entered at six
	const typed = "2006-01-02T15:04"
	reply := ada.post("/lockouts/new", url.Values{"submission": {ada.get("/lockouts/new?procedure=hoist").submission()}, "procedure": {"hoist"}, "task": {"new latch"},
		"expected": {"2026-03-03T09:00"}, "happened": {at.Format(typed)}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	id, found := strings.CutPrefix(reply.URL.Path, "/lockouts/")
	require.True(t, found, reply.URL.Path)
	l := lockout{m, procedures.LockoutID(id)}
	late := func(act string, form url.Values) {
		t.Helper()
		at = at.Add(time.Minute).Add(l.now().WaitLeft(at.Add(time.Minute)).Truncate(time.Minute) + time.Minute)
		form.Set("happened", at.Format(typed))
		reply := l.report(ada, act, "ada", form)
		require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	}
	worked := false
	for l.now().Stage < procedures.NotifyRestored {
		switch now := l.now(); {
		case now.Stage == procedures.Work && !worked:
			late(actWork, url.Values{})
			worked = true
		case now.Stage == procedures.Work:
			late(actEnd, l.ticked())
		default:
			late(actSteps, l.ticked())
		}
	}
	late(actRestore, l.ticked())
	done := l.now()
	require.True(t, done.Closed)
	require.True(t, at.Before(m.clock.Now()), "all of it lies before it was entered")
	require.Equal(t, time.Date(2026, 3, 3, 3, 0, 0, 0, zone).UTC(), done.Begun.UTC())
	require.Equal(t, at.UTC(), done.Events[len(done.Events)-1].At.UTC())
	for i, e := range done.Events {
		require.True(t, e.Late, "event %d %s", i, e.Kind)
	}
	page := l.page(ada)
	require.Contains(t, page.title(), "reported back in service")
	require.GreaterOrEqual(t, strings.Count(page.Body, " late"), len(done.Events))
	require.GreaterOrEqual(t, strings.Count(m.as("rita").get("/record?kind=lockout").Body, "late"), len(done.Events)/2)
}
