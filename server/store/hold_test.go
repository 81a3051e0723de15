package store

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFolderIsHeldByOneAtATime(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	held, err := HoldFolder(dir)
	require.NoError(t, err)
	_, err = HoldFolder(dir)
	require.ErrorIs(t, err, ErrHeld)
	require.ErrorContains(t, err, dir)
	require.NoError(t, held.Release())
	held, err = HoldFolder(dir)
	require.NoError(t, err, "given back, with the file left where it is")
	require.FileExists(t, filepath.Join(dir, HoldName))
	require.NoError(t, held.Release())
}
