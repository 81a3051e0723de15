package store

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"
)

// everyConnection runs check on each connection a pool can have at once.
func everyConnection(t *testing.T, db *gorm.DB, size int, check func(*sql.Conn)) {
	t.Helper()
	pool, err := db.DB()
	require.NoError(t, err)
	require.Equal(t, size, pool.Stats().MaxOpenConnections)
	for range size {
		conn, err := pool.Conn(t.Context())
		require.NoError(t, err)
		t.Cleanup(func() { conn.Close() })
		check(conn)
	}
}

func TestEveryConnectionHasTheSettingsThatKeepACommit(t *testing.T) {
	s, err := Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	want := map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "5000"}
	read := func(queryOnly string) func(*sql.Conn) {
		return func(conn *sql.Conn) {
			want["query_only"] = queryOnly
			for name, value := range want {
				var got string
				require.NoError(t, conn.QueryRowContext(t.Context(), "PRAGMA "+name).Scan(&got))
				require.Equal(t, value, got, name)
			}
		}
	}
	everyConnection(t, s.writes, 1, read("0"))
	everyConnection(t, s.reads, 4, read("1"))
}

func TestConnectionWhoseSettingsDidNotTakeIsRefused(t *testing.T) {
	// A database in memory has no write-ahead log, whatever is asked for.
	_, err := connect(filepath.Join(t.TempDir(), "m.db"), "&mode=memory", 1)
	require.EqualError(t, err, "setting journal_mode is memory, not wal")
}

func TestReadersCannotWrite(t *testing.T) {
	s := open(t)
	require.Regexp(t, "readonly|read-only", s.reads.Exec("DELETE FROM entries").Error)
}

func TestFolderMayHaveAnyName(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "saw mill #2?mode=ro%41&x")
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	setUp(t, s, fernhollow)
	require.NoError(t, s.Close())
	require.FileExists(t, filepath.Join(dir, FileName))
	s, err = Open(t.Context(), dir)
	require.NoError(t, err)
	mill, err := s.TheMill(t.Context())
	require.NoError(t, err)
	require.Equal(t, fernhollow, mill.ID)
	require.NoError(t, s.Close())
}

func TestCloseLeavesOneFile(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	setUp(t, s, fernhollow)
	require.FileExists(t, filepath.Join(dir, FileName+"-wal"), "the log is in use while the store is open")
	require.NoError(t, s.Close())
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, files, 1)
	require.Equal(t, FileName, files[0].Name())
}

func TestFolderThatIsNoneIsNamedInOneLine(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a-file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	_, err := Open(t.Context(), file)
	require.ErrorContains(t, err, file)
	require.NotContains(t, err.Error(), "\n")
}

func TestFileThatIsNoDatabaseIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	text := strings.Repeat("this is a letter, not a database. ", 200)
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), []byte(text), 0o600))
	_, err := Open(t.Context(), dir)
	require.ErrorContains(t, err, FileName)
	require.NotContains(t, err.Error(), "\n")
	kept, err := os.ReadFile(filepath.Join(dir, FileName))
	require.NoError(t, err)
	require.Equal(t, text, string(kept))
}
