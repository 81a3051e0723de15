package store

import (
	"context"
	"encoding/json"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// Lift is a lift as it was judged and kept: what was asked, by which version of
// which rig, and the answer with its reasons. Asked and Verdict are JSON whose
// form the server versions. Holds is JSON too, of what forbade the lift from
// elsewhere in the mill; it may quote a person's own words, so it enters the
// leaf as a commitment and is "" once withheld. So does each of RigTexts, what
// people wrote on the rig, which stands in neither Asked nor Verdict.
type Lift struct {
	ID         string                 `json:"id"`
	Rig        string                 `json:"rig"`
	RigVersion int                    `json:"rig_version"`
	Hoist      procedures.EquipmentID `json:"hoist"`
	LandsOn    procedures.EquipmentID `json:"lands_on"`
	Asked      json.RawMessage        `json:"asked"`
	Verdict    json.RawMessage        `json:"verdict"`
	Holds      string                 `json:"holds"`
	RigTexts   []string               `json:"rig_texts"`
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

// Judged is the answer to a lift as it is kept, with what it was given on.
type Judged struct {
	Asked    json.RawMessage
	RigTexts []string
	Verdict  json.RawMessage
	Holds    string
	Go       bool
}

type liftBody struct {
	Lift
	Holds    record.Personal   `json:"holds"`
	RigTexts []record.Personal `json:"rig_texts"`
}

func newLiftBody(l Lift) *liftBody {
	return &liftBody{Lift: l, Holds: record.Personal(l.Holds), RigTexts: personals(l.RigTexts)}
}

func (b *liftBody) lift() Lift {
	l := b.Lift
	l.Holds, l.RigTexts = string(b.Holds), plainTexts(b.RigTexts)
	return l
}

func (*liftBody) kind() (string, int) { return KindLift, 1 }

func (b *liftBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Hoist, b.LandsOn}
}

func (b *liftBody) project(tx *Tx, e entry) error {
	l := b.lift()
	return tx.add(&liftRow{Mill: e.Mill, ID: l.ID, Rig: l.Rig, Person: string(l.By), Go: l.Go, At: millis(l.At), Doc: l})
}

// LiftFacts is what the mill knows that a lift is judged on.
type LiftFacts struct {
	checklists.Facts
	Gear    Gear // of the lift's rig
	Weighed []Weighed
	Lighter []Lighter
}

// LiftFacts loads what a lift with that rig is judged on.
func (m *Mill) LiftFacts(ctx context.Context, rig string, now time.Time) (LiftFacts, error) {
	facts, err := m.Facts(ctx, now)
	if err != nil {
		return LiftFacts{}, err
	}
	return liftFacts(ctxReader{m, ctx}, string(m.id), rig, facts)
}

func liftFacts(r reader, mill, rig string, facts checklists.Facts) (f LiftFacts, err error) {
	f.Facts = facts
	if f.Gear, err = gear(r, mill, rig); err != nil {
		return f, err
	}
	if f.Weighed, err = weighed(r, mill); err != nil {
		return f, err
	}
	f.Lighter, err = lighters(r, mill)
	return f, err
}

// KeepLift judges a lift once more inside the command, on the facts as they are
// then, and keeps it. judge is the rule.
// ErrChanged: the rig's version is no longer the one in force.
func (m *Mill) KeepLift(ctx context.Context, submission string, l Lift, by procedures.Person, at time.Time,
	judge func(facts LiftFacts) (Judged, error)) (string, error) {
	return m.do(ctx, submission, "lift", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Works() {
			return "", plain.Refuse("", "only somebody of the crew can check a lift; you are signed in to read")
		}
		if err := tx.ofAge(m.id, by, at, procedures.Hoist); err != nil {
			return "", err
		}
		inForce, err := lastVersion(tx, m.id, Rigs, l.Rig)
		if err != nil {
			return "", err
		}
		if inForce == 0 || inForce != l.RigVersion {
			return "", ErrChanged
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		known, err := liftFacts(tx, string(m.id), l.Rig, facts)
		if err != nil {
			return "", err
		}
		judged, err := judge(known)
		if err != nil {
			return "", err
		}
		l.Asked, l.RigTexts, l.Verdict, l.Holds, l.Go = judged.Asked, judged.RigTexts, judged.Verdict, judged.Holds, judged.Go
		l.ID, l.By, l.At = NewID(), by.ID, at
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: l.ID}, newLiftBody(l))
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
