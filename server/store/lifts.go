package store

import (
	"context"
	"encoding/json"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// Lift is a lift as it was judged and kept: what was asked, by which rig, and
// the answer with its reasons. Piece and Verdict are JSON of package lift's types.
type Lift struct {
	ID         string                 `json:"id"`
	Rig        string                 `json:"rig"`
	RigVersion int                    `json:"rig_version"`
	Hoist      procedures.EquipmentID `json:"hoist"`
	LandsOn    procedures.EquipmentID `json:"lands_on"`
	Asked      json.RawMessage        `json:"asked"`
	Verdict    json.RawMessage        `json:"verdict"`
	Go         bool                   `json:"go"`
	By         procedures.PersonID    `json:"by"`
	At         time.Time              `json:"at"`
}

type liftRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Rig    string
	Person string
	Go     bool
	At     int64
	Doc    Lift `gorm:"serializer:json"`
}

func (liftRow) TableName() string { return "lifts" }

type liftBody struct {
	Lift
}

func (*liftBody) kind() (string, int) { return KindLift, 1 }

func (b *liftBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Hoist, b.LandsOn}
}

func (b *liftBody) project(tx *Tx, e entry) error {
	l := b.Lift
	return tx.db.Create(&liftRow{Mill: e.Mill, ID: l.ID, Rig: l.Rig, Person: string(l.By), Go: l.Go, At: millis(l.At), Doc: l}).Error
}

// KeepLift judges a lift once more inside the command, on the facts as they are
// then, and keeps it. judge is the rule; it is given what forbids a lift now.
func (m *Mill) KeepLift(ctx context.Context, submission string, l Lift, by procedures.Person, at time.Time,
	judge func(facts checklists.Facts) (verdict json.RawMessage, goes bool, err error)) (string, error) {
	return m.do(ctx, submission, "lift", at, func(tx *Tx) (string, error) {
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		if l.Verdict, l.Go, err = judge(facts); err != nil {
			return "", err
		}
		l.ID, l.By, l.At = NewID(), by.ID, at
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: l.ID}, &liftBody{Lift: l})
		return l.ID, err
	})
}

// Lift loads one kept lift.
func (m *Mill) Lift(ctx context.Context, id string) (Lift, error) {
	row, err := one[liftRow](ctxReader{m, ctx}, "lift", "mill = ? AND id = ?", m.id, id)
	return row.Doc, err
}

// Lifts lists kept lifts, newest first.
func (m *Mill) Lifts(ctx context.Context, limit int) ([]Lift, error) {
	var rows []liftRow
	err := m.gorm().WithContext(ctx).Order("at DESC, id DESC").Limit(limit).Find(&rows, "mill = ?", m.id).Error
	lifts := make([]Lift, len(rows))
	for i := range rows {
		lifts[i] = rows[i].Doc
	}
	return lifts, err
}
