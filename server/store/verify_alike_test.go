package store

import (
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"
	"pgregory.net/rapid"

	"stillsaw/server/record"
	"stillsaw/server/store/scratchdb"
)

// Looking at entries of a form together finds what looking at each by itself does,
// whichever row of whichever table was altered.
func TestEntriesLookedAtTogetherHideNothing(t *testing.T) {
	scratchdb.SQLiteOnly(t, "the alterations are written in the words of SQLite")
	m := newMill(t)
	fill(t, m)
	worked(t, m, 120)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	reports := func(db *gorm.DB) (together, each record.Report) {
		together, err := verifyMill(&Tx{db: db}, m.id)
		require.NoError(t, err)
		each, err = verifyMillBy(&Tx{db: db}, m.id, nil)
		require.NoError(t, err)
		return together, each
	}
	took := 0
	counting := func(b *besides, e record.Entry, ids []string) any {
		took++
		return b.learn(e, ids)
	}
	report, err := verifyMillBy(&Tx{db: m.s.reads}, m.id, counting)
	require.NoError(t, err)
	require.True(t, report.OK(), report.Faults)
	require.Greater(t, took, 5, "forms of entries that come again")
	together, each := reports(m.s.reads)
	require.Equal(t, each, together)

	alterations := []string{
		"UPDATE entries SET leaf = CAST(replace(CAST(leaf AS TEXT), 'carriage', 'cabriage') AS BLOB) WHERE seq = ?",
		"UPDATE entries SET leaf = CAST(replace(CAST(leaf AS TEXT), '0', '1') AS BLOB) WHERE seq = ?",
		"UPDATE entries SET actor = 'ben' WHERE seq = ?",
		"UPDATE entries SET day = '2026-03-04' WHERE seq = ?",
		"UPDATE entries SET happened = happened + 1 WHERE seq = ?",
		"UPDATE entries SET subject = 'sam' WHERE seq = ?",
		"DELETE FROM entries WHERE seq = ?",
		"UPDATE openings SET value = value || ' not' WHERE seq = ?",
		"UPDATE openings SET salt = zeroblob(32) WHERE seq = ?",
		"DELETE FROM openings WHERE seq = ?",
		"UPDATE openings SET path = path || '/x' WHERE seq = ?",
		"UPDATE openings SET seq = seq + 100000 WHERE seq = ?",
		"INSERT INTO openings (mill, seq, path, salt, value) SELECT mill, seq, '/none', salt, value FROM openings WHERE seq = ? LIMIT 1",
		"UPDATE entries SET blank_paths = '' WHERE seq = ?",
		"UPDATE entries SET blank_paths = replace(blank_paths, '1', '2') WHERE seq = ?",
		"UPDATE entries SET blank_salts = CAST(substr(blank_salts, 2) || substr(blank_salts, 1, 1) AS BLOB) WHERE seq = ?",
		"DELETE FROM entry_equipment WHERE seq = ?",
		"UPDATE entry_equipment SET equipment = 'mast' WHERE seq = ?",
		"UPDATE entry_equipment SET seq = -seq WHERE seq = ?",
		"UPDATE entry_equipment SET seq = seq + 40000 WHERE seq = ?",
		"INSERT OR IGNORE INTO entry_equipment (mill, seq, equipment) SELECT mill, ?, 'dogs' FROM log_heads",
		"UPDATE search_places SET places = x'01' WHERE word IN (SELECT word FROM search_places ORDER BY word LIMIT 1 OFFSET ?)",
		"DELETE FROM search_places WHERE word IN (SELECT word FROM search_places ORDER BY word LIMIT 1 OFFSET ?)",
		"DELETE FROM search_words WHERE word IN (SELECT word FROM search_words ORDER BY word LIMIT 1 OFFSET ?)",
		"UPDATE tree_hashes SET hash = zeroblob(32) WHERE place = ?",
		"DELETE FROM tree_hashes WHERE place = ?",
	}
	differed := 0
	rapid.Check(t, func(r *rapid.T) {
		db := m.s.writes.Begin()
		defer func() { require.NoError(t, db.Rollback().Error) }()
		require.NoError(t, db.Exec("PRAGMA defer_foreign_keys = ON").Error)
		for range rapid.IntRange(1, 3).Draw(r, "alterations") {
			statement := rapid.SampledFrom(alterations).Draw(r, "statement")
			if err := db.Exec(statement, rapid.Int64Range(0, head.Size-1).Draw(r, "seq")).Error; err != nil {
				require.ErrorContains(r, err, "constraint failed") // two that put the same row there twice
			}
		}
		together, each := reports(db)
		require.Equal(r, each, together)
		if !each.OK() {
			differed++
		}
	})
	require.Positive(t, differed)
}
