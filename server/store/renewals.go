package store

import (
	"context"
	"errors"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

type renewalRow struct {
	Mill      string             `gorm:"primaryKey"`
	Procedure string             `gorm:"primaryKey"`
	Version   int                `gorm:"primaryKey"`
	Doc       procedures.Renewal `gorm:"serializer:json"`
}

func (renewalRow) TableName() string { return "renewals" }

// renewalBody is its author's word on a new version of a procedure, within the
// entry that puts it in force.
type renewalBody struct {
	Substance bool            `json:"substance"`
	Why       record.Personal `json:"why"`
}

func (b *renewalBody) renewal() procedures.Renewal {
	if b == nil {
		return procedures.Renewal{}
	}
	return procedures.Renewal{Said: true, Substance: b.Substance, Why: string(b.Why)}
}

// renewed holds the next version of a procedure against the one in force: its
// author says whether what is done changed, and why. There is nothing to say of
// a first version.
func renewed(tx *Tx, mill checklists.MillID, d Draft, last int, doc string) (*renewalBody, error) {
	if d.Sort != Procedures || last == 0 {
		return nil, nil
	}
	before, err := procedure(tx, mill, procedures.ProcedureID(d.ID), last)
	if err != nil {
		return nil, err
	}
	after, err := read[procedures.Procedure](doc)
	if err != nil {
		return nil, err
	}
	if err := d.Renewal.Validate(procedures.Compare(before, after)); err != nil {
		return nil, err
	}
	return &renewalBody{Substance: d.Renewal.Substance, Why: record.Personal(d.Renewal.Why)}, nil
}

// Renewal loads its author's word on a version of a procedure; the zero one for
// a first version, and for one from before it was asked.
func (m *Mill) Renewal(ctx context.Context, id procedures.ProcedureID, version int) (procedures.Renewal, error) {
	row, err := one[renewalRow](ctxReader{m, ctx}, "renewal", "mill = ? AND procedure = ? AND version = ?", m.id, id, version)
	if errors.Is(err, ErrNotFound) {
		return procedures.Renewal{}, nil
	}
	return row.Doc, err
}

// worded names one version of a procedure.
type worded struct {
	id      procedures.ProcedureID
	version int
}

// wordings are the versions of a procedure, of every one for "", whose author
// said that only words changed.
func wordings(r reader, mill checklists.MillID, id procedures.ProcedureID) (map[worded]bool, error) {
	var rows []renewalRow
	if err := r.gorm().Find(&rows, "mill = ? AND (? = '' OR procedure = ?)", mill, id, id).Error; err != nil {
		return nil, err
	}
	said := map[worded]bool{}
	for _, row := range rows {
		said[worded{procedures.ProcedureID(row.Procedure), row.Version}] = row.Doc.Said && !row.Doc.Substance
	}
	return said, nil
}
