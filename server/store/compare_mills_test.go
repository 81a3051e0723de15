package store

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestEachCheckpointIsHeldAgainstTheMillItNames(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	text := "of no mill here:\n"
	for _, id := range []checklists.MillID{fernhollow, neighbour} {
		m := settle(t, s, id)
		require.NoError(t, s.EnsureKeys(t.Context(), six))
		grow(t, m, 3, string(id))
		kept, err := m.Checkpoint(t.Context())
		require.NoError(t, err, "each mill has its key")
		if id == fernhollow {
			text += strings.Replace(kept.Head.Text(), string(id), "nobody", 1) + "\n"
		}
		text += kept.Text + "\n"
	}
	require.NoError(t, s.Close())
	require.FileExists(t, filepath.Join(dir, FileName))
	all, err := CompareIn(t.Context(), dir, text)
	require.NoError(t, err)
	require.Len(t, all, 3)
	require.Equal(t, CantTell, all[0].Agreement)
	require.True(t, all[1].OK(), all[1].Said().String())
	require.True(t, all[2].OK(), all[2].Said().String())
}
