package store

import (
	"context"
	"errors"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

type declarationRow struct {
	Mill      string `gorm:"primaryKey"`
	Equipment string `gorm:"primaryKey"`
	At        int64
	Doc       procedures.Declaration `gorm:"serializer:json"`
}

func (declarationRow) TableName() string { return "declarations" }

type declarationBody struct {
	procedures.Declaration
}

func (*declarationBody) kind() (string, int) { return KindDeclaration, 1 }

func (b *declarationBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Equipment}
}

func (b *declarationBody) project(tx *Tx, e entry) error {
	return tx.put(&declarationRow{Mill: e.Mill, Equipment: string(b.Equipment), At: millis(b.At), Doc: b.Declaration}, "at", "doc")
}

// Declare keeps a supervisor's word on parts 3 and 7 of the exception. Its error
// is what [procedures.Declaration.Sign] refuses.
func (m *Mill) Declare(ctx context.Context, submission string, d procedures.Declaration, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "declaration", at, func(tx *Tx, at time.Time) (string, error) {
		tree, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		signed, err := d.Sign(by, tree, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(signed.Equipment)}, &declarationBody{signed})
		return string(signed.Equipment), err
	})
	return err
}

// Exception computes the eight parts for one piece from all that is kept of it,
// with the declaration that stands, the zero one where nobody made any.
func (m *Mill) Exception(ctx context.Context, id procedures.EquipmentID) ([]procedures.Part, procedures.Declaration, error) {
	r := ctxReader{m, ctx}
	tree, err := plant(r, m.id)
	if err != nil {
		return nil, procedures.Declaration{}, err
	}
	row, err := one[declarationRow](r, "declaration", "mill = ? AND equipment = ?", m.id, id)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, procedures.Declaration{}, err
	}
	kept, err := keptOf(r, m.id, id)
	return procedures.Exception(tree, id, row.Doc.Declared(), kept), row.Doc, err
}

// keptOf is every lockout by a procedure that ever was for the equipment, and
// every start or release reported as unexpected; one at the mill as a whole may
// have been there.
func keptOf(r reader, mill checklists.MillID, id procedures.EquipmentID) (kept procedures.Kept, err error) {
	var versions []publicationRow
	if err := r.gorm().Order("id, version").Find(&versions, "mill = ? AND sort = ?", mill, Procedures).Error; err != nil {
		return kept, err
	}
	var written []string
	for _, row := range versions {
		p, err := read[procedures.Procedure](row.Doc)
		if err != nil {
			return kept, err
		}
		if slices.Contains(p.Equipment, id) && !slices.Contains(written, row.ID) {
			written = append(written, row.ID)
		}
	}
	var lockouts []lockoutRow
	if err := r.gorm().Order("at, id").Find(&lockouts, "mill = ? AND procedure IN ?", mill, written).Error; err != nil {
		return kept, err
	}
	for i := range lockouts {
		kept.Lockouts = append(kept.Lockouts, lockouts[i].Doc)
	}
	var departures []departureRow
	if err := r.gorm().Order("at, id").Find(&departures, "mill = ?", mill).Error; err != nil {
		return kept, err
	}
	for i := range departures {
		d := departures[i].Doc
		if !d.Unexpected {
			continue
		}
		if d.Equipment == "site" {
			d.Equipment = id
		}
		kept.Unexpected = append(kept.Unexpected, procedures.Unexpected{Equipment: d.Equipment, At: d.Happened})
	}
	return kept, nil
}
