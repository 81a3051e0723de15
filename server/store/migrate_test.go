package store

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"
)

// raw opens a database file without migrating it.
func raw(t *testing.T, path string) *gorm.DB {
	t.Helper()
	db, err := connect(path, "&_txlock=immediate", 1)
	require.NoError(t, err)
	t.Cleanup(func() { shut(db) })
	return db
}

// upgraded brings the database at path to a step.
func upgraded(t *testing.T, db *gorm.DB, path string, all []migration, last int) error {
	t.Helper()
	_, err := migrateTo(t.Context(), On{}, db, path, all, last)
	return err
}

// oneRowEach puts a row into every table: the same text in every text column
// and the same number in every other, so that every reference is met.
func oneRowEach(t *testing.T, db *gorm.DB) {
	t.Helper()
	require.NoError(t, db.Exec("PRAGMA foreign_keys = OFF").Error)
	defer func() { require.NoError(t, db.Exec("PRAGMA foreign_keys = ON").Error) }()
	for _, table := range tables(t, db) {
		if table == "migrations" {
			continue
		}
		var columns []struct{ Name, Type string }
		require.NoError(t, db.Raw("SELECT name, type FROM pragma_table_info(?)", table).Scan(&columns).Error)
		var names, values []string
		for _, column := range columns {
			names = append(names, column.Name)
			switch column.Type {
			case "TEXT":
				values = append(values, `'{}'`)
			case "BLOB":
				values = append(values, `x'01'`)
			default:
				values = append(values, "1")
			}
		}
		require.NoError(t, db.Exec(fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", table, strings.Join(names, ", "), strings.Join(values, ", "))).Error)
	}
	require.Empty(t, dump(t, db, "PRAGMA foreign_key_check"))
}

// rowsOf are the rows of every table, in the columns it has in like.
func rowsOf(t *testing.T, db, like *gorm.DB) map[string][]string {
	t.Helper()
	rows := map[string][]string{}
	for _, table := range tables(t, db) {
		var columns []string
		require.NoError(t, like.Raw("SELECT name FROM pragma_table_info(?)", table).Scan(&columns).Error)
		if table != "migrations" && len(columns) > 0 {
			rows[table] = dump(t, db, `SELECT "`+strings.Join(columns, `", "`)+`" FROM `+table)
		}
	}
	return rows
}

func TestEachMigrationKeepsWhatTheOneBeforeHeld(t *testing.T) {
	all, err := migrations()
	require.NoError(t, err)
	for i, m := range all {
		require.Equal(t, i+1, m.number, "numbers count from 1 without a gap")
	}
	for _, m := range all[1:] {
		t.Run(m.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), FileName)
			db := raw(t, path)
			require.NoError(t, upgraded(t, db, path, all, m.number-1))
			oneRowEach(t, db)
			before := rowsOf(t, db, db)
			require.NotEmpty(t, before)

			require.NoError(t, upgraded(t, db, path, all, m.number))
			at, err := schemaVersion(t.Context(), db)
			require.NoError(t, err)
			require.Equal(t, m.number, at)
			beside := raw(t, fmt.Sprintf("%s.before-upgrade-from-%d", path, m.number-1))
			after := rowsOf(t, db, beside)
			for table, rows := range before {
				require.Equal(t, rows, after[table], table)
			}

			at, err = schemaVersion(t.Context(), beside)
			require.NoError(t, err)
			require.Equal(t, m.number-1, at)
			require.Equal(t, before, rowsOf(t, beside, beside), "the copy is the database as it was")
		})
	}
}

func TestDatabaseOfANewerStillsawIsRefusedInOneLineAndLeftAlone(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	require.NoError(t, s.writes.Exec("INSERT INTO migrations (number, name) VALUES (9999, 'later')").Error)
	require.NoError(t, s.Close())
	before, err := os.ReadFile(s.Path())
	require.NoError(t, err)

	_, err = Open(t.Context(), dir)
	require.ErrorIs(t, err, ErrNewer)
	require.NotContains(t, err.Error(), "\n")
	require.Contains(t, err.Error(), s.Path())
	after, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	require.Equal(t, before, after)
}

func TestBrokenMigrationLeavesTheDatabaseAsItWas(t *testing.T) {
	all, err := migrations()
	require.NoError(t, err)
	for name, bad := range map[string]string{
		"half of it is no SQL":          "CREATE TABLE half (id TEXT); DELETE FROM people; NOT SQL;",
		"rows that refer to nothing":    "DELETE FROM people WHERE id = '{}';",
		"a table that others refer to":  "DROP TABLE mills;",
		"nothing of it can be executed": "NOT SQL;",
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), FileName)
			db := raw(t, path)
			last := all[len(all)-1].number
			require.NoError(t, upgraded(t, db, path, all, last))
			oneRowEach(t, db)
			before := rowsOf(t, db, db)
			withBad := append(all[:len(all):len(all)], migration{number: last + 1, name: "bad.sql", sql: bad})
			require.ErrorContains(t, upgraded(t, db, path, withBad, last+1), "upgrade step bad.sql")
			at, err := schemaVersion(t.Context(), db)
			require.NoError(t, err)
			require.Equal(t, last, at)
			require.Equal(t, before, rowsOf(t, db, db))
			require.Equal(t, []string{`"map[foreign_keys:1]"`}, dump(t, db, "PRAGMA foreign_keys"), "keys are watched again")
		})
	}
}

func TestUpgradeIsNotBegunWithoutACopy(t *testing.T) {
	all, err := migrations()
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), FileName)
	db := raw(t, path)
	require.NoError(t, upgraded(t, db, path, all, 1))
	require.ErrorContains(t, upgraded(t, db, filepath.Join(path, "no-such-folder", FileName), all, 2), "no copy could be made")
	at, err := schemaVersion(t.Context(), db)
	require.NoError(t, err)
	require.Equal(t, 1, at)
}
