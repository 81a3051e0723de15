package store

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
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
	db, err := connect(path, "", 1)
	require.NoError(t, err)
	require.NoError(t, db.Exec("DELETE FROM migrations WHERE number > 1").Error)
	require.NoError(t, db.Exec("DROP TABLE weighings").Error)
	require.NoError(t, db.Exec("DROP TABLE lift_runs").Error)
	require.NoError(t, db.Exec("DROP TABLE lifts").Error)
	require.NoError(t, shut(db))
	before := lying(t, filepath.Dir(path))
	reports, schema, err := VerifyIn(t.Context(), filepath.Dir(path))
	require.NoError(t, err)
	require.True(t, reports[fernhollow].OK(), reports[fernhollow].Faults)
	require.True(t, schema.Older())
	require.Equal(t, 1, schema.Has)
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
