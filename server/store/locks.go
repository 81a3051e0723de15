package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

type lockItemRow struct {
	Mill  string `gorm:"primaryKey"`
	ID    string `gorm:"primaryKey"` // the number as numbers are compared
	Owner string
	Doc   procedures.LockItem `gorm:"serializer:json"`
}

func (lockItemRow) TableName() string { return "lock_items" }

type lockItemBody struct {
	everywhere
	procedures.LockItem
}

func (*lockItemBody) kind() (string, int) { return KindLock, 1 }

func (b *lockItemBody) project(tx *Tx, e entry) error { return putLock(tx, e.Mill, b.LockItem) }

func putLock(tx *Tx, mill string, item procedures.LockItem) error {
	return tx.put(&lockItemRow{Mill: mill, ID: procedures.LockNumber(item.Number), Owner: string(item.Owner), Doc: item}, "owner", "doc")
}

// KeepLock enters a lock in the register, or what changed about one. Its error
// is what [procedures.LockItem.Keep] refuses.
func (m *Mill) KeepLock(ctx context.Context, submission string, item procedures.LockItem, by procedures.Person, at time.Time) error {
	return m.putInRegister(ctx, submission, item, by, at, func([]procedures.LockItem) error { return nil })
}

// AddLock enters a lock whose number is new to the register. Its errors are
// those of [Mill.KeepLock] and of [procedures.NewNumber].
func (m *Mill) AddLock(ctx context.Context, submission string, item procedures.LockItem, by procedures.Person, at time.Time) error {
	return m.putInRegister(ctx, submission, item, by, at, func(register []procedures.LockItem) error {
		return procedures.NewNumber(item.Number, register)
	})
}

// EditLock enters what changed about a lock, or is ErrChanged when that was
// changed since the form was shown, ErrNotFound for a number nothing has.
func (m *Mill) EditLock(ctx context.Context, submission, seen string, item procedures.LockItem, by procedures.Person, at time.Time) error {
	return m.putInRegister(ctx, submission, item, by, at, func(register []procedures.LockItem) error {
		before, known := procedures.FindLock(register, item.Number)
		switch {
		case !known:
			return ErrNotFound
		case Mark(before) != seen:
			return ErrChanged
		}
		return nil
	})
}

func (m *Mill) putInRegister(ctx context.Context, submission string, item procedures.LockItem, by procedures.Person, at time.Time, may func([]procedures.LockItem) error) error {
	_, err := m.do(ctx, submission, "lock", at, func(tx *Tx, at time.Time) (string, error) {
		register, err := locks(tx, m.id)
		if err != nil {
			return "", err
		}
		if err := may(register); err != nil {
			return "", err
		}
		before, _ := procedures.FindLock(register, item.Number)
		crew, err := people(tx, m.id)
		if err != nil {
			return "", err
		}
		std, err := program(tx, m.id)
		if err != nil {
			return "", err
		}
		open, err := openLockouts(tx, m.id)
		if err != nil {
			return "", err
		}
		var on []procedures.Lock
		for _, l := range open {
			on = append(on, l.LocksOn()...)
		}
		kept, err := item.Keep(before, by, crew, on, std, at)
		if err != nil {
			return "", err
		}
		return kept.Number, m.keepLock(tx, kept, by, at)
	})
	return err
}

func (m *Mill) keepLock(tx *Tx, item procedures.LockItem, by procedures.Person, at time.Time) error {
	_, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: procedures.LockNumber(item.Number)}, &lockItemBody{LockItem: item})
	return err
}

// Locks lists the register of locks by number.
func (m *Mill) Locks(ctx context.Context) ([]procedures.LockItem, error) {
	return locks(ctxReader{m, ctx}, m.id)
}

func locks(r reader, mill checklists.MillID) ([]procedures.LockItem, error) {
	var rows []lockItemRow
	err := r.gorm().Order("id").Find(&rows, "mill = ?", mill).Error
	all := make([]procedures.LockItem, len(rows))
	for i := range rows {
		all[i] = rows[i].Doc
	}
	return all, err
}
