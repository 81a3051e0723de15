// Package store is the only code that knows gorm: rows, migrations, queries
// and the single writer. Rules live in the domain packages; a command here
// loads what its rule needs, runs it, and writes what follows as one entry of
// the record and the projections of it.
package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"stillsaw/checklists"
)

// FileName is the database's name in the data folder.
const FileName = "stillsaw.db"

// Store is one database file, or one mill's part of a [Postgres]: a pool of one
// connection that writes and a pool that reads.
type Store struct {
	path   string
	reads  *gorm.DB
	writes *gorm.DB
	writer *writer

	dropping sync.Mutex // held by the one drop at work
	keys     keyring
	kept     *lasting
	upgrade  Upgrade

	postgres *Postgres         // nil: the database is a file
	mill     checklists.MillID // whose part of a shared database this is
}

// pragmas every connection must show when read back. synchronous 2 is FULL: an
// acknowledged commit survives a power cut.
var pragmas = []struct{ name, want string }{
	{"journal_mode", "wal"},
	{"synchronous", "2"},
	{"foreign_keys", "1"},
	{"busy_timeout", "5000"},
}

// erasing makes SQLite write zeros over what is deleted, in the words of either
// driver; a driver doesn't hear the other's.
const erasing = "&_secure_delete=1&_pragma=secure_delete(1)"

// preparedOnce has a driver that can do so keep statements it prepared: nearly all
// of an act's are those of the act before. The one in pure Go doesn't hear it.
const preparedOnce = "&_stmt_cache_size=256"

// On says by what a database is reached, above all for tests that put a disk under
// it whose power they cut. The zero value is a file, by the driver of this build, in
// a folder where nobody else is at work.
type On struct {
	Driver string // of database/sql
	VFS    string // SQLite's way to the disk, by its name
	Beside Beside // how files beside the database are dealt with
	Shared bool   // another process may be at work in the folder: what it has under way there stays
}

func (on On) beside() Beside {
	if on.Beside != nil {
		return on.Beside
	}
	return folder{}
}

// dialector reaches the database at dsn, which has a "?".
func (on On) dialector(dsn string) gorm.Dialector {
	if on.Driver == "" {
		return dialector(dsn)
	}
	return sqlite.Dialector{DriverName: on.Driver, DSN: dsn + "&vfs=" + on.VFS}
}

// Open opens or makes the database in dir, migrates it and starts the writer.
// The error says what is wrong with the folder or the file, in one line.
func Open(ctx context.Context, dir string) (*Store, error) { return OpenOn(ctx, dir, On{}) }

// OpenOn is [Open] by another way than this build's own.
func OpenOn(ctx context.Context, dir string, on On) (*Store, error) {
	if err := makeFolder(dir); err != nil {
		return nil, err
	}
	path := filepath.Join(dir, FileName)
	if err := onlyForUs(path); err != nil {
		return nil, fmt.Errorf("the database %s can't be made or read: %w", path, Cause(err))
	}
	writes, err := connectOn(on, path, "&_txlock=immediate"+erasing, 1)
	if err != nil {
		return nil, fmt.Errorf("the database %s can't be opened: %w", path, err)
	}
	s := &Store{path: path, writes: writes, keys: keyring{dir: filepath.Join(dir, KeysFolderName)}, kept: newLasting()}
	if s.upgrade, err = migrate(ctx, on, writes, path); err != nil {
		return nil, errors.Join(fmt.Errorf("the database %s: %w", path, err), shut(writes))
	}
	if s.reads, err = connectOn(on, path, "&_query_only=1", 4); err != nil {
		return nil, errors.Join(fmt.Errorf("the database %s can't be opened for reading: %w", path, err), shut(writes))
	}
	if !on.Shared {
		if err := s.removeLeft(); err != nil {
			return nil, errors.Join(err, shut(s.reads), shut(writes))
		}
	}
	s.writer = startWriter(writes, s.kept, nil)
	return s, nil
}

// makeFolder makes a data folder where there is none, and tries whether it may be
// written to.
func makeFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("the data folder %s can't be made: %w", dir, Cause(err))
	}
	if err := tryWriting(dir); err != nil {
		return fmt.Errorf("the data folder %s can't be written to: %w", dir, Cause(err))
	}
	return nil
}

// exportingFolder lies beside the database while an export is made.
const exportingFolder = "exporting"

