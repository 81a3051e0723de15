package store

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"time"

	"gorm.io/gorm"
)

// Migrations are only appended to: a released file never changes.
//
//go:embed migrations/*.sql
var migrationFiles embed.FS

// ErrNewer is a database made by a later Stillsaw than this one.
var ErrNewer = errors.New("was written by a newer Stillsaw; start that version, or restore the backup made before the upgrade")

type migration struct {
	number int
	name   string
	sql    string
}

func migrations() ([]migration, error) {
	files, err := migrationFiles.ReadDir("migrations")
	if err != nil {
		return nil, err
	}
	all := make([]migration, 0, len(files))
	for _, file := range files {
		var m migration
		if _, err := fmt.Sscanf(file.Name(), "%04d_", &m.number); err != nil {
			return nil, fmt.Errorf("migration %s: %w", file.Name(), err)
		}
		text, err := migrationFiles.ReadFile("migrations/" + file.Name())
		if err != nil {
			return nil, err
		}
		m.name, m.sql = file.Name(), string(text)
		all = append(all, m)
	}
	sort.Slice(all, func(i, j int) bool { return all[i].number < all[j].number })
	return all, nil
}

// migrate brings the database to this version, each step whole or not at all.
// A database that already holds something is first copied beside itself.
func migrate(ctx context.Context, db *gorm.DB, path string) error {
	all, err := migrations()
	if err != nil {
		return err
	}
	return migrateTo(ctx, db, path, all, all[len(all)-1].number)
}

func migrateTo(ctx context.Context, db *gorm.DB, path string, all []migration, last int) error {
	at, err := schemaVersion(ctx, db)
	if err != nil {
		return err
	}
	if at > all[len(all)-1].number {
		return ErrNewer
	}
	if at > 0 && at < last {
		if err := copyBefore(db, path, at); err != nil {
			return fmt.Errorf("no copy could be made before the upgrade, so it was not begun: %w", err)
		}
	}
	for _, m := range all {
		if m.number <= at || m.number > last {
			continue
		}
		if err := apply(ctx, db, m); err != nil {
			return fmt.Errorf("upgrade step %s: %w", m.name, err)
		}
	}
	if at > 0 && at < erasingSince && last >= erasingSince {
		// What was deleted before still stands in the free space of the file.
		return db.WithContext(ctx).Exec("VACUUM").Error
	}
	return nil
}

// erasingSince is the step with which zeros are written over what is deleted.
const erasingSince = 22

// schemaVersion is 0 for a new file.
func schemaVersion(ctx context.Context, db *gorm.DB) (int, error) {
	var exists int
	if err := db.WithContext(ctx).Raw("SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'migrations'").Scan(&exists).Error; err != nil {
		return 0, err
	}
	if exists == 0 {
		return 0, nil
	}
	var at int
	err := db.WithContext(ctx).Raw("SELECT coalesce(max(number), 0) FROM migrations").Scan(&at).Error
	return at, err
}

// apply runs one migration with foreign keys off, since SQLite rebuilds a
// table by dropping it and a drop empties the tables that refer to it, and
// checks every key before committing.
func apply(ctx context.Context, db *gorm.DB, m migration) (err error) {
	db = db.WithContext(ctx)
	if err := db.Exec("PRAGMA foreign_keys = OFF").Error; err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Exec("PRAGMA foreign_keys = ON").Error) }()
	return db.Transaction(func(tx *gorm.DB) error {
		if err := tx.Exec(m.sql).Error; err != nil {
			return err
		}
		var broken []struct{ Table, Parent string }
		if err := tx.Raw("PRAGMA foreign_key_check").Scan(&broken).Error; err != nil {
			return err
		}
		if len(broken) > 0 {
			return fmt.Errorf("%d rows of %s would refer to nothing in %s", len(broken), broken[0].Table, broken[0].Parent)
		}
		return tx.Exec("INSERT INTO migrations (number, name) VALUES (?, ?)", m.number, m.name).Error
	})
}

func copyBefore(db *gorm.DB, path string, at int) error {
	name := fmt.Sprintf("%s.before-upgrade-from-%d", path, at)
	if _, err := os.Stat(name); err == nil {
		name = fmt.Sprintf("%s.%d", name, time.Now().UnixMilli())
	}
	return vacuumInto(db, filepath.Clean(name))
}
