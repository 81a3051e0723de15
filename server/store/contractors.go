package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

type contractorRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Firm string
	Doc  procedures.Contractor `gorm:"serializer:json"`
}

func (contractorRow) TableName() string { return "contractors" }

type contractorBody struct {
	everywhere
	procedures.Contractor
	Restrictions record.Personal `json:"restrictions"`
}

func (b *contractorBody) contractor() procedures.Contractor {
	c := b.Contractor
	c.Restrictions = string(b.Restrictions)
	return c
}

func (*contractorBody) kind() (string, int) { return KindContractor, 1 }

func (b *contractorBody) project(tx *Tx, e entry) error {
	c := b.contractor()
	return tx.put(&contractorRow{Mill: e.Mill, ID: c.ID, Firm: c.Firm, Doc: c}, "firm", "doc")
}

// KeepContractor enters a firm from outside, or what changed about one; a new
// one has no id. Its error is what [procedures.Contractor.Keep] refuses, or
// ErrNotFound.
func (m *Mill) KeepContractor(ctx context.Context, submission string, c procedures.Contractor, by procedures.Person, at time.Time) (string, error) {
	return m.keepContractor(ctx, submission, c, by, at, func(procedures.Contractor) error { return nil })
}

// EditContractor enters what changed about a firm, or is ErrChanged when that was
// changed since the form was shown.
func (m *Mill) EditContractor(ctx context.Context, submission, seen string, c procedures.Contractor, by procedures.Person, at time.Time) (string, error) {
	return m.keepContractor(ctx, submission, c, by, at, func(before procedures.Contractor) error {
		if Mark(before) != seen {
			return ErrChanged
		}
		return nil
	})
}

func (m *Mill) keepContractor(ctx context.Context, submission string, c procedures.Contractor, by procedures.Person, at time.Time, may func(procedures.Contractor) error) (string, error) {
	return m.do(ctx, submission, "contractor", at, func(tx *Tx, at time.Time) (string, error) {
		all, err := contractors(tx, m.id)
		if err != nil {
			return "", err
		}
		if c.ID == "" {
			c.ID = NewID()
		} else {
			before, err := one[contractorRow](tx, "firm", "mill = ? AND id = ?", m.id, c.ID)
			if err != nil {
				return "", err
			}
			if err := may(before.Doc); err != nil {
				return "", err
			}
		}
		kept, err := c.Keep(by, all, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: kept.ID}, &contractorBody{Contractor: kept, Restrictions: record.Personal(kept.Restrictions)})
		return kept.ID, err
	})
}

// Contractors lists the firms from outside by name.
func (m *Mill) Contractors(ctx context.Context) ([]procedures.Contractor, error) {
	return contractors(ctxReader{m, ctx}, m.id)
}

func contractors(r reader, mill checklists.MillID) ([]procedures.Contractor, error) {
	var rows []contractorRow
	err := r.gorm().Order("firm, id").Find(&rows, "mill = ?", mill).Error
	all := make([]procedures.Contractor, len(rows))
	for i := range rows {
		all[i] = rows[i].Doc
	}
	return all, err
}
