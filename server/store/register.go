package store

import (
	"context"
	"fmt"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// EditRegister changes energies, devices or affected people of one piece, or is
// ErrChanged when that piece was changed since the form was shown. change is the
// domain's rule, run on the plant as it stands in the transaction.
func (m *Mill) EditRegister(ctx context.Context, submission, seen string, id procedures.EquipmentID, by procedures.Person, at time.Time,
	change func(procedures.Plant) (procedures.Plant, error)) error {
	return m.editPlant(ctx, submission, by, at, func(_ *Tx, p procedures.Plant) (procedures.Plant, error) {
		e, known := p.Find(id)
		if !known {
			return nil, ErrNotFound
		}
		if Mark(e) != seen {
			return nil, ErrChanged
		}
		return change(p)
	})
}

// Affected loads who runs each piece of equipment or works where it is serviced.
func (m *Mill) Affected(ctx context.Context) ([]procedures.Affected, error) {
	return affected(ctxReader{m, ctx}, m.id)
}

func affected(r reader, mill checklists.MillID) ([]procedures.Affected, error) {
	tree, err := plant(r, mill)
	if err != nil {
		return nil, err
	}
	crew, err := people(r, mill)
	if err != nil {
		return nil, err
	}
	said, err := program(r, mill)
	return tree.AffectedPeople(said.Affected, crew), err
}

// PhotoSize is width and height of a picture that is kept, in pixels.
func (m *Mill) PhotoSize(ctx context.Context, digest string) (width, height int, err error) {
	var rows []photoRow // without the picture itself
	found := m.gorm().WithContext(ctx).Select("width", "height").Limit(1).Find(&rows, "mill = ? AND digest = ?", m.id, digest)
	switch {
	case found.Error != nil:
		return 0, 0, found.Error
	case len(rows) == 0:
		return 0, 0, fmt.Errorf("photo: %w", ErrNotFound)
	}
	return rows[0].Width, rows[0].Height, nil
}
