package store

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/transparency-dev/formats/log"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
	"stillsaw/server/store/scratchdb"
)

// keyed names a key, replaces it and puts a checkpoint by.
func keyed(t testing.TB, m *Mill, at time.Time) {
	t.Helper()
	_, err := m.EnsureKey(t.Context(), at)
	require.NoError(t, err)
	require.NoError(t, m.RotateKey(t.Context(), NewID(), "Jo took the old PC home", sam, at))
	kept(t, m, at)
}

// kept puts the record as it stands by.
func kept(t testing.TB, m *Mill, at time.Time) Checkpoint {
	t.Helper()
	c, err := m.Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, m.KeepCheckpoint(t.Context(), c, KeptInPassing, at))
	return c
}

// smallMill has a key, in a folder of its own.
func smallMill(t *testing.T) *Mill {
	t.Helper()
	m := settle(t, open(t), fernhollow)
	_, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	return m
}

// grow lets n more entries be written.
func grow(t *testing.T, m *Mill, n int, says string) {
	t.Helper()
	for i := range n {
		changed := millOf(m.id)
		changed.Name = fmt.Sprint(says, i)
		require.NoError(t, m.ChangeMill(t.Context(), NewID(), changed, sam, six))
	}
}

// cutBack removes every entry from the place size on, as somebody who knows how
// the record is kept could: what is left is a whole record.
func cutBack(t *testing.T, m *Mill, size int64) {
	t.Helper()
	root, err := record.Root(size, hashReader(m, m.id))
	require.NoError(t, err)
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
		for _, table := range []string{"entries", "entry_equipment", "openings"} {
			if err := tx.db.Exec("DELETE FROM "+table+" WHERE mill = ? AND seq >= ?", m.id, size).Error; err != nil {
				return err
			}
		}
		if err := tx.db.Exec("DELETE FROM tree_hashes WHERE mill = ? AND place >= ?", m.id, tlog.StoredHashCount(size)).Error; err != nil {
			return err
		}
		return tx.db.Exec("UPDATE log_heads SET size = ?, root = ? WHERE mill = ?", size, root[:], m.id).Error
	}))
}

func verifier(t *testing.T, key LogKey) note.Verifier {
	t.Helper()
	v, err := note.NewVerifier(key.Verifier)
	require.NoError(t, err)
	return v
}

// Against transparency-dev/formats and transparency-dev/merkle, which share no
// code with this record (C2SP tlog-checkpoint, RFC 6962 section 2.1.2).
func TestCheckpointsAndConsistencyAreAcceptedElsewhere(t *testing.T) {
	m := smallMill(t)
	first, err := m.Checkpoint(t.Context())
	require.NoError(t, err)
	for range 9 {
		grow(t, m, 1, "mill")
		c, err := m.Checkpoint(t.Context())
		require.NoError(t, err)
		parsed, rest, _, err := log.ParseCheckpoint([]byte(c.Text), record.Origin(string(m.id)), verifier(t, c.Keys[len(c.Keys)-1]))
		require.NoError(t, err)
		require.Empty(t, rest)
		require.EqualValues(t, c.Size, parsed.Size)
		require.Equal(t, c.Root[:], parsed.Hash)
		hashes, now, err := m.CheckpointSince(t.Context(), first.Size)
		require.NoError(t, err)
		require.Equal(t, c.Head, now.Head)
		path := make([][]byte, len(hashes))
		for i, h := range hashes {
			path[i] = h[:]
		}
		require.NoError(t, proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(first.Size), uint64(now.Size), path, first.Root[:], now.Root[:]))
		path[0] = make([]byte, 32)
		require.Error(t, proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(first.Size), uint64(now.Size), path, first.Root[:], now.Root[:]))
	}
	_, _, err = m.CheckpointSince(t.Context(), 1000)
	require.ErrorIs(t, err, ErrNotFound)
}

func TestPrivateKeyIsAFileForOneUserAndStandsInNoCopyOfTheDatabase(t *testing.T) {
	scratchdb.SQLiteOnly(t, "the database is no file to be looked through")
	m := smallMill(t)
	named, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	size := clean(t, m.s)
	again, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	require.Equal(t, named, again)
	require.Equal(t, size, clean(t, m.s), "a key in place makes no entry")

	dir := filepath.Join(filepath.Dir(m.s.Path()), KeysFolderName)
	path := filepath.Join(dir, string(m.id)+".key")
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, files, 1, "nothing half written is left")
	mode := func(path string) fs.FileMode {
		info, err := os.Stat(path)
		require.NoError(t, err)
		return info.Mode().Perm()
	}
	require.EqualValues(t, 0o600, mode(path))
	require.EqualValues(t, 0o700, mode(dir))
	require.False(t, m.KeyExposed())
	private, err := os.ReadFile(path)
	require.NoError(t, err)
	parts := bytes.SplitN(bytes.TrimSpace(private), []byte{'+'}, 5) // PRIVATE, KEY, name, hash, secret: which may have a plus itself
	require.Len(t, parts, 5)
	secret := parts[4]
	require.Greater(t, len(secret), 40)
	copied := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, m.s.Backup(t.Context(), copied))
	for _, file := range []string{copied, m.s.Path(), m.s.Path() + "-wal"} {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.False(t, bytes.Contains(text, secret), file)
	}
	require.NoError(t, os.Chmod(path, 0o644))
	require.True(t, m.KeyExposed())
}

