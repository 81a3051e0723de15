package store

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"stillsaw/server/store/scratchdb"
)

func TestBackupTakenWhileWritingOpensAndVerifies(t *testing.T) {
	m := newMill(t)
	ctx, finish := context.WithCancel(t.Context())
	written := make(chan int, 1)
	begun := make(chan struct{})
	go func() {
		n := 0
		for ; ctx.Err() == nil; n++ {
			if _, err := stop(context.Background(), m, NewID(), fmt.Sprint("stop ", n)); err != nil {
				break
			}
			if n == 0 {
				close(begun)
			}
		}
		written <- n
	}()
	defer finish()
	<-begun
	before := size(t, m)
	dir := t.TempDir()
	require.NoError(t, m.s.Backup(t.Context(), filepath.Join(dir, FileName)))
	if !scratchdb.Asked() { // another process has no file to copy there
		require.NoError(t, BackupOf(t.Context(), filepath.Dir(m.s.Path()), filepath.Join(dir, "of-another-process.db")))
	}
	after := size(t, m)
	finish()
	require.Positive(t, <-written)

	copied, err := Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, copied.Close()) }()
	entries := clean(t, copied)
	require.GreaterOrEqual(t, entries, before)
	require.LessOrEqual(t, entries, after)
	mill, err := copied.TheMill(t.Context())
	require.NoError(t, err)
	require.Equal(t, fernhollow, mill.ID)
	require.NoFileExists(t, filepath.Join(dir, FileName+".part"))
}

func size(t *testing.T, m *Mill) int64 {
	t.Helper()
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	return head.Size
}

func TestBackupNeverOverwrites(t *testing.T) {
	m := newMill(t)
	file := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, os.WriteFile(file, []byte("last week's copy"), 0o600))
	require.ErrorContains(t, m.s.Backup(t.Context(), file), "is there already")
	kept, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "last week's copy", string(kept))
}

func TestBackupClearsAnUnfinishedOne(t *testing.T) {
	m := newMill(t)
	file := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, os.WriteFile(file+".part", []byte("half a copy"), 0o600))
	require.NoError(t, m.s.Backup(t.Context(), file))
	require.NoFileExists(t, file+".part")
}

func TestBackupSaysInOneLineWhatIsInTheWay(t *testing.T) {
	m := newMill(t)
	err := m.s.Backup(t.Context(), filepath.Join(t.TempDir(), "no-such-folder", "copy.db"))
	require.ErrorContains(t, err, "no-such-folder")
	require.NotContains(t, err.Error(), "\n")
	err = BackupOf(t.Context(), t.TempDir(), "x.db")
	require.ErrorContains(t, err, "there is no database in")
}

func TestUnsoundCopyIsSeen(t *testing.T) {
	file := filepath.Join(t.TempDir(), "copy.db")
	require.Error(t, checked(file), "nothing there, or an empty database")
	m := newMill(t)
	whole := filepath.Join(t.TempDir(), "whole.db")
	require.NoError(t, m.s.Backup(t.Context(), whole))
	require.NoError(t, checked(whole))
	bytes, err := os.ReadFile(whole)
	require.NoError(t, err)
	for i := range bytes[8192:12288] {
		bytes[8192+i] = 0xa5 // one page of it spoilt
	}
	spoilt := filepath.Join(t.TempDir(), "spoilt.db")
	require.NoError(t, os.WriteFile(spoilt, bytes, 0o600))
	require.Error(t, checked(spoilt))
}

func checked(file string) error {
	_, err := checkCopy(On{}, file)
	return err
}
