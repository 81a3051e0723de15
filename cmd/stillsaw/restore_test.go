package main

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/backup"
	"stillsaw/server/store"
)

func TestRestoreNeverGoesOverANewerRecordUnasked(t *testing.T) {
	dir := preparedMill(t)
	ctx, sam := t.Context(), procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor}
	own, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	other, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	keyFile := func(identity *age.X25519Identity) string {
		file := filepath.Join(t.TempDir(), "key.txt")
		require.NoError(t, os.WriteFile(file, []byte("# mine\n"+identity.String()+"\n"), 0o600))
		return file
	}
	shelf := t.TempDir()
	st, err := store.Open(ctx, dir)
	require.NoError(t, err)
	mill, err := st.TheMill(ctx)
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	place := checklists.NewBackupPlace()
	place.Place, place.Recipients = shelf, []string{own.Recipient().String()}
	at := time.Date(2026, 11, 26, 14, 35, 0, 0, time.Local)
	_, err = desk.SetUpBackup(ctx, store.NewID(), place, "", sam, at)
	require.NoError(t, err)
	shelved, err := backup.PlaceOf(place, mill.ID, "")
	require.NoError(t, err)
	var maker backup.Maker
	made := func(at time.Time) {
		_, err := maker.Make(ctx, st, backup.Asked{Place: place, At: shelved, Now: at, Zone: time.UTC})
		require.NoError(t, err)
	}
	write := func(at time.Time) {
		_, err := desk.SetUpWitness(ctx, store.NewID(), checklists.Witness{Kind: checklists.WitnessMail, Place: "jo@example.com"}, sam, at)
		require.NoError(t, err)
	}
	size := func() int64 {
		heads, _, err := store.HeadsIn(ctx, dir)
		require.NoError(t, err)
		return heads[mill.ID].Size
	}
	made(at)
	then := size()
	write(at.Add(time.Minute))
	made(at.Add(5 * time.Minute))
	write(at.Add(6 * time.Minute))
	write(at.Add(7 * time.Minute))
	now := size()

	key := []string{"-data", dir, "-identity", keyFile(own)}
	call := func(more ...string) called {
		return callIt(t, append(append([]string{"restore", shelf}, key...), more...)...)
	}
	call().failed(t, exitWrong, "is in use")
	require.NoError(t, st.Close())
	list := call("-list")
	require.Equal(t, exitOK, list.status, list.out+list.err)
	require.Contains(t, list.out, "increment")
	callIt(t, "restore", shelf, "-data", dir).failed(t, exitWrong, "is encrypted")
	callIt(t, "restore", shelf, "-data", dir, "-identity", keyFile(other)).failed(t, exitWrong, "encrypted to others")
	call().failed(t, exitWrong, "it has 2 entries that the backup has not")
	call("-lose", "1").failed(t, exitWrong, "add -lose 2")
	call("-at", "2026-11-26T14:30").failed(t, exitWrong, "no backup of that time")
	call("-at", "noon").failed(t, exitUsage, "is no time")
	require.Equal(t, now, size(), "nothing was touched")
	left, err := filepath.Glob(filepath.Join(dir, "*restor*"))
	require.NoError(t, err)
	require.Empty(t, left)

	done := call("-lose", "2")
	require.Equal(t, exitOK, done.status, done.out+done.err)
	require.Equal(t, now-2, size())
	aside, err := filepath.Glob(filepath.Join(dir, "before-restore-*", store.FileName))
	require.NoError(t, err)
	require.Len(t, aside, 1, "what was there is set aside")
	elsewhere := filepath.Join(t.TempDir(), "new")
	done = call("-to", elsewhere, "-at", "2026-11-26T14:39")
	require.Equal(t, exitOK, done.status, done.out+done.err)
	heads, _, err := store.HeadsIn(ctx, elsewhere)
	require.NoError(t, err)
	require.Equal(t, then, heads[mill.ID].Size)

	// Another record than the backup's: both went on from the same beginning.
	st, err = store.Open(ctx, elsewhere)
	require.NoError(t, err)
	_, err = st.Of(mill.ID).SetUpWitness(ctx, store.NewID(), checklists.Witness{Kind: checklists.WitnessMail, Place: "ben@example.com"}, sam, at)
	require.NoError(t, errors.Join(err, st.Close()))
	call("-to", elsewhere).failed(t, exitWrong, "add -lose another-record")
	other2 := preparedMill(t)
	call("-to", other2).failed(t, exitWrong, "add -lose another-mill")
	plain := filepath.Join(t.TempDir(), "copy.db")
	require.Equal(t, exitOK, callIt(t, "backup", "-data", dir, plain).status)
	require.Contains(t, callIt(t, "restore", plain, "-list").out, "single copy")
	done = callIt(t, "restore", plain, "-to", filepath.Join(t.TempDir(), "plain"))
	require.Equal(t, exitOK, done.status, done.out+done.err)
	byHand := callIt(t, "backup", "-data", dir)
	require.Equal(t, exitOK, byHand.status, byHand.out+byHand.err)
	require.Contains(t, byHand.out, "read back and checked")
}

// Backups are made in the midst of a second, and -list tells the second.
func TestTimeThatTheListTellsIsThatOfTheBackup(t *testing.T) {
	made := time.Date(2026, 11, 26, 19, 26, 34, 512_000_000, time.Local)
	for typed, taken := range map[string]bool{
		made.Format("2006-01-02 15:04:05"): true, made.Format("2006-01-02T15:04:05"): true,
		made.Format(time.RFC3339): true, made.Format(time.RFC3339Nano): true,
		made.Add(-time.Second).Format("2006-01-02T15:04:05"): false, made.Add(-time.Millisecond).Format(time.RFC3339Nano): false,
		made.Format("2006-01-02T15:04"): false,
	} {
		at, err := restoreFlags{at: typed}.time()
		require.NoError(t, err)
		require.Equal(t, taken, !made.After(at), typed)
	}
}
