package store

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store/scratchdb"
)

// Every row of a mill is copied as it is, whichever driver reads it: a value of no bytes
// is none, and not the lack of one.
func TestRowsAreCopiedAsTheyAre(t *testing.T) {
	scratchdb.SQLiteOnly(t, "there it is moved in and out")
	m := newMill(t)
	fill(t, m)
	var none int64
	require.NoError(t, m.s.reads.Raw("SELECT count(*) FROM entries WHERE length(blank_salts) = 0").Scan(&none).Error)
	require.Positive(t, none)
	file := filepath.Join(t.TempDir(), "copy.db")
	to, err := connect(file, "&_txlock=immediate"+erasing, 1)
	require.NoError(t, err)
	defer func() { require.NoError(t, shut(to)) }()
	_, err = migrate(t.Context(), On{}, to, file)
	require.NoError(t, err)
	require.NoError(t, copyRows(t.Context(), m.s.reads, to))
	require.Equal(t, hashedRows(t, m.s.reads), hashedRows(t, to))
}
