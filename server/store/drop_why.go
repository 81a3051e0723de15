package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/procedures"
)

// Gone is what an entry says was dropped, for the page of what it was dropped from.
type Gone struct {
	Entry int64               // that says so
	By    procedures.PersonID // "" where a policy did
	At    time.Time
	Dropped
	Paths []string // of the entry asked about
	Photo string   // that it names
}

// DroppedFrom says what was dropped of one entry, values before photos.
func (m *Mill) DroppedFrom(ctx context.Context, seq int64) ([]Gone, error) {
	var rows []droppedValueRow
	if err := m.gorm().WithContext(ctx).Order("entry, path").Find(&rows, "mill = ? AND seq = ?", m.id, seq).Error; err != nil {
		return nil, err
	}
	var all []Gone
	for _, row := range rows {
		if n := len(all); n > 0 && all[n-1].Entry == row.Entry {
			all[n-1].Paths = append(all[n-1].Paths, row.Path)
			continue
		}
		gone, err := m.gone(ctx, row.Entry)
		if err != nil {
			return nil, err
		}
		gone.Paths = []string{row.Path}
		all = append(all, gone)
	}
	k := &keeping{r: ctxReader{m, ctx}, mill: m.id}
	row, openings, err := k.entry(seq)
	if err != nil {
		return nil, err
	}
	for _, digest := range photosIn(bodyIn(row, openings)) {
		gone, err := m.PhotoDropped(ctx, digest)
		if errors.Is(err, ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		gone.Photo = digest
		all = append(all, gone)
	}
	return all, nil
}

// PhotoDropped says by which entry a photo was dropped; ErrNotFound where none did.
func (m *Mill) PhotoDropped(ctx context.Context, digest string) (Gone, error) {
	row, err := one[photoRow](ctxReader{m, ctx}, "dropped photo", "mill = ? AND digest = ? AND dropped > 0", m.id, digest)
	if err != nil {
		return Gone{}, err
	}
	return m.gone(ctx, row.Dropped)
}

func (m *Mill) gone(ctx context.Context, seq int64) (Gone, error) {
	e, _, err := m.Leaf(ctx, seq)
	if err != nil {
		return Gone{}, err
	}
	said, ok := e.Body.(Dropped)
	if !ok {
		return Gone{}, ErrNotFound
	}
	return Gone{Entry: seq, By: e.Actor, At: e.At, Dropped: said}, nil
}

// Field is one personal field of an entry, for a supervisor to choose what goes.
type Field struct{ Path, Value string }

// FieldsOf are the personal fields of an entry where something is written, and the
// photos it names that are kept.
func (m *Mill) FieldsOf(ctx context.Context, seq int64) (fields []Field, photos []string, err error) {
	k := &keeping{r: ctxReader{m, ctx}, mill: m.id}
	row, openings, err := k.entry(seq)
	if err != nil || keepSortOf(row.Kind) == "" {
		return nil, nil, err
	}
	for _, o := range openings {
		if o.Value != "" {
			fields = append(fields, Field{o.Path, o.Value})
		}
	}
	for _, digest := range photosIn(bodyIn(row, openings)) {
		switch _, err := m.PhotoDropped(ctx, digest); {
		case errors.Is(err, ErrNotFound):
			photos = append(photos, digest)
		case err != nil:
			return nil, nil, err
		}
	}
	return fields, photos, nil
}
