package store

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// searched is every word kept of a mill with the entries that have it.
func searched(t *testing.T, m *Mill) map[string][]int64 {
	t.Helper()
	var rows []searchPlaceRow
	require.NoError(t, m.s.reads.Order("block").Find(&rows, "mill = ?", m.id).Error)
	all := map[string][]int64{}
	blocks := map[string][]int64{}
	for _, row := range rows {
		places, err := unpackPlaces(row.Places)
		require.NoError(t, err)
		for place := range searchBlock {
			if places.has(place) {
				all[row.Word] = append(all[row.Word], row.Block*searchBlock+int64(place))
			}
		}
		blocks[row.Word] = append(blocks[row.Word], row.Block)
	}
	var words []searchWordRow
	require.NoError(t, m.s.reads.Find(&words, "mill = ?", m.id).Error)
	require.Len(t, words, len(blocks))
	for _, row := range words {
		kept, err := unpackBlocks(row.Blocks)
		require.NoError(t, err)
		require.Equal(t, blocks[row.Word], kept, row.Word)
	}
	return all
}

func TestEntriesHaveTheSameWordsWhenWrittenReadBackAndFilledIn(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	written := searched(t, m)
	require.NotEmpty(t, written)

	head, err := m.Head(t.Context())
	require.NoError(t, err)
	seqs := make([]int64, head.Size)
	for i := range seqs {
		seqs[i] = int64(i)
	}
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
		tx.reindex(m.id, seqs)
		return nil
	}))
	again := searched(t, m)
	for word, seqs := range written {
		require.Equal(t, seqs, again[word], "%s: read from the leaves, each kind of entry has the words it was written with", word)
	}
	require.Len(t, again, len(written))

	for _, table := range []string{"search_words", "search_places"} {
		require.NoError(t, m.s.writes.Exec("DELETE FROM "+table).Error)
	}
	require.NoError(t, m.s.writes.Exec("INSERT INTO search_gaps (mill, below) VALUES (?, ?)", m.id, head.Size).Error)
	_, err = m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "carriage", What: "Écrou lost meanwhile"}, ada, six.AddDate(0, 1, 0))
	require.NoError(t, err)
	for left, before := head.Size, head.Size+1; left > 0; {
		left, err = m.FillSearch(t.Context())
		require.NoError(t, err)
		require.Less(t, left, before)
		before = left
	}
	filled := searched(t, m)
	require.Equal(t, []int64{head.Size}, filled["ecrou"])
	for word, seqs := range written {
		require.Equal(t, seqs, filled[word][:len(seqs)], word)
	}
	none, err := m.FillSearch(t.Context())
	require.NoError(t, err)
	require.Zero(t, none)
}

func TestDroppedValueIsFoundNoMore(t *testing.T) {
	m := newMill(t)
	_, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "carriage", What: "Zebrawood in the ways"}, ada, six)
	require.NoError(t, err)
	at := searched(t, m)["zebrawood"]
	require.Len(t, at, 1)
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
		if err := tx.gorm().Delete(&openingRow{}, "mill = ? AND seq = ?", m.id, at[0]).Error; err != nil {
			return err
		}
		tx.reindex(m.id, at)
		return nil
	}))
	words := searched(t, m)
	require.Empty(t, words["zebrawood"])
	require.Contains(t, words["=ecarriage"], at[0], "what was not dropped is found still")
	for word := range words {
		require.False(t, strings.HasPrefix(word, "zebra"))
	}
}

func TestPackedPlacesAndBlocksComeBack(t *testing.T) {
	for step := 1; step < searchBlock; step = step*2 + 1 {
		var p placeSet
		for place := step % 7; place < searchBlock; place += step {
			p.set(place)
		}
		again, err := unpackPlaces(p.pack())
		require.NoError(t, err)
		require.Equal(t, p, again, "every %d", step)
		require.LessOrEqual(t, len(p.pack()), bitmapSize)
	}
	blocks := []int64{0, 1, 2, 300, 100_000}
	again, err := unpackBlocks(packBlocks(blocks))
	require.NoError(t, err)
	require.Equal(t, blocks, again)
	for _, damaged := range [][]byte{{0}, {0x80}, {0xff, 0x10}} {
		_, err := unpackPlaces(damaged)
		require.ErrorIs(t, err, errPacked)
	}
}

func TestWordsThatAreNotThoseOfTheEntryAreAFault(t *testing.T) {
	m := newMill(t)
	at := six
	stop := func(what string) int64 {
		at = at.Add(time.Minute)
		_, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "carriage", What: what}, ada, at)
		require.NoError(t, err)
		return searched(t, m)[what][0]
	}
	zebra, otter := stop("zebra"), stop("otter")
	faults := func() []record.Fault {
		reports, err := m.s.Verify(t.Context())
		require.NoError(t, err)
		return reports[m.id].Faults
	}
	require.Empty(t, faults())
	change := func(statement string, args ...any) {
		t.Helper()
		require.NoError(t, m.s.writes.Exec(statement, args...).Error)
	}
	changes := func() (all []string) {
		for _, f := range faults() {
			require.Equal(t, record.WordsDiffer, f.Change)
			all = append(all, f.What.String())
		}
		return all
	}

	change("DELETE FROM search_places WHERE word = 'zebra'")
	require.Equal(t, []string{fmt.Sprintf("Entry %d is not found by every word in it.", zebra), "1 words are said to occur elsewhere than they do: not every entry with them is found."}, changes())
	change("DELETE FROM search_words WHERE word = 'zebra'")
	change("UPDATE search_places SET word = 'zebra' WHERE word = 'otter'")
	change("UPDATE search_words SET word = 'zebra' WHERE word = 'otter'")
	require.Equal(t, []string{fmt.Sprintf("Entry %d is not found by every word in it.", zebra), fmt.Sprintf("Entry %d is not found by every word in it.", otter),
		fmt.Sprintf("Entry %d is found by a word that is not in it.", otter)}, changes())
	change("UPDATE search_places SET places = ? WHERE word = 'zebra'", []byte{0})
	require.Contains(t, changes(), "Words by which entries from 0 on are found are damaged.")

	head, err := m.Head(t.Context())
	require.NoError(t, err)
	change("DELETE FROM search_places")
	change("DELETE FROM search_words")
	change("INSERT INTO search_gaps (mill, below) VALUES (?, ?)", m.id, head.Size)
	require.Empty(t, faults(), "what an earlier Stillsaw wrote has no words yet")
}
