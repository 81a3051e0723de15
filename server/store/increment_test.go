package store

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
	"stillsaw/server/store/scratchdb"
)

// dumped is every row of a table as text, in no order of its own.
func dumped(t *testing.T, db *gorm.DB, table string) []string {
	t.Helper()
	rows, err := db.Raw("SELECT * FROM " + table).Rows()
	require.NoError(t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(t, err)
	var all []string
	for rows.Next() {
		values := make([]any, len(columns))
		into := make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		require.NoError(t, rows.Scan(into...))
		all = append(all, fmt.Sprintf("%v", values))
	}
	require.NoError(t, rows.Err())
	slices.Sort(all)
	return all
}

// A copy and what was done since, one act of every kind, make the same database.
// The drop among them, for which a whole copy is made, is of what is in there.
func TestCopyAndIncrementMakeTheDatabaseThereIs(t *testing.T) {
	scratchdb.SQLiteOnly(t, "every copy is a whole one")
	m := newMill(t)
	dir, file := t.TempDir(), filepath.Join(t.TempDir(), "increment")
	cut, err := m.s.CutNow(t.Context(), six)
	require.NoError(t, err)
	require.NoError(t, m.s.Backup(t.Context(), filepath.Join(dir, FileName)))
	fill(t, m)
	_, err = m.s.Increment(t.Context(), cut, six, filepath.Join(t.TempDir(), "x"))
	require.ErrorIs(t, err, ErrNeedsBase, "something was dropped")
	now, err := m.s.increment(t.Context(), cut, six, file, func(reader, Cut) error { return nil })
	require.NoError(t, err)
	require.NoError(t, m.s.CheckIncrement(t.Context(), file, cut.Heads, now.Heads))
	require.NoError(t, ApplyIncrement(t.Context(), dir, file, now.Heads))
	reports, built, _, err := RebuildIn(t.Context(), dir, Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	require.True(t, reports[fernhollow].OK(), reports[fernhollow].Faults)
	require.True(t, built.OK(), built.Differences)
	restored, err := connect(filepath.Join(dir, FileName), "", 1)
	require.NoError(t, err)
	defer func() { require.NoError(t, shut(restored)) }()
	for _, table := range slices.Concat(growing(), carriedWhole(), []string{"search_words", "search_places"}) {
		require.Equal(t, dumped(t, m.gorm(), table), dumped(t, restored, table), table)
	}
	require.NoError(t, SignAllOutIn(t.Context(), dir))
	require.Empty(t, dumped(t, restored, "sessions"))
}

// A lockout under way at the time of a copy, and gone on with and ended after it, is
// the same in the copy brought up to then.
func TestLockoutUnderWayAtACopyGoesOnInTheIncrement(t *testing.T) {
	scratchdb.SQLiteOnly(t, "every copy is a whole one")
	m := newMill(t)
	id, at := toWork(t, m, six)
	dir, file := t.TempDir(), filepath.Join(t.TempDir(), "increment")
	cut, err := m.s.CutNow(t.Context(), at)
	require.NoError(t, err)
	require.NoError(t, m.s.Backup(t.Context(), filepath.Join(dir, FileName)))
	for {
		l, err := m.Lockout(t.Context(), id)
		require.NoError(t, err)
		if !l.Open() {
			break
		}
		at = at.Add(10*time.Second + l.WaitLeft(at))
		require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{nextOf(l)}, ada, at))
	}
	now, err := m.s.Increment(t.Context(), cut, at, file)
	require.NoError(t, err)
	require.NoError(t, ApplyIncrement(t.Context(), dir, file, now.Heads))
	restored, err := connect(filepath.Join(dir, FileName), "", 1)
	require.NoError(t, err)
	defer func() { require.NoError(t, shut(restored)) }()
	for _, table := range []string{"lockouts", "lock_items", "departures"} {
		require.Equal(t, dumped(t, m.gorm(), table), dumped(t, restored, table), table)
	}
}

