package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// lying is every file of a folder with its bytes, but for the empty one a server holds
// the folder by.
func lying(t *testing.T, dir string) map[string]string {
	t.Helper()
	found := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || entry.Name() == store.HoldName {
			return err
		}
		text, err := os.ReadFile(path)
		found[path] = string(text)
		return err
	}))
	return found
}

func TestDatabaseOfANewerStillsawIsRefusedByEveryCommandWithTheReason(t *testing.T) {
	dir, other, free := preparedMill(t), preparedMill(t), t.TempDir()
	alter(t, dir, "INSERT INTO migrations (number, name) SELECT max(number) + 1, 'next.sql' FROM migrations")
	newer := filepath.Join(dir, store.FileName)
	before, beside := lying(t, dir), lying(t, other)
	for _, args := range [][]string{
		{"serve", "-data", dir, "-addr", "127.0.0.1:0"},
		{"backup", "-data", dir, filepath.Join(free, "copy.db")},
		{"backup", "-data", dir},
		{"verify", "-data", dir},
		{"verify", "-rebuild", "-data", dir},
		{"new-pin", "-data", dir, "Ada Rook"},
		{"restore", newer, "-data", free},
		{"restore", newer, "-data", other},
		{"restore", filepath.Join(other, store.FileName), "-data", dir},
	} {
		c := callIt(t, args...)
		c.failed(t, exitWrong, "was written by a newer Stillsaw", "start that version")
		require.Equal(t, before, lying(t, dir), args)
		require.Equal(t, beside, lying(t, other), args)
		require.Empty(t, lying(t, free), args)
	}
}

func TestUpgradeIsToldWithWhereTheDatabaseAsItWasLies(t *testing.T) {
	dir := preparedMill(t)
	alter(t, dir, blanksUnpacked+"DROP TABLE backup_places; DROP TABLE backup_secrets; DROP TABLE backup_states; DROP INDEX lockouts_held; DROP INDEX inspections_signed; DROP TABLE signed_days; ALTER TABLE inspections DROP COLUMN day; ALTER TABLE inspections DROP COLUMN version; ALTER TABLE inspections DROP COLUMN began; ALTER TABLE inspections DROP COLUMN late; ALTER TABLE lockouts DROP COLUMN ended; ALTER TABLE lockouts DROP COLUMN holds; DELETE FROM migrations WHERE number > 27")
	first := serving(t, dir)
	copied := filepath.Join(dir, store.FileName+".before-upgrade-from-27")
	require.Contains(t, first.printed(), "An earlier Stillsaw left it (step 27 of the upgrades); it was upgraded to step ")
	require.Contains(t, first.printed(), copied)
	back := filepath.Join(t.TempDir(), "back")
	c := callIt(t, "restore", copied, "-data", back)
	require.Equal(t, exitOK, c.status, c.out+c.err)
	c = callIt(t, "verify", "-data", back)
	require.Equal(t, exitOK, c.status, c.out+c.err)
	require.Contains(t, c.out, "An earlier Stillsaw left this database (step 27 of ")
}