func TestKeyIsReplacedByASupervisorWithAReasonAndBothSignOnce(t *testing.T) {
	m := smallMill(t)
	before := kept(t, m, six)
	require.Error(t, m.RotateKey(t.Context(), NewID(), "a whim", ada, six))
	require.Error(t, m.RotateKey(t.Context(), NewID(), "", sam, six))
	require.Equal(t, before.Size, clean(t, m.s))
	submission := NewID()
	require.NoError(t, m.RotateKey(t.Context(), submission, "the PC was sold", sam, six.Add(time.Minute)))
	require.NoError(t, m.RotateKey(t.Context(), submission, "the PC was sold", sam, six.Add(time.Minute)), "sent twice")
	keys, err := m.LogKeys(t.Context())
	require.NoError(t, err)
	require.Len(t, keys, 2)
	require.Equal(t, []any{keys[1].From, int64(0), RotatedKey, "the PC was sold", sam.ID}, []any{keys[0].Until, keys[1].Until, keys[1].Why, keys[1].Reason, keys[1].By})
	all, err := m.KeptCheckpoints(t.Context(), 9)
	require.NoError(t, err)
	require.Len(t, all, 2)
	for _, key := range keys {
		_, _, err := record.OpenCheckpoint(all[0].Text, verifier(t, key))
		require.NoError(t, err, "both sign the first checkpoint after")
	}
	after := kept(t, m, six.Add(2*time.Minute))
	_, _, err = record.OpenCheckpoint(after.Text, verifier(t, keys[0]))
	require.Error(t, err, "the old key signs no more")
	files, err := os.ReadDir(m.s.keys.dir)
	require.NoError(t, err)
	require.Len(t, files, 1, "and its private part is gone")
	clean(t, m.s)
}

func TestReplacingAKeyCutOffAfterItsEntryIsEndedAtTheNextStart(t *testing.T) {
	m := smallMill(t)
	old, err := os.ReadFile(m.s.keys.path(m.id))
	require.NoError(t, err)
	require.NoError(t, m.RotateKey(t.Context(), NewID(), "a new key", sam, six))
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error { return tx.db.Delete(&checkpointRow{}, "mill = ?", m.id).Error }))
	require.NoError(t, os.Rename(m.s.keys.path(m.id), m.s.keys.next(m.id)))
	require.NoError(t, os.WriteFile(m.s.keys.path(m.id), old, 0o600))
	size := clean(t, m.s)

	key, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	require.Equal(t, RotatedKey, key.Why)
	require.Equal(t, size, clean(t, m.s), "no entry is made")
	all, err := m.KeptCheckpoints(t.Context(), 9)
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.Equal(t, 2, strings.Count(all[0].Text, "— "))
	files, err := os.ReadDir(m.s.keys.dir)
	require.NoError(t, err)
	require.Len(t, files, 1)

	require.NoError(t, os.WriteFile(m.s.keys.next(m.id), old, 0o600), "cut off before its entry")
	_, err = m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	require.NoFileExists(t, m.s.keys.next(m.id))
	require.Equal(t, size, clean(t, m.s))
}

func TestDatabaseWithoutItsKeyFileSaysSoInTheRecordAndGoesOnWithANewKey(t *testing.T) {
	m := smallMill(t)
	before := kept(t, m, six)
	copied := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, m.s.Backup(t.Context(), copied))
	s, err := Open(t.Context(), filepath.Dir(copied))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	there := s.Of(m.id)
	_, err = there.Checkpoint(t.Context())
	require.ErrorIs(t, err, ErrNoKey)
	has, err := there.HasKey(t.Context())
	require.NoError(t, err)
	require.False(t, has)
	require.NoError(t, s.EnsureKeys(t.Context(), six.Add(time.Hour)))
	keys, err := there.LogKeys(t.Context())
	require.NoError(t, err)
	require.Len(t, keys, 2)
	require.Equal(t, LostKey, keys[1].Why)
	require.Empty(t, keys[1].By)
	now := kept(t, there, six)
	require.Equal(t, before.Size+1, now.Size)
	clean(t, s)

	require.NoError(t, os.WriteFile(s.keys.path(m.id), []byte("rubbish"), 0o600), "a damaged file is no key")
	require.NoError(t, s.EnsureKeys(t.Context(), six.Add(time.Hour)))
	keys, err = there.LogKeys(t.Context())
	require.NoError(t, err)
	require.Len(t, keys, 3)
	require.FileExists(t, s.keys.path(m.id)+".damaged")
}

func TestCheckpointsKeptInPassingBecomeOneADayAndTheOthersStay(t *testing.T) {
	m := smallMill(t)
	for i := range 6 {
		grow(t, m, 1, "mill")
		kept(t, m, six.Add(time.Duration(i)*10*time.Hour)) // 11:00, 21:00, 07:00, 17:00, 03:00, 13:00 UTC
	}
	grow(t, m, 1, "mill")
	c, err := m.Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, m.KeepCheckpoint(t.Context(), c, KeptForExport, six))
	require.NoError(t, m.KeepCheckpoint(t.Context(), c, KeptForExport, six.Add(time.Hour)), "the same once more")
	all, err := m.KeptCheckpoints(t.Context(), 99)
	require.NoError(t, err)
	require.Len(t, all, 7)
	grow(t, m, 1, "mill")
	kept(t, m, six.Add(keptWhole+100*time.Hour))
	all, err = m.KeptCheckpoints(t.Context(), 99)
	require.NoError(t, err)
	var when []string
	for _, k := range all {
		when = append(when, k.At.Format("2 15:04 ")+k.Why)
	}
	require.Equal(t, []string{"16 15:00 round", "3 11:00 export", "5 13:00 round", "4 17:00 round", "3 21:00 round"}, when)
	clean(t, m.s)
}
