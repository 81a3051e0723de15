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

// openAlone opens a file of SQLite nobody else has open.
func openAlone(file string) (*gorm.DB, error) {
	if _, err := os.Stat(file); err != nil {
		return nil, err
	}
	return single(dialector("file:" + escape(file) + "?mode=ro&_query_only=1"))
}

// ApplyIncrement brings the copy of a database in dir, which nobody has open, to
// where an increment ends: the rows it has are added, what its entries say is
// projected, and the tables that stand in no entry are put in place of those
// there. Either all of it is done or none, and nothing where the increment does
// not go on from the copy.
func ApplyIncrement(ctx context.Context, dir, file string, to map[checklists.MillID]record.Head) (err error) {
	db, err := connect(filepath.Join(dir, FileName), "&_txlock=immediate"+erasing, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	db = db.WithContext(ctx)
	inc, err := openAlone(file)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shut(inc)) }()
	if err := db.Exec("ATTACH DATABASE ? AS "+incrementName, file).Error; err != nil {
		return err
	}
	// Rows refer to others that come with the next table; all is checked at the end.
	if err := db.Exec("PRAGMA foreign_keys = OFF").Error; err != nil {
		return err
	}
	return db.Transaction(func(db *gorm.DB) error {
		tx := &Tx{db: db}
		from, err := headsOf(tx)
		if err != nil {
			return err
		}
		if err := checkIncrement(&Tx{db: inc.WithContext(ctx)}, tx, from, to); err != nil {
			return err
		}
		for _, table := range growing() {
			if err := db.Exec(fmt.Sprintf("INSERT OR REPLACE INTO main.%[2]s SELECT * FROM %[1]s.%[2]s", incrementName, table)).Error; err != nil {
				return fmt.Errorf("table %s: %w", table, err)
			}
		}
		for mill := range to {
			if err := projectFrom(tx, mill, from[mill].Size); err != nil {
				return err
			}
		}
		for _, table := range carriedWhole() {
			if err := db.Exec("DELETE FROM main." + table).Error; err != nil {
				return err
			}
			if err := db.Exec(fmt.Sprintf("INSERT INTO main.%[2]s SELECT * FROM %[1]s.%[2]s", incrementName, table)).Error; err != nil {
				return fmt.Errorf("table %s: %w", table, err)
			}
		}
		var broken []struct{ Table, Parent string }
		if err := db.Raw("PRAGMA main.foreign_key_check").Scan(&broken).Error; err != nil {
			return err
		}
		if len(broken) > 0 {
			return fmt.Errorf("%d rows of %s would refer to nothing in %s", len(broken), broken[0].Table, broken[0].Parent)
		}
		return nil
	})
}

// projectFrom writes what follows from the entries of a mill from a place on, and
// the words they are found by.
func projectFrom(tx *Tx, mill checklists.MillID, place int64) (err error) {
	ahead := newAhead(tx.db.Statement.ConnPool)
	defer func() { err = errors.Join(err, ahead.close()) }()
	late := ahead.first(tx.db)
	var words unsaid
	for {
		rows, openings, err := pageFrom(tx, mill, place, replayPage)
		if err != nil {
			return err
		}
		page := make([]replayEntry, len(rows))
		for i, row := range rows {
			page[i] = readBack(mill, row, openings[row.Seq])
			if page[i].bad != nil {
				return errors.New(page[i].bad.Why.String())
			}
			words.add(mill, row.Seq, wordsOf(row.Kind, row.Actor, row.Day, page[i].body))
			place = row.Seq + 1
		}
		for i := range page {
			e := &page[i]
			if err := guarded(func(tx *Tx) error { return e.body.project(tx, e.entry) }, &Tx{db: late, ahead: ahead}); err != nil {
				return fmt.Errorf("entry %d: %w", e.Seq, err)
			}
		}
		if err := ahead.flush(); err != nil {
			return err
		}
		ahead.folds.pageDone()
		if len(rows) < replayPage {
			return tx.say(words)
		}
	}
}

// HeadsIn are the heads of the records in the database in dir, which is only read.
func HeadsIn(ctx context.Context, dir string) (heads map[checklists.MillID]record.Head, at Schema, err error) {
	at, err = readIn(ctx, dir, func(db *gorm.DB, _ Schema) (err error) {
		heads, err = headsOf(&Tx{db: db})
		return err
	})
	return heads, at, err
}

// GoesOnIn tells whether the record of a mill in the database in dir goes on from
// older: whether its first entries are those.
func GoesOnIn(ctx context.Context, dir string, older record.Head) (goesOn bool, err error) {
	_, err = readIn(ctx, dir, func(db *gorm.DB, _ Schema) error {
		_, err := record.RestoreFrontier(older, hashReader(&Tx{db: db}, checklists.MillID(older.Mill)))
		goesOn = err == nil
		return nil
	})
	return goesOn, err
}

// SignAllOutIn ends every session in the database in dir, which nobody has open: a
// copy put back would let somebody in again who has signed out since.
func SignAllOutIn(ctx context.Context, dir string) (err error) {
	db, err := connect(filepath.Join(dir, FileName), erasing, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	return errors.Join(db.WithContext(ctx).Exec("DELETE FROM sessions").Error, db.Exec("PRAGMA wal_checkpoint(TRUNCATE)").Error)
}
