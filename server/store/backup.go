package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"gorm.io/gorm"
)

// Backup writes a checked copy of the whole database to file while the store
// goes on working. It never overwrites: an existing file is an error.
func (s *Store) Backup(ctx context.Context, file string) error {
	if s.postgres != nil {
		return backup(file, func(half string) error { return s.copyInto(ctx, half, func(*Tx) error { return nil }) })
	}
	// A connection of the reading pool may write nothing, not even a copy.
	return BackupOf(ctx, filepath.Dir(s.path), file)
}

// BackupOf copies the database in dir, which another process may have open.
func BackupOf(ctx context.Context, dir, file string) error {
	path := filepath.Join(dir, FileName)
	if _, err := os.Stat(path); err != nil {
		return fmt.Errorf("there is no database in %s: %w", dir, Cause(err))
	}
	db, err := connect(path, "", 1)
	if err != nil {
		return fmt.Errorf("the database %s can't be opened: %w", path, err)
	}
	err = notNewer(ctx, db)
	if err == nil {
		err = backup(file, func(half string) error { return vacuumInto(db.WithContext(ctx), half) })
	} else {
		err = fmt.Errorf("the database %s: %w", path, err)
	}
	return errors.Join(err, shut(db))
}

func backup(file string, into func(half string) error) error {
	if _, err := os.Stat(file); err == nil {
		return fmt.Errorf("%s is there already; name a new file", file)
	}
	half := file + ".part"
	if err := os.Remove(half); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("an unfinished copy %s can't be cleared: %w", half, Cause(err))
	}
	if err := onlyForUs(half); err != nil {
		return fmt.Errorf("the copy %s could not be written: %w", file, Cause(err))
	}
	if err := into(half); err != nil {
		return fmt.Errorf("the copy %s could not be written: %w", file, err)
	}
	if _, err := checkCopy(On{}, half); err != nil {
		return errors.Join(fmt.Errorf("the copy %s is not sound and was thrown away: %w", file, err), os.Remove(half))
	}
	if err := syncFile(half); err != nil {
		return err
	}
	if err := os.Rename(half, file); err != nil {
		return err
	}
	return syncFile(filepath.Dir(file))
}

func vacuumInto(db *gorm.DB, file string) error {
	return db.Exec("VACUUM INTO ?", file).Error
}

// checkCopy opens the copy on its own, has SQLite read every page of it and says
// what step it is at.
func checkCopy(on On, file string) (at int, err error) {
	db, err := single(on.dialector("file:" + escape(file) + "?mode=rw"))
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	if err := intact(db); err != nil {
		return 0, err
	}
	at, err = schemaVersion(context.Background(), db)
	if err == nil && at == 0 {
		err = errors.New("it has no tables")
	}
	return at, err
}

// IntactIn has SQLite read every page of the database in dir, which nobody has open,
// and hold every index against its table. A verification reads entries and tables
// alone, and may come to its end without an index that is damaged.
func IntactIn(dir string) error {
	_, err := checkCopy(On{}, filepath.Join(dir, FileName))
	return err
}

// intact has SQLite read every page of a database and look whether it is whole.
func intact(db *gorm.DB) error {
	var verdict string
	if err := db.Raw("PRAGMA integrity_check").Scan(&verdict).Error; err != nil {
		return err
	}
	if verdict != "ok" {
		return errors.New(verdict)
	}
	return nil
}
