package store

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/server/record"
)

// lying is every file of a folder, and of those in it, with its bytes.
func lying(t *testing.T, dir string) map[string]string {
	t.Helper()
	found := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		found[strings.TrimPrefix(path, dir+string(filepath.Separator))] = string(text)
		return err
	}))
	return found
}

func TestVerifyingAFolderLeavesItAsItWas(t *testing.T) {
	path, _ := filledFile(t)
	dir := filepath.Dir(path)
	before := lying(t, dir)
	reports, schema, err := VerifyIn(t.Context(), dir)
	require.NoError(t, err)
	require.True(t, reports[fernhollow].OK())
	require.False(t, schema.Older())
	require.Equal(t, before, lying(t, dir))
}

// Run by root the modes forbid nothing; what is required holds all the same.
func TestReadOnlyCopyInAReadOnlyFolderIsVerified(t *testing.T) {
	path, _ := filledFile(t)
	dir := filepath.Dir(path)
	require.NoError(t, os.Chmod(path, 0o400))
	require.NoError(t, os.Chmod(dir, 0o500))
	t.Cleanup(func() { require.NoError(t, os.Chmod(dir, 0o700)) })
	before := lying(t, dir)
	reports, _, err := VerifyIn(t.Context(), dir)
	require.NoError(t, err)
	require.True(t, reports[fernhollow].OK())
	require.Equal(t, before, lying(t, dir))
}

func TestVerifyingIsPossibleWhileTheStoreWrites(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m := setUp(t, s, fernhollow)
	publishAll(t, m)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	require.Contains(t, lying(t, dir), FileName+"-wal")
	reports, _, err := VerifyIn(t.Context(), dir)
	require.NoError(t, err)
	require.True(t, reports[fernhollow].OK())
	require.Equal(t, head.Size, reports[fernhollow].Entries, "what is in the write-ahead log only is read too")
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), ada, "another digest", sam, six))
	require.NoError(t, s.Close())
}

func TestOlderDatabaseIsVerifiedAndStaysAsOldAsItIs(t *testing.T) {
	path, _ := filledFile(t)
	leftAt(t, path, 22)
	before := lying(t, filepath.Dir(path))
	reports, schema, err := VerifyIn(t.Context(), filepath.Dir(path))
	require.NoError(t, err)
	require.True(t, reports[fernhollow].OK(), reports[fernhollow].Faults)
	require.True(t, schema.Older())
	require.Equal(t, 22, schema.Has)
	require.Equal(t, before, lying(t, filepath.Dir(path)))
}

func TestNewerDatabaseIsNotVerified(t *testing.T) {
	path, _ := filledFile(t)
	db, err := connect(path, "", 1)
	require.NoError(t, err)
	require.NoError(t, db.Exec("INSERT INTO migrations (number, name) VALUES (9000, 'later')").Error)
	require.NoError(t, shut(db))
	_, _, err = VerifyIn(t.Context(), filepath.Dir(path))
	require.ErrorIs(t, err, ErrNewer)
}

func TestFileThatIsNoDatabaseIsNotVerified(t *testing.T) {
	dir := t.TempDir()
	_, _, err := VerifyIn(t.Context(), dir)
	require.ErrorContains(t, err, "there is no database in "+dir)
	require.Empty(t, lying(t, dir))
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), []byte("a letter, and no database, of more than a hundred bytes, so that SQLite does not take it for one that is empty"), 0o600))
	_, _, err = VerifyIn(t.Context(), dir)
	require.ErrorContains(t, err, FileName)
	require.NotContains(t, err.Error(), "\n")
}

func TestDatabaseOpenedToReadTakesNoStatementThatWrites(t *testing.T) {
	path, _ := filledFile(t)
	db, err := connectToRead(t.Context(), path)
	require.NoError(t, err)
	require.ErrorContains(t, db.Exec("DELETE FROM entries").Error, "readonly")
	require.NoError(t, shut(db))
}

// upgradedFrom closes s, takes from its database what later steps brought, and opens
// it again, which upgrades it.
func upgradedFrom(t *testing.T, s *Store, step int) *Store {
	t.Helper()
	require.NoError(t, s.Close())
	leftAt(t, s.Path(), step)
	again, err := Open(t.Context(), filepath.Dir(s.Path()))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, again.Close()) })
	return again
}

// leftAt takes from the database at path what later steps brought.
func leftAt(t *testing.T, path string, step int) {
	t.Helper()
	if step < 32 {
		unpackBlanks(t, path)
	}
	at, err := schemaOf(step)
	require.NoError(t, err)
	statements := []string{"PRAGMA foreign_keys = OFF", fmt.Sprintf("DELETE FROM migrations WHERE number > %d", step)}
	all, err := migrations()
	require.NoError(t, err)
	for _, m := range all[step:] {
		for _, index := range regexp.MustCompile(`(?m)^CREATE INDEX (\w+)`).FindAllStringSubmatch(m.sql, -1) {
			statements = append(statements, "DROP INDEX IF EXISTS "+index[1])
		}
	}
	for _, table := range at.later.tables {
		statements = append(statements, "DROP TABLE "+table)
	}
	for table, columns := range at.later.columns {
		for _, column := range columns {
			if slices.Contains(at.has, table) {
				statements = append(statements, "ALTER TABLE "+table+" DROP COLUMN "+column)
			}
		}
	}
	alterFile(t, path, statements...)
}