// TempFile makes a file beside the database for what is being made and has the
// record in clear: only this user may read it, and what a program that ended at
// once left there is removed at the next start. Whoever asks for it closes and
// removes it.
func (m *Mill) TempFile() (*os.File, error) {
	dir := filepath.Join(filepath.Dir(m.s.path), exportingFolder)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder %s can't be made: %w", dir, Cause(err))
	}
	file, err := os.CreateTemp(dir, "stillsaw-*")
	if err != nil {
		return nil, fmt.Errorf("no file can be made in %s: %w", dir, Cause(err))
	}
	return file, nil
}

// removeLeft removes what was under way when the program ended at once, and has in
// clear what is kept of people: exports, backups, and the tables a drop was made by.
func (s *Store) removeLeft() error {
	for _, folder := range []string{droppingFolder, exportingFolder, backingUpFolder} {
		left := filepath.Join(filepath.Dir(s.path), folder)
		if err := os.RemoveAll(left); err != nil {
			return fmt.Errorf("what was left in %s can't be removed: %w", left, Cause(err))
		}
	}
	return nil
}

// Upgraded tells what opening the store made of a database left by an earlier Stillsaw.
func (s *Store) Upgraded() Upgrade { return s.upgrade }

// Path is the database file.
func (s *Store) Path() string { return s.path }

// Close takes no more commands, finishes those that wait and closes the
// database, leaving no write-ahead log behind.
func (s *Store) Close() error {
	s.writer.drain()
	reads := shut(s.reads)
	if s.postgres != nil {
		err := errors.Join(reads, shut(s.writes))
		if s.postgres.closed != nil {
			err = errors.Join(err, s.postgres.Close())
			s.postgres.closed()
		}
		return err
	}
	// With the readers gone the log can be folded into the file whole.
	folded := s.writes.Exec("PRAGMA wal_checkpoint(TRUNCATE)").Error
	return errors.Join(reads, folded, shut(s.writes))
}

// connect opens a pool of size connections and refuses one whose pragmas,
// read back, are not those asked for: a driver ignores a setting it does not
// know without a word.
func connect(path, extra string, size int) (*gorm.DB, error) {
	return connectOn(On{}, path, extra, size)
}

// quietly is how gorm is used here, whatever database it reaches.
func quietly() *gorm.Config {
	return &gorm.Config{
		SkipDefaultTransaction: true, // commands open their own
		Logger:                 logger.Discard,
		NowFunc:                func() time.Time { return time.Time{} }, // no time is taken here: commands carry theirs
	}
}

func connectOn(on On, path, extra string, size int) (*gorm.DB, error) {
	dsn := "file:" + escape(path) + "?_busy_timeout=5000&_journal_mode=WAL&_synchronous=FULL&_foreign_keys=1" + preparedOnce + extra
	db, err := gorm.Open(on.dialector(dsn), quietly())
	if err != nil {
		return nil, err
	}
	pool, err := db.DB()
	if err != nil {
		return nil, err
	}
	pool.SetMaxOpenConns(size)
	pool.SetMaxIdleConns(size)
	want := pragmas
	if strings.Contains(extra, "_query_only=1") {
		want = append(want[:len(want):len(want)], struct{ name, want string }{"query_only", "1"})
	}
	if strings.Contains(extra, erasing) {
		want = append(want[:len(want):len(want)], struct{ name, want string }{"secure_delete", "1"})
	}
	for _, pragma := range want {
		var got string
		if err := db.Raw("PRAGMA " + pragma.name).Scan(&got).Error; err != nil {
			return nil, errors.Join(err, shut(db))
		}
		if got != pragma.want {
			return nil, errors.Join(fmt.Errorf("setting %s is %s, not %s", pragma.name, got, pragma.want), shut(db))
		}
	}
	return db, nil
}

// escape writes a path as the address SQLite reads after "file:", so that a
// folder may have any name.
func escape(path string) string {
	if absolute, err := filepath.Abs(path); err == nil {
		path = absolute
	}
	return (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath()
}

func shut(db *gorm.DB) error {
	pool, err := db.DB()
	if err != nil {
		return err
	}
	return pool.Close()
}

// tryWriting finds out whether files can be made in dir before SQLite is asked,
// whose own message names no folder.
func tryWriting(dir string) error {
	probe, err := os.CreateTemp(dir, ".stillsaw-*")
	if err != nil {
		return err
	}
	return errors.Join(probe.Close(), os.Remove(probe.Name()))
}

// onlyForUs makes the database file before SQLite does, readable by this user
// alone: it holds digests of PINs. SQLite gives its other files the same rights.
func onlyForUs(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	return file.Close()
}

// Cause strips the operation and path that the caller's sentence already has.
func Cause(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}
