package faultydisk

import (
	"bytes"
	"database/sql"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// on opens a database of its own on the disk.
func on(t *testing.T, d *Disk, more string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:/mill/a.db?vfs="+d.Name()+more)
	require.NoError(t, err)
	t.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	return db
}

func made(t *testing.T) *Disk {
	t.Helper()
	d, err := New()
	require.NoError(t, err)
	return d
}

func TestDatabaseOnTheDiskIsADatabase(t *testing.T) {
	d := made(t)
	for _, mode := range []string{"WAL", "DELETE"} {
		db, other := on(t, d, "&_busy_timeout=1000&_journal_mode="+mode), on(t, d, "&_busy_timeout=1000")
		_, err := db.Exec("CREATE TABLE t" + mode + " (a INTEGER PRIMARY KEY, b BLOB)")
		require.NoError(t, err)
		for range 50 {
			_, err = db.Exec("INSERT INTO t" + mode + " (b) VALUES (randomblob(3000))")
			require.NoError(t, err)
			_, err = other.Exec("INSERT INTO t" + mode + " (b) VALUES (randomblob(3000))")
			require.NoError(t, err)
		}
		var rows int
		require.NoError(t, db.QueryRow("SELECT count(*) FROM t"+mode).Scan(&rows))
		require.Equal(t, 100, rows)
		var sound string
		require.NoError(t, other.QueryRow("PRAGMA integrity_check").Scan(&sound))
		require.Equal(t, "ok", sound)
		require.ErrorContains(t, d.Close(), "open")
		require.NoError(t, db.Close())
		require.NoError(t, other.Close())
		require.Equal(t, []string{"/mill/a.db"}, d.Files())
	}
	require.NoError(t, d.Close())
}

func TestWhatWasNotSyncedIsNotSureToBeKept(t *testing.T) {
	const file = "/mill/a"
	d := made(t)
	n := &node{}
	d.files[file], d.kept[file] = n, n
	one, two := bytes.Repeat([]byte{1}, 8*sector), bytes.Repeat([]byte{2}, 8*sector)
	n.write(0, one)
	n.sync()
	n.write(0, two)
	seen := map[string]bool{}
	for seed := range uint64(300) {
		found, err := d.AfterCut(rand.New(rand.NewPCG(seed, 0)))
		require.NoError(t, err)
		got := found.Read(file)
		switch {
		case bytes.Equal(got, one):
			seen["nothing"] = true
		case bytes.Equal(got, two):
			seen["all"] = true
		default:
			seen["some"] = true
			if bytes.Contains(got, []byte{1, 2}) || bytes.Contains(got, []byte{2, 1}) {
				seen["sectors"] = true
			}
			if bytes.ContainsFunc(got, func(r rune) bool { return r != 1 && r != 2 }) {
				seen["rubbish"] = true
			}
		}
		require.NoError(t, found.Close())
	}
	require.Equal(t, map[string]bool{"nothing": true, "all": true, "some": true, "sectors": true, "rubbish": true}, seen)
	n.sync()
	for seed := range uint64(50) {
		found, err := d.AfterCut(rand.New(rand.NewPCG(seed, 0)))
		require.NoError(t, err)
		require.Equal(t, two, found.Read(file), "synced")
		require.NoError(t, found.Close())
	}
}

func TestFileIsNotSureToBeThereBeforeItsFolderIsSynced(t *testing.T) {
	d := made(t)
	d.files["/mill/new"] = &node{}
	gone := &node{}
	d.kept["/mill/old"] = gone
	count := func() (news, olds int) {
		for seed := range uint64(50) {
			found, err := d.AfterCut(rand.New(rand.NewPCG(seed, 0)))
			require.NoError(t, err)
			for _, name := range found.Files() {
				if name == "/mill/new" {
					news++
				} else {
					olds++
				}
			}
			require.NoError(t, found.Close())
		}
		return news, olds
	}
	news, olds := count()
	require.Greater(t, news, 5)
	require.Less(t, news, 45)
	require.Greater(t, olds, 5)
	require.Less(t, olds, 45)
	d.syncFolder("/mill/other")
	news, olds = count()
	require.Equal(t, 50, news)
	require.Zero(t, olds)
}

func TestCutDiskDoesNothing(t *testing.T) {
	d := made(t)
	db := on(t, d, "&_journal_mode=WAL")
	_, err := db.Exec("CREATE TABLE t (a)")
	require.NoError(t, err)
	before := d.Read("/mill/a.db-wal")
	d.Cut()
	require.True(t, d.IsCut())
	_, err = db.Exec("INSERT INTO t VALUES (1)")
	require.Error(t, err)
	require.Equal(t, before, d.Read("/mill/a.db-wal"))
	require.NoError(t, db.Close())
	require.NoError(t, d.Close())
}

func TestAnyOneCallCanFail(t *testing.T) {
	for _, tc := range []struct {
		op    Op
		fault Fault
		said  string
	}{{Write, Full, "full"}, {Write, Broken, "I/O"}, {Sync, Broken, "I/O"}, {Read, Broken, "I/O"}, {LockShared, Locked, "locked"}, {Write, ReadOnly, "readonly"}} {
		d := made(t)
		db := on(t, d, "&_journal_mode=WAL&_synchronous=FULL&_busy_timeout=100&_cache_size=1")
		_, err := db.Exec("CREATE TABLE t (a)")
		require.NoError(t, err)
		_, err = db.Exec("INSERT INTO t SELECT randomblob(5000) FROM (VALUES (1),(2),(3),(4),(5),(6),(7),(8),(9))")
		require.NoError(t, err)
		_, err = db.Exec("PRAGMA shrink_memory")
		require.NoError(t, err)
		d.Steer(func(c Call) Fault {
			if c.Op == tc.op && (c.Op != LockShared || c.Writes) {
				return tc.fault
			}
			return None
		})
		_, err = db.Exec("INSERT INTO t SELECT max(a) FROM t")
		require.ErrorContains(t, err, tc.said, tc.op)
		require.Positive(t, d.Calls())
		d.Steer(nil)
		_, err = db.Exec("INSERT INTO t SELECT max(a) FROM t")
		require.NoError(t, err, "well again")
		require.NoError(t, db.Close())
		require.NoError(t, d.Close())
	}
}
