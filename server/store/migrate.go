package store

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"sort"

	"gorm.io/gorm"
)

// Migrations are only appended to: a released file never changes.
//
//go:embed migrations/*.sql
var migrationFiles embed.FS

// ErrUpgraded is a database whose tables are at a step this program doesn't know: what
// it would read of a mill may be half of it.
var ErrUpgraded = errors.New("was written by a newer Stillsaw; start that version")

// ErrNewer is ErrUpgraded of a file, which the upgrade left a copy of.
var ErrNewer = fmt.Errorf("%w, or put back the copy made before the upgrade, which lies beside it", ErrUpgraded)

type migration struct {
	number int
	name   string
	sql    string
}

func migrations() ([]migration, error) { return stepsIn(migrationFiles, "migrations") }

// stepsIn are the steps that lie in a folder, in their order.
func stepsIn(from embed.FS, folder string) ([]migration, error) {
	files, err := from.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	all := make([]migration, 0, len(files))
	for _, file := range files {
		var m migration
		if _, err := fmt.Sscanf(file.Name(), "%04d_", &m.number); err != nil {
			return nil, fmt.Errorf("migration %s: %w", file.Name(), err)
		}
		text, err := from.ReadFile(folder + "/" + file.Name())
		if err != nil {
			return nil, err
		}
		m.name, m.sql = file.Name(), string(text)
		all = append(all, m)
	}
	sort.Slice(all, func(i, j int) bool { return all[i].number < all[j].number })
	return all, nil
}

// Upgrade is what the opening of a database left by an earlier Stillsaw did. The
// zero value is none.
type Upgrade struct {
	From, To int
	Copy     string // the file of the database as it was, "" for a new one
}

// migrate brings the database at path to this version: all the steps or none. A
// database that already holds something is first copied beside itself.
func migrate(ctx context.Context, on On, db *gorm.DB, path string) (Upgrade, error) {
	all, err := migrations()
	if err != nil {
		return Upgrade{}, err
	}
	return migrateTo(ctx, on, db, path, all, all[len(all)-1].number)
}

// migrateTo brings the database as far as the step last. Its transaction is one that
// writes from the start, so that of several programs one upgrades and the others find
// that they are late; and it is one for all steps, so that where anything fails the
// earlier Stillsaw still opens what it left.
func migrateTo(ctx context.Context, on On, db *gorm.DB, path string, all []migration, last int) (done Upgrade, err error) {
	db = db.WithContext(ctx)
	at, err := schemaVersion(ctx, db)
	switch {
	case err != nil:
		return done, err
	case at > all[len(all)-1].number:
		return done, ErrNewer
	case at >= last:
		return done, nil
	}
	if at > 0 && at < erasingSince && last >= erasingSince {
		// What was deleted before still stands in the free space of the file. It is
		// cleared first: an upgrade cut off afterwards would not come back to it.
		if err := db.Exec("VACUUM").Error; err != nil {
			if inUse(err) {
				return done, turnedAway(err)
			}
			return done, notBegun(db, "what was deleted from it could not be cleared before the upgrade", 2, err)
		}
	}
	// SQLite rebuilds a table by dropping it, and a drop empties the tables that
	// refer to it, unless keys are off. In a transaction they can't be switched.
	if err := db.Exec("PRAGMA foreign_keys = OFF").Error; err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, db.Exec("PRAGMA foreign_keys = ON").Error) }()
	began := false
	err = db.Transaction(func(tx *gorm.DB) error {
		began = true
		if done.From, err = schemaVersion(ctx, tx); err != nil {
			return err
		}
		if done.From >= last { // another program was quicker
			return nil
		}
		if done.From > 0 {
			if done.Copy, err = copyBefore(on, path, done.From); err != nil {
				return notBegun(tx, "no copy could be made before the upgrade", 1, err)
			}
		}
		for _, m := range all {
			if m.number <= done.From || m.number > last {
				continue
			}
			if err := apply(tx, m); err != nil {
				return fmt.Errorf("upgrade step %s failed and all of them were taken back, so that the earlier Stillsaw opens it still: %w", m.name, err)
			}
			done.To = m.number
		}
		return nil
	})
	switch {
	case err != nil && !began && inUse(err):
		return Upgrade{}, turnedAway(err)
	case err != nil:
		return Upgrade{}, err
	case done.To == 0:
		return Upgrade{}, nil
	}
	if done.From > 0 {
		err = clearCopies(on, path, copiesKept)
	}
	return done, err
}

// turnedAway is the error of an upgrade another program stands in the way of.
func turnedAway(err error) error {
	return fmt.Errorf("it was left by an earlier Stillsaw and can't be upgraded now: %w (%w)", ErrInUse, err)
}

// notBegun is the error of an upgrade there was no room for, or that failed before
// its first step; times is how often the database must fit beside itself.
func notBegun(db *gorm.DB, why string, times int64, err error) error {
	var pages, free, size int64
	for pragma, into := range map[string]*int64{"page_count": &pages, "freelist_count": &free, "page_size": &size} {
		if db.Raw("PRAGMA "+pragma).Scan(into).Error != nil {
			return fmt.Errorf("%s, so it was not begun and nothing was changed: %w", why, err)
		}
	}
	return fmt.Errorf("%s, so it was not begun and nothing was changed; it takes about %d MB of free room on the disk of the database: %w", why, times*(pages-free)*size>>20+1, err)
}

// erasingSince is the step with which zeros are written over what is deleted.
const erasingSince = 22

// notNewer is ErrNewer for a database of a later Stillsaw.
func notNewer(ctx context.Context, db *gorm.DB) error {
	all, err := migrations()
	if err != nil {
		return err
	}
	at, err := schemaVersion(ctx, db)
	if err == nil && at > all[len(all)-1].number {
		err = ErrNewer
	}
	return err
}

// schemaVersion is 0 for a new file.
func schemaVersion(ctx context.Context, db *gorm.DB) (int, error) {
	there, err := hasTable(db.WithContext(ctx), "migrations")
	if err != nil || !there {
		return 0, err
	}
	var at int
	err = db.WithContext(ctx).Raw("SELECT coalesce(max(number), 0) FROM migrations").Scan(&at).Error
	return at, err
}

// apply runs one migration in tx, which keeps no foreign keys, and checks every key.
func apply(tx *gorm.DB, m migration) error {
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
}
