package store

import (
	"bytes"
	"cmp"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/server/record"
)

// What is packed into an entry's row comes out again, each at its place.
func TestBlanksComeOutAsTheyWentIn(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		paths := rapid.SliceOfDistinct(rapid.StringMatching("/[a-c~\n]{0,4}"), rapid.ID).Draw(r, "paths")
		var openings []record.Opening
		for _, path := range paths {
			openings = append(openings, record.Opening{Path: path, Salt: rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(r, "salt"), Value: rapid.SampledFrom([]string{"", "", "bent"}).Draw(r, "value")})
		}
		written, lines, salts := packed(openings)
		byPath := func(a, b record.Opening) int { return cmp.Compare(a.Path, b.Path) }
		slices.SortFunc(written, byPath)
		for _, o := range written {
			require.True(r, o.Value != "" || bytes.ContainsRune([]byte(o.Path), '\n'), "%q is packed", o.Path)
		}
		got := blanksIn(lines, salts).with(nil, written)
		slices.SortFunc(openings, byPath)
		require.Equal(r, openings, got)
	})
}

// A check of answers without notes keeps no row of openings but for what was written.
func TestOnlyWhatWasWrittenHasARowOfItsOwn(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	var empty int64
	require.NoError(t, m.gorm().Raw("SELECT count(*) FROM openings WHERE value = ''").Scan(&empty).Error)
	require.Zero(t, empty)
	var rows []entryRow
	require.NoError(t, m.gorm().Find(&rows, "blank_paths <> ''").Error)
	require.NotEmpty(t, rows)
	clean(t, m.s)
}

// A place where nothing was written is dropped out of its entry's row, is missed where
// no entry says so, and told of where it comes back.
func TestBlankThatWasDroppedIsGone(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	_, from := settled(t, m, six.Add(time.Hour))
	whole(t, m)
	read := func() entryRow {
		row, err := one[entryRow](m, "entry", "mill = ? AND seq = ?", m.id, from)
		require.NoError(t, err)
		return row
	}
	require.NotContains(t, blanksIn(read().BlankPaths, nil).paths, "/note")
	require.NoError(t, m.s.writes.Exec("UPDATE entries SET blank_paths = '/note', blank_salts = ? WHERE mill = ? AND seq = ?", make([]byte, 32), m.id, from).Error)
	report, err := verifyMill(&Tx{db: m.s.reads}, m.id)
	require.NoError(t, err)
	found := slices.ContainsFunc(report.Faults, func(f record.Fault) bool { return f.Change == record.DroppedKept && f.Field == "/note" })
	require.True(t, found, "%v", report.Faults)
}
