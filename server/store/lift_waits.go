package store

import (
	"context"
	"errors"
	"net/url"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// LiftWait is a lift that was typed without contact. It was judged by nobody when
// it was typed: its answer is the one of the moment somebody looks.
type LiftWait struct {
	ID     string
	Person procedures.PersonID
	Seen   time.Time // typed, as far as the phone tells
	At     time.Time // came here
	Fields url.Values
}

type liftWaitRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Person string
	Seen   int64
	At     int64
	Doc    url.Values `gorm:"serializer:json"`
}

func (liftWaitRow) TableName() string { return "lift_waits" }

func (r liftWaitRow) wait() LiftWait {
	return LiftWait{ID: r.ID, Person: procedures.PersonID(r.Person), Seen: timeOf(r.Seen), At: timeOf(r.At), Fields: r.Doc}
}

// liftWaitsMost bounds what one person leaves waiting.
const liftWaitsMost = 50

// KeepLiftWait keeps a lift as it was typed without contact.
func (m *Mill) KeepLiftWait(ctx context.Context, submission string, fields url.Values, by procedures.Person, seen, at time.Time) error {
	_, err := m.do(ctx, submission, "lift-wait", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Works() {
			return "", plain.Refuse("", "only somebody of the crew checks lifts; you are signed in to read")
		}
		var waiting int64
		if err := tx.gorm().Model(&liftWaitRow{}).Where("mill = ? AND person = ?", m.id, by.ID).Count(&waiting).Error; err != nil {
			return "", err
		}
		if waiting >= liftWaitsMost {
			return "", plain.Refuse("", "%d lifts of yours wait already. Look at these first.", waiting)
		}
		row := liftWaitRow{Mill: string(m.id), ID: NewID(), Person: string(by.ID), Seen: millis(seen), At: millis(at), Doc: fields}
		return row.ID, tx.gorm().Create(&row).Error
	})
	return err
}

// LiftWaits lists lifts typed without contact that nobody has looked at, the oldest
// first; of everybody where by is "".
func (m *Mill) LiftWaits(ctx context.Context, by procedures.PersonID) ([]LiftWait, error) {
	var rows []liftWaitRow
	if err := m.gorm().WithContext(ctx).Order("at, id").Find(&rows, "mill = ? AND (? = '' OR person = ?)", m.id, by, by).Error; err != nil {
		return nil, err
	}
	waits := make([]LiftWait, len(rows))
	for i, row := range rows {
		waits[i] = row.wait()
	}
	return waits, nil
}

// LiftWait loads one of them.
func (m *Mill) LiftWait(ctx context.Context, id string) (LiftWait, error) {
	row, err := one[liftWaitRow](ctxReader{m, ctx}, "lift", "mill = ? AND id = ?", m.id, id)
	return row.wait(), err
}

// EndLiftWait takes a lift off those that wait: whoever typed it, or a supervisor,
// has looked at it. One that is gone already is no error.
func (m *Mill) EndLiftWait(ctx context.Context, id string, by procedures.Person) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		row, err := one[liftWaitRow](tx, "lift", "mill = ? AND id = ?", m.id, id)
		if errors.Is(err, ErrNotFound) {
			return nil
		}
		if err != nil {
			return err
		}
		if row.Person != string(by.ID) && !by.Supervises() {
			return plain.Refuse("", "Whoever typed this lift looks at it, or a supervisor does.")
		}
		return tx.gorm().Delete(&liftWaitRow{}, "mill = ? AND id = ?", m.id, id).Error
	})
}
