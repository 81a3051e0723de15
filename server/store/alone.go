package store

import (
	"context"
	"errors"
	"fmt"
	"os"
)

// ErrInUse is a database that another program has open.
var ErrInUse = errors.New("another program has it open")

// Unused tells whether nobody has the database at path open: ErrInUse where
// somebody has. A file that is not there, or can't be read as a database, is in
// nobody's use.
func Unused(ctx context.Context, path string) (err error) {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return nil
	}
	db, err := single(dialector("file:" + escape(path) + "?mode=rw&_busy_timeout=0"))
	if err != nil {
		return nil
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	db = db.WithContext(ctx)
	// In this mode the first reading wants the whole file to itself, also beside a
	// write-ahead log.
	var mode string
	if err := db.Raw("PRAGMA locking_mode = EXCLUSIVE").Scan(&mode).Error; err != nil {
		return err
	}
	_, err = schemaVersion(ctx, db)
	if err == nil {
		err = db.Exec("BEGIN IMMEDIATE").Error
	}
	if err == nil {
		return db.Exec("ROLLBACK").Error
	}
	if inUse(err) {
		return fmt.Errorf("%w (%s)", ErrInUse, err.Error())
	}
	return nil
}

// inUse tells whether err is of a database that another program keeps to itself.
func inUse(err error) bool { return TroubleOf(err) == InUse }