// Every table is carried in one way, or is said here not to be.
func TestEveryTableIsInABackup(t *testing.T) {
	m := newMill(t)
	tables, err := tablesIn(m.gorm())
	require.NoError(t, err)
	carried := slices.Concat(projections(), growing(), carriedWhole())
	for _, table := range tables {
		if !slices.Contains(carried, table) {
			require.Contains(t, []string{"migrations", "backup_states", "search_words", "search_places", "search_gaps"}, table)
		}
	}
	require.Len(t, slices.Compact(slices.Sorted(slices.Values(carried))), len(carried), "none twice")
}

func TestChangedIncrementIsRefused(t *testing.T) {
	scratchdb.SQLiteOnly(t, "every copy is a whole one")
	m := newMill(t)
	cut, err := m.s.CutNow(t.Context(), six)
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, m.s.Backup(t.Context(), filepath.Join(dir, FileName)))
	_, err = m.KeepPhoto(t.Context(), Photo{Type: "image/jpeg", Bytes: []byte("a picture")}, six)
	require.NoError(t, err)
	for n := range 3 {
		_, err = stop(t.Context(), m, NewID(), fmt.Sprint("stop ", n))
		require.NoError(t, err)
	}
	file := filepath.Join(dir, "increment")
	now, err := m.s.Increment(t.Context(), cut, six, file)
	require.NoError(t, err)
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	refused := func(says string, to map[checklists.MillID]record.Head) {
		t.Helper()
		err := m.s.CheckIncrement(t.Context(), file, cut.Heads, to)
		require.ErrorContains(t, err, says)
		require.Error(t, ApplyIncrement(t.Context(), dir, file, to))
		require.NoError(t, os.WriteFile(file, whole, 0o600))
	}
	alone := func(statement string) {
		t.Helper()
		db, err := gorm.Open(dialector("file:"+escape(file)), &gorm.Config{})
		require.NoError(t, err)
		done := db.Exec(statement)
		require.NoError(t, done.Error)
		require.NotZero(t, done.RowsAffected, statement)
		require.NoError(t, shut(db))
	}
	for statement, says := range map[string]string{
		"DELETE FROM entries WHERE seq = (SELECT max(seq) FROM entries)":     "is not in the increment",
		"DELETE FROM entries WHERE seq = (SELECT max(seq) - 1 FROM entries)": "is not in the increment",
		"UPDATE openings SET value = value || 'x'":                           "entry ",
		"UPDATE photos SET bytes = x'00'":                                    "is not the one its digest names",
		"UPDATE log_heads SET size = size + 1":                               "says its record has",
		`UPDATE entries SET leaf = CAST(replace(CAST(leaf AS TEXT), '"happenedOffset":-300', '"happenedOffset":-240') AS BLOB)`: "do not give the root",
	} {
		alone(statement)
		refused(says, now.Heads)
	}
	require.NoError(t, os.WriteFile(file, whole[:len(whole)/2], 0o600))
	refused("", now.Heads)
	other := maps.Clone(now.Heads)
	head := other[fernhollow]
	head.Root[0] ^= 1
	other[fernhollow] = head
	refused("", other)
	require.NoError(t, m.s.CheckIncrement(t.Context(), file, cut.Heads, now.Heads))
	heads, _, err := HeadsIn(t.Context(), dir)
	require.NoError(t, err)
	require.Equal(t, cut.Heads, heads, "what was refused changed nothing")
	require.NoError(t, ApplyIncrement(t.Context(), dir, file, now.Heads))
	require.Error(t, ApplyIncrement(t.Context(), t.TempDir(), file, now.Heads), "no database to go on from")
}

func TestDatabaseInUseIsNotReplaced(t *testing.T) {
	scratchdb.SQLiteOnly(t, "no file is in use")
	m := newMill(t)
	require.ErrorIs(t, Unused(t.Context(), m.s.Path()), ErrInUse)
	dir := t.TempDir()
	copied := filepath.Join(dir, FileName)
	require.NoError(t, Unused(t.Context(), copied), "nothing is there")
	require.NoError(t, m.s.Backup(t.Context(), copied))
	require.NoError(t, Unused(t.Context(), copied))
	files, err := filepath.Glob(copied + "*")
	require.NoError(t, err)
	require.Len(t, files, 1, strings.Join(files, " "))
}
