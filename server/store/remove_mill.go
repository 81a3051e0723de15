package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// RecordGoesOn is a mill that is not removed because its record is not the one that
// was named: entries were made since it was copied out, or it is another mill's.
type RecordGoesOn struct {
	Entries int64
}

func (e *RecordGoesOn) Error() string {
	return fmt.Sprintf("the record, of %d entries, has another root than that; nothing was removed. Move it out once more and name the root that says, or where it is damaged the one that verify says", e.Entries)
}

// RootOf is the root of a record as it is shown, or "none" for one of no entries.
func RootOf(text string) (root tlog.Hash, err error) {
	if text == "none" {
		return root, nil
	}
	if root, err = tlog.ParseHash(text); err != nil {
		return root, fmt.Errorf("%q is no root of a record", text)
	}
	return root, nil
}

// Remove takes a mill out of the database with all it has there, its record too. root
// is that of its record, so that nothing goes that whoever removes it has not got: the
// zero one for a mill of no entries. A process that holds the mill writes nothing more.
func (p *Postgres) Remove(ctx context.Context, mill checklists.MillID, root tlog.Hash) (err error) {
	db, err := p.of(mill, p.writes, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	return db.WithContext(ctx).Transaction(func(db *gorm.DB) error {
		var there []string
		if err := db.Raw("SELECT id FROM tenants WHERE id = ? FOR UPDATE", mill).Scan(&there).Error; err != nil {
			return err
		}
		if len(there) == 0 {
			return ErrNotFound
		}
		head, err := headOf(&Tx{db: db}, mill)
		if errors.Is(err, ErrNotFound) { // or taken away: entries that are there count
			if err = db.Raw("SELECT count(*) FROM entries WHERE mill = ?", mill).Scan(&head.Size).Error; err == nil && head.Size > 0 {
				head.Root, err = record.Root(head.Size, hashReader(&Tx{db: db}, mill))
			}
		}
		if err != nil {
			return err
		}
		if head.Root != root || (head.Size > 0) != (root != tlog.Hash{}) {
			return &RecordGoesOn{head.Size}
		}
		tables, err := inOrderOfReference(db)
		if err != nil {
			return err
		}
		for _, table := range slices.Backward(tables) {
			column := millColumn(table)
			if column == "" {
				continue
			}
			if err := db.Exec(`DELETE FROM "`+table+`" WHERE `+column+" = ?", mill).Error; err != nil {
				return fmt.Errorf("table %s: %w", table, err)
			}
		}
		return db.Exec("DELETE FROM tenants WHERE id = ?", mill).Error
	})
}
