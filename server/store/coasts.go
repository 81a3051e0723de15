package store

import (
	"context"
	"reflect"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Coast is one measurement of how long something took to stand still, and the
// equipment it is of.
type Coast struct {
	procedures.CoastMeasured
	ID        string                 `json:"id"`
	Equipment procedures.EquipmentID `json:"equipment"`
}

type coastRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Energy string
	At     int64 // when it was measured
	Doc    Coast `gorm:"serializer:json"`
}

func (coastRow) TableName() string { return "coasts" }

type coastBody struct {
	Coast
	How record.Personal `json:"how"`
}

func (*coastBody) kind() (string, int) { return KindCoast, 1 }

func (b *coastBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Equipment}
}

func (b *coastBody) coast() Coast {
	c := b.Coast
	c.How = string(b.How)
	return c
}

func (b *coastBody) project(tx *Tx, e entry) error {
	c := b.coast()
	return tx.add(&coastRow{Mill: e.Mill, ID: c.ID, Energy: string(c.Energy), At: millis(c.CoastMeasured.At), Doc: c})
}

// KeepCoast keeps a measured coast time of something at that equipment, and puts
// the time that follows from all of them into the equipment. Its error is what
// [procedures.CoastMeasured.Enter] refuses, or ErrNotFound where that energy is
// not one of the equipment.
func (m *Mill) KeepCoast(ctx context.Context, submission string, at procedures.EquipmentID, c procedures.CoastMeasured, by procedures.Person, now time.Time) error {
	_, err := m.do(ctx, submission, "coast", now, func(tx *Tx, now time.Time) (string, error) {
		tree, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		crew, err := people(tx, m.id)
		if err != nil {
			return "", err
		}
		kept, err := c.Enter(by, tree, crew, now)
		if err != nil {
			return "", err
		}
		if !tree.Holds(at, kept.Energy) {
			return "", ErrNotFound
		}
		body := &coastBody{Coast: Coast{CoastMeasured: kept, ID: NewID(), Equipment: at}, How: record.Personal(kept.How)}
		if _, err := tx.append(m.id, act{Actor: by.ID, At: now, Happened: kept.At, Subject: string(at)}, body); err != nil {
			return "", err
		}
		history, err := coasts(tx, m.id)
		if err != nil {
			return "", err
		}
		changed := tree.Measured(measurements(history))
		if reflect.DeepEqual(tree, changed) {
			return body.ID, nil
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: now, Subject: string(m.id)}, &plantBody{Plant: changed})
		return body.ID, err
	})
	return err
}

// Coasts lists every measured coast time of the mill, the oldest first.
func (m *Mill) Coasts(ctx context.Context) ([]Coast, error) {
	return coasts(ctxReader{m, ctx}, m.id)
}

func coasts(r reader, mill checklists.MillID) ([]Coast, error) {
	var rows []coastRow
	err := r.gorm().Order("at, id").Find(&rows, "mill = ?", mill).Error
	all := make([]Coast, len(rows))
	for i := range rows {
		all[i] = rows[i].Doc
	}
	return all, err
}

func measurements(history []Coast) []procedures.CoastMeasured {
	all := make([]procedures.CoastMeasured, len(history))
	for i := range history {
		all[i] = history[i].CoastMeasured
	}
	return all
}
