package store

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"
)

// rebuiltOf rebuilds the database of s as it stands.
func rebuiltOf(t testing.TB, s *Store) Rebuilt {
	t.Helper()
	_, built, err := s.Rebuild(t.Context(), Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	return built
}

// sameAgain requires that a replay of the entries makes the same tables.
func sameAgain(t testing.TB, s *Store) Rebuilt {
	t.Helper()
	built := rebuiltOf(t, s)
	require.Empty(t, built.Failed)
	require.Empty(t, built.Differences)
	require.True(t, built.OK())
	return built
}

func TestReplayOfTheEntriesMakesTheSameTables(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	built := sameAgain(t, m.s)
	require.Equal(t, clean(t, m.s), built.Entries)
	var compared []string
	for _, table := range built.Tables {
		compared = append(compared, table.Table)
		require.Positive(t, table.Rows, "%s: a table without a row proves nothing", table.Table)
		require.GreaterOrEqual(t, table.Fields, 2*table.Rows, table.Table)
	}
	require.Equal(t, projections(), compared)
}

var _ = json.Marshal
var _ = fmt.Sprint
var _ = slices.Contains[[]string]
var _ = strings.Cut
var _ gorm.DB
