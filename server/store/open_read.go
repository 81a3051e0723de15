package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// Schema says how many steps of this Stillsaw's upgrades a database has had.
type Schema struct{ Has, Newest int }

// Older tells whether the database was left by an earlier Stillsaw.
func (s Schema) Older() bool { return s.Has < s.Newest }

// VerifyIn is [Store.Verify] of the database in dir, which is opened to be read
// only: it is neither upgraded nor written to, may lie in a folder that can't be
// written to, and another process may have it open. What is checked has been
// the same since the first version, so an older database is checked as it is.
func VerifyIn(ctx context.Context, dir string) (reports map[checklists.MillID]record.Report, at Schema, err error) {
	at, err = readIn(ctx, dir, func(db *gorm.DB, _ Schema) (err error) {
		reports, err = verify(ctx, db, "")
		return err
	})
	return reports, at, err
}

// readIn opens the database in dir to be read only, for read, which is not
// called for one that was never written to.
func readIn(ctx context.Context, dir string, read func(*gorm.DB, Schema) error) (at Schema, err error) {
	path := filepath.Join(dir, FileName)
	if _, err := os.Stat(path); err != nil {
		return at, fmt.Errorf("there is no database in %s: %w", dir, Cause(err))
	}
	all, err := migrations()
	if err != nil {
		return at, err
	}
	at.Newest = all[len(all)-1].number
	db, err := connectToRead(ctx, path)
	if err != nil {
		return at, fmt.Errorf("the database %s can't be read: %w", path, err)
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	at.Has, err = schemaVersion(ctx, db)
	switch {
	case err != nil:
		return at, fmt.Errorf("the database %s can't be read: %w", path, err)
	case at.Has > at.Newest:
		return at, fmt.Errorf("the database %s: %w", path, ErrNewer)
	case at.Has == 0:
		return at, neverWritten(db, path)
	}
	return at, read(db, at)
}

// neverWritten is the error of a database that says it had no step of the upgrades and
// yet has tables.
func neverWritten(db *gorm.DB, path string) error {
	tables, err := tablesIn(db)
	if err != nil {
		return fmt.Errorf("the database %s can't be read: %w", path, err)
	}
	if len(tables) > 0 {
		return fmt.Errorf("the database %s has tables, and the list of the upgrades that made them is gone: it was changed outside Stillsaw", path)
	}
	return nil
}

// connectToRead opens the file at path so that no statement can write to it.
// Reading a file in write-ahead mode takes two files beside it. Where they are,
// somebody has the database open, or was cut off, and they are only read. Where
// they are not, SQLite makes them and, since this connection is not mode=ro,
// clears them away again; in a folder where it can't, nobody else has the
// database open either, and it is read as a file that doesn't change.
func connectToRead(ctx context.Context, path string) (*gorm.DB, error) {
	how, log := "mode=rw", int64(0)
	if info, err := os.Stat(path + "-wal"); err == nil {
		how, log = "mode=ro", info.Size()
	}
	db, err := openToRead(ctx, path, how)
	switch {
	case err == nil:
		return db, nil
	case log > 0:
		return nil, fmt.Errorf("its newest entries are in %s-wal; copy both to a folder that can be written to: %w", FileName, err)
	}
	return openToRead(ctx, path, "mode=ro&immutable=1")
}

// single opens a database apart from the store's own pools, over one connection.
func single(at gorm.Dialector) (*gorm.DB, error) {
	db, err := gorm.Open(at, quietly())
	if err != nil {
		return nil, err
	}
	pool, err := db.DB()
	if err != nil {
		return nil, err
	}
	pool.SetMaxOpenConns(1)
	return db, nil
}

func openToRead(ctx context.Context, path, how string) (*gorm.DB, error) {
	db, err := single(dialector("file:" + escape(path) + "?" + how + "&_busy_timeout=5000&_query_only=1"))
	if err != nil {
		return nil, err
	}
	if _, err := schemaVersion(ctx, db); err != nil { // the first reading is what fails
		return nil, errors.Join(err, shut(db))
	}
	return db, nil
}
