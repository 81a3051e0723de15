package server

import (
	"bytes"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/views"
)

func TestBackupsPageRenders(t *testing.T) {
	at := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	field := (&views.Frame{}).TextField("place", "Where it is", "")
	due := checklists.BackupDue{Place: checklists.NewBackupPlace(), State: checklists.BackupState{Good: at, Checked: at, Tried: at, Entries: 1204, All: 5e9, Copies: 61}}
	line := backupLine{Kind: backupHeading(checklists.BackupFolder), Place: "/mnt/stick", On: true, Good: true, Said: due.State.Said(), Warning: due.Warning(), Old: true, State: due.State, Bytes: sizeSaid(4e6), All: sizeSaid(5e9), Every: 5, Keep: checklists.BackupKeep{Hours: 48, Days: 60, Months: 12, Most: 500}, Warn: 26, SameDisk: true, Since: at, Make: "/make", Switch: "/switch", Remove: "/remove"}
	off := line
	off.On, off.Encrypted, off.Keep = false, true, checklists.BackupKeep{Hours: 1}
	for _, page := range []backupsPage{{Frame: &views.Frame{}},
		{Frame: &views.Frame{}, Submission: store.NewID(), Kept: []backupLine{line, off}, Fields: []views.Field{field}, Whole: []views.Field{field}, Again: true}} {
		var out bytes.Buffer
		require.NoError(t, testPages().Render(&out, "backups", page))
		require.Contains(t, out.String(), "Set up a place of backups")
	}
}

// setUpBackups sets a folder up as a place of backups, by the page.
func (m *testMill) setUpBackups(place string) checklists.BackupID {
	m.t.Helper()
	form := url.Values{"submission": {store.NewID()}, "kind": {"folder"}, "place": {place}, "every": {"5"}, "base": {"24"}, "hours": {"48"}, "days": {"60"}, "months": {"0"}, "most": {"0"}, "warn": {"26"}, "pin": {testSecrets["sam"]}}
	page := m.as("sam").post("/backups", form)
	require.Equal(m.t, http.StatusOK, page.Status)
	page.says(m.t, "Set up. The first backup is made within a minute")
	all, err := m.desk().Backups(m.t.Context())
	require.NoError(m.t, err)
	return all[len(all)-1].Place.ID
}

// allOf reads a page as somebody and wants all of these on it.
func (m *testMill) allOf(who, path string, texts ...string) {
	m.t.Helper()
	page := m.as(who).get(path)
	for _, text := range texts {
		page.says(m.t, text)
	}
}

func (m *testMill) backupState(n int) checklists.BackupState {
	m.t.Helper()
	all, err := m.desk().Backups(m.t.Context())
	require.NoError(m.t, err)
	return all[n].State
}

func TestBackupsAreMadeByThemselvesAndSaidWhenOld(t *testing.T) {
	m := newMill(t)
	m.allOf("sam", "/backups", "No backup is made", "No place is set up")
	place := t.TempDir()
	id := m.setUpBackups(place)
	m.allOf("sam", "/backups", place, "Not tried yet", "no backup against a dead disk", "Not encrypted")
	require.NoError(t, m.server.backupRound(t.Context()))
	state := m.backupState(0)
	require.Empty(t, state.Wrong)
	require.Equal(t, 1, state.Copies)
	m.allOf("sam", "/backups", "written, read back and checked", "Last good one")

	m.clock.Advance(time.Minute)
	require.NoError(t, m.server.backupRound(t.Context()))
	require.Equal(t, state, m.backupState(0), "not yet due")
	m.clock.Advance(4 * time.Minute)
	require.NoError(t, m.server.backupRound(t.Context()))
	require.Equal(t, 2, m.backupState(0).Copies)

	away := filepath.Join(filepath.Dir(place), "away")
	require.NoError(t, os.Rename(place, away))
	for range 2 {
		m.clock.Advance(14 * time.Hour)
		require.NoError(t, m.server.backupRound(t.Context()))
	}
	failed := m.backupState(0)
	require.Contains(t, failed.Wrong, place)
	require.Equal(t, 2, failed.Copies)
	warning := "The last good backup in a folder is of"
	m.allOf("sam", "/", warning)
	m.allOf("sam", "/backups", warning, "The last try failed")
	m.allOf("sam", "/reminders", warning)
	require.NotContains(t, m.as("ada").get("/").Body, warning)

	require.NoError(t, os.Rename(away, place))
	page := m.as("sam").post("/backups/"+string(id)+"/make", url.Values{})
	page.says(t, "A backup was made, read back and checked.")
	require.NotContains(t, m.as("sam").get("/").Body, warning)
}