// unpackBlanks gives every place where nothing was written a row of openings, as those
// before step 32 did.
func unpackBlanks(t *testing.T, path string) {
	t.Helper()
	db, err := connect(path, "", 1)
	require.NoError(t, err)
	unpackBlanksIn(t, db)
	require.NoError(t, shut(db))
}

func unpackBlanksIn(t *testing.T, db *gorm.DB) {
	t.Helper()
	var rows []entryRow
	require.NoError(t, db.Find(&rows, "blank_paths <> ''").Error)
	var openings []openingRow
	for _, row := range rows {
		for _, o := range blanksIn(row.BlankPaths, row.BlankSalts).with(nil, nil) {
			openings = append(openings, openingRow{Mill: row.Mill, Seq: row.Seq, Path: o.Path, Salt: o.Salt})
		}
	}
	require.NoError(t, createAll(&Tx{db: db}, openings))
	require.NoError(t, db.Exec("UPDATE entries SET blank_paths = '', blank_salts = ?", []byte{}).Error)
}

func alterFile(t *testing.T, path string, statements ...string) {
	t.Helper()
	db, err := connect(path, "", 1)
	require.NoError(t, err)
	for _, statement := range statements {
		require.NoError(t, db.Exec(statement).Error, statement)
	}
	require.NoError(t, shut(db))
}

// What the steps are said to bring is what SQLite has after each of them.
func TestEachStepBringsTheTablesAndColumnsItIsSaidTo(t *testing.T) {
	all, err := migrations()
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), FileName)
	db, err := connect(path, "", 1)
	require.NoError(t, err)
	was := map[string][]string{}
	for _, m := range all {
		require.NoError(t, apply(db, m))
		tables, err := tablesIn(db)
		require.NoError(t, err)
		at, err := schemaOf(m.number)
		require.NoError(t, err)
		require.ElementsMatch(t, tables, at.has, m.name)
		makes := m.makes()
		for _, table := range tables {
			shape, err := shapeOf(&Tx{db: db}, table)
			require.NoError(t, err)
			columns := slices.Concat(shape.key, shape.columns)
			if before, known := was[table]; known {
				require.ElementsMatch(t, columns, slices.Concat(before, makes.columns[table]), "%s: %s", m.name, table)
			}
			was[table] = columns
		}
	}
	require.NoError(t, shut(db))
}

// The list of steps is a table like any other: whoever lowers it, or drops what
// would speak against them, leaves a database that doesn't fit it.
func TestListOfStepsThatDoesNotFitTheTablesIsAFault(t *testing.T) {
	path, _ := filledFile(t)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		statements []string
		says       string
	}{
		"checkpoints gone":               {[]string{"DROP TABLE checkpoints"}, "The table checkpoints is not there"},
		"words gone":                     {[]string{"DROP TABLE search_places"}, "The table search_places is not there"},
		"checkpoints gone, list lowered": {[]string{"DROP TABLE checkpoints", "DELETE FROM migrations WHERE number > 19"}, "The table witnesses is there"},
		"list lowered":                   {[]string{"DELETE FROM migrations WHERE number > 21"}, "The column size of the table photos is there"},
		"a projection gone":              {[]string{"DROP TABLE releases"}, "The table releases is not there"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, FileName)
			require.NoError(t, os.WriteFile(path, whole, 0o600))
			alterFile(t, path, append([]string{"PRAGMA foreign_keys = OFF"}, c.statements...)...)
			reports, _, err := VerifyIn(t.Context(), dir)
			require.NoError(t, err)
			said := []string{}
			for _, fault := range reports[fernhollow].Faults {
				require.Equal(t, record.TablesDiffer, fault.Change)
				said = append(said, fault.What.String())
			}
			require.Contains(t, strings.Join(said, "\n"), c.says)
		})
	}
	alterFile(t, path, "PRAGMA foreign_keys = OFF", "DROP TABLE migrations")
	_, _, err = VerifyIn(t.Context(), filepath.Dir(path))
	require.ErrorContains(t, err, "the list of the upgrades that made them is gone")
}

func TestRebuildComparesAllThatTheStepsBroughtHoweverOldTheListSaysItIs(t *testing.T) {
	path, _ := filledFile(t)
	alterFile(t, path, "PRAGMA foreign_keys = OFF", "DELETE FROM migrations WHERE number > 22", "DROP TABLE search_gaps", "DROP TABLE search_words", "DROP TABLE search_places",
		"DROP TABLE releases", "ALTER TABLE lift_runs RENAME COLUMN doc TO document")
	_, built, _, err := RebuildIn(t.Context(), filepath.Dir(path), Rebuilding{})
	require.NoError(t, err)
	require.False(t, built.OK())
	said := map[string]RowChange{}
	for _, d := range built.Differences {
		said[d.Table+" "+d.Field] = d.Change
		require.NotEmpty(t, d.What().String())
	}
	require.Equal(t, map[string]RowChange{"releases ": TableMissing, "lift_runs doc": ColumnMissing}, said)
}
