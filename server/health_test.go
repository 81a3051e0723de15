package server

import (
	"bytes"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store/lent"
)

// watched asks the address the server is watched at.
func (m *testMill) watched(path string) (int, string) {
	m.t.Helper()
	w := httptest.NewRecorder()
	m.server.Watch().ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w.Code, w.Body.String()
}

func TestMetricsTellWhatWasDoneAndNobody(t *testing.T) {
	m := newMill(t)
	ada := m.as("ada")
	defect := m.stopped(ada, "hoist", "latch of the quarrelsome hook")
	require.Equal(t, http.StatusOK, ada.get(defect).Status)
	m.phone().post("/sign-in", url.Values{"person": {string(m.people["bo"].ID)}, "pin": {"0000"}})
	require.Equal(t, http.StatusNotFound, ada.get("/defects/of-the-quarrelsome").Status)

	status, told := m.watched("/metrics")
	require.Equal(t, http.StatusOK, status)
	head, err := m.desk().Head(t.Context())
	require.NoError(t, err)
	for _, line := range []string{
		fmt.Sprintf("stillsaw_entries %d\n", head.Size),
		`stillsaw_secrets_total{outcome="right"} 1`,
		`stillsaw_secrets_total{outcome="wrong"} 1`,
		`stillsaw_request_seconds_count{method="GET",route="/defects/:id",status="200"} 2`,
		`stillsaw_request_seconds_count{method="GET",route="/defects/:id",status="404"} 1`,
		"stillsaw_commits_failed_total 0\n",
		"stillsaw_commands_waiting 0\n",
		"go_goroutines ",
	} {
		require.Contains(t, told, line)
	}
	for _, private := range []string{"Ada", "Lind", "Fernhollow", "quarrelsome", defect[len("/defects/"):], testSecrets["ada"], string(m.people["ada"].ID)} {
		require.NotContains(t, told, private)
	}
}

func TestReadyUntilTheDiskTakesNothingAndAgainAfter(t *testing.T) {
	m := newMill(t)
	ask := func() page { m.clock.Advance(readyFor); return m.phone().get("/readyz") }
	require.Equal(t, "answers\n", m.phone().get("/healthz").Body)
	require.Equal(t, page{http.StatusOK, ask().URL, "ready\n"}, ask())

	dir := filepath.Dir(m.store.Path())
	require.NoError(t, os.Rename(dir, dir+"-away"))
	before := m.phone().get("/readyz")
	require.Equal(t, http.StatusOK, before.Status, "an answer holds for some seconds, so that asking is cheap")
	away := ask()
	status, why := m.watched("/readyz")
	require.NoError(t, os.Rename(dir+"-away", dir))
	require.Equal(t, http.StatusServiceUnavailable, away.Status)
	require.NotContains(t, away.Body, dir, "where the data lies is for the log and the address of its own")
	require.Equal(t, http.StatusServiceUnavailable, status)
	require.Contains(t, why, "the data folder can't be written to")
	require.Equal(t, http.StatusOK, ask().Status)
	left, err := fs.Glob(os.DirFS(dir), ".stillsaw-*")
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestLogNamesNobodyAndNothingThatWasTyped(t *testing.T) {
	st, err := lent.Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	now := &clock{now: time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)}
	var log bytes.Buffer
	s, err := New(Config{Store: st, Now: now.Now, Log: slog.New(slog.NewJSONHandler(&log, nil)), pages: testPages(), words: testWords()})
	require.NoError(t, err)
	m := settled(t, s, st, now)
	ada := m.as("ada")
	form := m.phone()
	defect := m.stopped(ada, "hoist", "latch of the quarrelsome hook")
	form.post("/sign-in", url.Values{"person": {string(m.people["bo"].ID)}, "pin": {"314159"}})
	require.NoError(t, st.Close()) // as if the disk were gone
	require.LessOrEqual(t, 500, ada.post("/stop-it", url.Values{"equipment": {"hoist"}, "what": {"a quarrelsome chain"}, "by": {"Ada Rook"}, "pin": {testSecrets["ada"]}}).Status)
	require.LessOrEqual(t, 500, ada.get(defect).Status)
	require.NoError(t, s.Stop())
	require.Contains(t, log.String(), `"route":"/defects/:id"`)
	for _, private := range []string{"Ada", "Rook", "Fernhollow", "quarrelsome", "314159", testSecrets["ada"], defect[len("/defects/"):], string(m.people["ada"].ID)} {
		require.NotContains(t, log.String(), private)
	}
}

func TestSlowRequestIsNamedByItsRoute(t *testing.T) {
	m := newMill(t)
	var log bytes.Buffer
	m.server.log = slog.New(slog.NewTextHandler(&log, nil))
	m.server.now = func() time.Time { m.clock.Advance(slowRequest); return m.clock.Now() }
	m.phone().get("/defects/nothing-such")
	require.Contains(t, log.String(), "slow request")
	require.Contains(t, log.String(), "route=/defects/:id")
	require.NotContains(t, log.String(), "nothing-such")
}
