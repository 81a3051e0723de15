package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

type safetyItemRow struct {
	Mill  string `gorm:"primaryKey"`
	ID    string `gorm:"primaryKey"`
	Place string
	Doc   checklists.SafetyItem `gorm:"serializer:json"`
}

func (safetyItemRow) TableName() string { return "safety_items" }

type safetyCheckRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Item string
	At   int64
	Doc  checklists.SafetyCheck `gorm:"serializer:json"`
}

func (safetyCheckRow) TableName() string { return "safety_checks" }

type safetyItemBody struct {
	everywhere
	checklists.SafetyItem
}

func (*safetyItemBody) kind() (string, int) { return KindSafetyItem, 1 }

func (b *safetyItemBody) project(tx *Tx, e entry) error {
	return tx.put(&safetyItemRow{Mill: e.Mill, ID: string(b.ID), Place: b.Place, Doc: b.SafetyItem}, "place", "doc")
}

// safetyCheckBody is a look at one of them, with what the entry's page needs to
// name it.
type safetyCheckBody struct {
	everywhere
	checklists.SafetyCheck
	Who  record.Personal `json:"who"`
	Note record.Personal `json:"note"`
	// Kind and place of the item, as they were.
	Kind  checklists.SafetyKind `json:"kind"`
	Place string                `json:"place"`
}

func (b *safetyCheckBody) check() SafetyChecked {
	c := b.SafetyCheck
	c.Who, c.Note = string(b.Who), string(b.Note)
	return SafetyChecked{SafetyCheck: c, Kind: b.Kind, Place: b.Place}
}

// SafetyChecked is a check with what it was of, as the entry keeps it.
type SafetyChecked struct {
	checklists.SafetyCheck
	Kind  checklists.SafetyKind
	Place string
}

func (*safetyCheckBody) kind() (string, int) { return KindSafetyCheck, 1 }

func (b *safetyCheckBody) project(tx *Tx, e entry) error {
	c := b.check().SafetyCheck
	return tx.add(&safetyCheckRow{Mill: e.Mill, ID: c.ID, Item: string(c.Item), At: millis(e.At), Doc: c})
}

// KeepSafetyItem enters an extinguisher, a first-aid kit or an eyewash, or what
// changed about one; a new one has no id. seen is the [Mark] of the one the form
// was filled in against. Its error is what [checklists.SafetyItem.Keep] refuses,
// ErrNotFound, or ErrChanged.
func (m *Mill) KeepSafetyItem(ctx context.Context, submission, seen string, i checklists.SafetyItem, by procedures.Person, at time.Time) (checklists.SafetyID, error) {
	id, err := m.do(ctx, submission, "safety-item", at, func(tx *Tx, at time.Time) (string, error) {
		var before checklists.SafetyItem
		if i.ID == "" {
			i.ID = checklists.SafetyID(NewID())
		} else {
			row, err := one[safetyItemRow](tx, "safety equipment", "mill = ? AND id = ?", m.id, i.ID)
			if err != nil {
				return "", err
			}
			if before = row.Doc; Mark(before) != seen {
				return "", ErrChanged
			}
		}
		kept, err := i.Keep(before, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(kept.ID)}, &safetyItemBody{SafetyItem: kept})
		return string(kept.ID), err
	})
	return checklists.SafetyID(id), err
}

// CheckSafetyItem enters a look at one of them, or work on it. Its error is what
// [checklists.SafetyItem.Check] refuses, or ErrNotFound.
func (m *Mill) CheckSafetyItem(ctx context.Context, submission string, c checklists.SafetyCheck, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "safety-check", at, func(tx *Tx, at time.Time) (string, error) {
		if err := tx.ofAge(m.id, by, at); err != nil {
			return "", err
		}
		row, err := one[safetyItemRow](tx, "safety equipment", "mill = ? AND id = ?", m.id, c.Item)
		if err != nil {
			return "", err
		}
		kept, err := row.Doc.Check(c, by, at)
		if err != nil {
			return "", err
		}
		kept.ID = NewID()
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: kept.On, Subject: string(kept.Item)},
			&safetyCheckBody{SafetyCheck: kept, Who: record.Personal(kept.Who), Note: record.Personal(kept.Note), Kind: row.Doc.Kind, Place: row.Doc.Place})
		return kept.ID, err
	})
	return err
}

// Safety lists the safety equipment by place, and every check of it.
func (m *Mill) Safety(ctx context.Context) ([]checklists.SafetyItem, []checklists.SafetyCheck, error) {
	var rows []safetyItemRow
	db := m.gorm().WithContext(ctx)
	if err := db.Order("place, id").Find(&rows, "mill = ?", m.id).Error; err != nil {
		return nil, nil, err
	}
	var checks []safetyCheckRow
	if err := db.Order("at, id").Find(&checks, "mill = ?", m.id).Error; err != nil {
		return nil, nil, err
	}
	items, done := make([]checklists.SafetyItem, len(rows)), make([]checklists.SafetyCheck, len(checks))
	for i := range rows {
		items[i] = rows[i].Doc
	}
	for i := range checks {
		done[i] = checks[i].Doc
	}
	return items, done, nil
}
