package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/record"
)

// A backup has no keys folder: put back, the database has forgotten what was
// cosigned since, and the file beside the key has not.
func TestWitnessWhoseDatabaseIsPutBackSignsNoOtherRecordInPlaceOfTheOneItSaw(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m := settle(t, s, fernhollow)
	log := newOtherLog(t, "stillsaw/elsewhere")
	require.NoError(t, m.EnterLog(t.Context(), NewID(), log.entered(), sam, six))
	rewritten := newOtherLog(t, log.origin)
	rewritten.signer = log.signer
	for _, l := range []*otherLog{log, rewritten} {
		l.grow(3, "as it was")
	}
	_, _, err = m.SeeCheckpoint(t.Context(), log.since(0), six)
	require.NoError(t, err)
	backup := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, s.Backup(t.Context(), backup))
	log.grow(4, "true")
	_, _, err = m.SeeCheckpoint(t.Context(), log.since(3), six)
	require.NoError(t, err)
	require.NoError(t, s.Close())

	text, err := os.ReadFile(backup)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), text, 0o600))
	s, err = Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	m = s.Of(fernhollow)
	logs, err := m.SeenLogs(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 3, logs[0].Size, "the database has forgotten")
	rewritten.grow(9, "false")
	_, size, err := m.SeeCheckpoint(t.Context(), rewritten.since(3), six)
	require.ErrorIs(t, err, record.ErrOtherSize)
	require.EqualValues(t, 7, size)
	_, _, err = m.SeeCheckpoint(t.Context(), rewritten.since(7), six)
	require.ErrorIs(t, err, record.ErrProofWrong)
	log.grow(1, "true")
	_, _, err = m.SeeCheckpoint(t.Context(), log.since(7), six)
	require.NoError(t, err, "the one it saw goes on")

	require.NoError(t, os.WriteFile(m.memoryPath(), []byte("{"), 0o600))
	_, _, err = m.SeeCheckpoint(t.Context(), log.since(8), six)
	require.ErrorContains(t, err, "so it signs nothing")
	require.False(t, errors.Is(err, ErrNotFound))
}
