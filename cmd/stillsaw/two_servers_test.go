package main

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// Two servers on one folder would each believe that they alone write. Seen to fail
// with the hold left out of serve: the second one runs.
func TestSecondServerOnAFolderRefusesAndTheFirstGoesOn(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program")
	}
	binary, dir := built(t), preparedMill(t)
	first := start(t, binary, dir)
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second) // one that does run is ended
	defer cancel()
	said, err := exec.CommandContext(ctx, binary, "-addr", "127.0.0.1:0", "-data", dir).CombinedOutput()
	require.Error(t, err)
	require.Equal(t, "stillsaw: the data folder "+dir+" is in use: another Stillsaw is at work on it. Look for its window or its service and stop it, or name another folder with -data\n", string(said))
	faultRow(t, "Two servers on one data folder", "The first goes on as if nothing were.", words(strings.ReplaceAll(string(said), dir, "DIR")), "The second one ends with status 1, before it touches anything; `backup`, `verify` and `new-pin` go on beside a server, `restore` asks for it to be stopped.")

	// By hand beside it: a copy, a check and a PIN, but no other database under it.
	copied := filepath.Join(t.TempDir(), "copy.db")
	require.Equal(t, exitOK, callIt(t, "backup", "-data", dir, copied).status)
	require.Equal(t, exitOK, callIt(t, "verify", "-data", dir).status)
	require.Equal(t, exitOK, callIt(t, "new-pin", "-data", dir, "Ben Lind").status)
	callIt(t, "restore", copied, "-to", dir).failed(t, exitWrong, "nothing was put back", "stop Stillsaw first")
	ada := newBrowser(t, first.addr)
	require.NotEmpty(t, ada.signIn("ada", crewsPIN))
	tells(t, ada, "told beside the second")

	// What a killed one leaves keeps nobody out.
	first.kill(t)
	require.FileExists(t, filepath.Join(dir, store.HoldName))
	again := start(t, binary, dir)
	ada.addr = again.addr
	tells(t, ada, "told after the kill")
	again.kill(t)
	require.Equal(t, []string{"told beside the second", "told after the kill"}, stopsIn(t, dir))
	require.Equal(t, exitOK, callIt(t, "verify", "-rebuild", "-data", dir).status)
}

// A folder is held before it is opened: an older one must not be upgraded under a
// server at work.
func TestHeldFolderIsNotTouched(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	held, err := store.HoldFolder(dir)
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second) // one that runs all the same ends with it
	defer cancel()
	var out, errOut bytes.Buffer
	require.Equal(t, exitWrong, run(ctx, []string{"-addr", "127.0.0.1:0", "-data", dir}, &out, &errOut), out.String())
	require.Contains(t, errOut.String(), dir+" is in use")
	require.NoFileExists(t, filepath.Join(dir, store.FileName))
	require.NoError(t, held.Release())
}

// stopped sends a stop and gives the status and what the page says.
func (b *browser) stopped(form url.Values) (int, string) {
	b.t.Helper()
	status, _, page, err := b.post(b.t.Context(), "/stop-it", form)
	require.NoError(b.t, err)
	return status, saidOn(page)
}

func aStop(what string) url.Values {
	return url.Values{"submission": {store.NewID()}, "equipment": {"head-saw"}, "what": {what}}
}

// tells sends a stop, twice as a phone may; it is taken in each time.
func tells(t *testing.T, b *browser, what string) {
	t.Helper()
	form := aStop(what)
	for range 2 {
		status, page := b.stopped(form)
		require.Equal(t, http.StatusSeeOther, status, page)
	}
}

// stopsIn are the stops that the record of a folder has, in the order they came.
func stopsIn(t *testing.T, dir string) []string {
	t.Helper()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	defects, err := st.Of(mill.ID).DefectsSince(t.Context(), time.Time{})
	require.NoError(t, err)
	var said []string
	for _, d := range defects {
		require.Equal(t, procedures.EquipmentID("head-saw"), d.Equipment)
		said = append(said, d.What)
	}
	return said
}

func TestDamagedDatabaseIsNamedWithWhatToDo(t *testing.T) {
	dir := preparedMill(t)
	path := filepath.Join(dir, store.FileName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	clear(whole[4096:]) // all but the first page
	require.NoError(t, os.WriteFile(path, whole, 0o600))
	callIt(t, "-addr", "127.0.0.1:0", "-https", "off", "-data", dir).failed(t, exitWrong, path, "put a backup back")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, whole, kept, "it is left as it is")
}
