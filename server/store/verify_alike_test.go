package store

import (
	"strings"
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

	none := bytesOf(strings.Repeat("00", 32))
	alterations := []string{
		"UPDATE entries SET leaf = " + leafWith("'carriage', 'cabriage'") + " WHERE seq = ?",
		"UPDATE entries SET leaf = " + leafWith("'0', '1'") + " WHERE seq = ?",
		"UPDATE entries SET actor = 'ben' WHERE seq = ?",
		"UPDATE entries SET day = '2026-03-04' WHERE seq = ?",
		"UPDATE entries SET happened = happened + 1 WHERE seq = ?",
		"UPDATE entries SET subject = 'sam' WHERE seq = ?",
		"DELETE FROM entries WHERE seq = ?",
		"UPDATE openings SET value = value || ' not' WHERE seq = ?",
		"UPDATE openings SET salt = " + none + " WHERE seq = ?",
		"DELETE FROM openings WHERE seq = ?",
		"UPDATE openings SET path = path || '/x' WHERE seq = ?",
		"UPDATE openings SET seq = seq + 100000 WHERE seq = ?",
		"INSERT INTO openings (mill, seq, path, salt, value) SELECT mill, seq, '/none', salt, value FROM openings WHERE seq = ? LIMIT 1",
		"UPDATE entries SET blank_paths = '' WHERE seq = ?",
		"UPDATE entries SET blank_paths = replace(blank_paths, '1', '2') WHERE seq = ?",
		"UPDATE entries SET blank_salts = " + turnedSalts() + " WHERE seq = ?",
		"DELETE FROM entry_equipment WHERE seq = ?",
		"UPDATE entry_equipment SET equipment = 'mast' WHERE seq = ?",
		"UPDATE entry_equipment SET seq = -seq WHERE seq = ?",
		"UPDATE entry_equipment SET seq = seq + 40000 WHERE seq = ?",
		"INSERT INTO entry_equipment (mill, seq, equipment) SELECT mill, CAST(? AS BIGINT), 'dogs' FROM log_heads WHERE TRUE ON CONFLICT DO NOTHING",
		"UPDATE search_places SET places = " + bytesOf("01") + " WHERE word IN (SELECT word FROM search_places ORDER BY word LIMIT 1 OFFSET ?)",
		"DELETE FROM search_places WHERE word IN (SELECT word FROM search_places ORDER BY word LIMIT 1 OFFSET ?)",
		"DELETE FROM search_words WHERE word IN (SELECT word FROM search_words ORDER BY word LIMIT 1 OFFSET ?)",
		"UPDATE tree_hashes SET hash = " + none + " WHERE place = ?",
		"DELETE FROM tree_hashes WHERE place = ?",
	}
	keysOff(t, m.s)
	differed := 0
	rapid.Check(t, func(r *rapid.T) {
		db := m.s.writes.Begin()
		defer func() { require.NoError(t, db.Rollback().Error) }()
		for range rapid.IntRange(1, 3).Draw(r, "alterations") {
			statement := rapid.SampledFrom(alterations).Draw(r, "statement")
			require.NoError(r, db.SavePoint("alteration").Error)
			if err := db.Exec(statement, rapid.Int64Range(0, head.Size-1).Draw(r, "seq")).Error; err != nil {
				require.ErrorContains(r, err, "constraint") // two that put the same row there twice
				require.NoError(r, db.RollbackTo("alteration").Error)
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

// leafWith is how a statement writes a leaf in which one text stands for another.
func leafWith(texts string) string {
	if scratchdb.Asked() {
		return "convert_to(replace(convert_from(leaf, 'UTF8'), " + texts + "), 'UTF8')"
	}
	return "CAST(replace(CAST(leaf AS TEXT), " + texts + ") AS BLOB)"
}

// turnedSalts is how a statement puts the first byte of an entry's salts behind the others.
func turnedSalts() string {
	turned := "substr(blank_salts, 2) || substr(blank_salts, 1, 1)"
	if scratchdb.Asked() {
		return turned
	}
	return "CAST(" + turned + " AS BLOB)" // what is put together is text there
}
