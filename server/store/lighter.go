package store

import (
	"context"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
)

// Lighter is a supervisor's word that the upper weight of a kind of wood in one
// condition may, by what the scale showed, lie below the published mean; or,
// not Allowed, that it may no more. The last word on it stands.
type Lighter struct {
	Kind      string              `json:"kind"` // scientific name
	Condition lift.Condition      `json:"condition"`
	Allowed   bool                `json:"allowed"`
	Readings  int                 `json:"readings"` // counted when it was signed
	By        procedures.PersonID `json:"by"`
	At        time.Time           `json:"at"`
}

type lighterRow struct {
	Mill      string `gorm:"primaryKey"`
	Kind      string `gorm:"primaryKey"`
	Condition string `gorm:"primaryKey"`
	At        int64
	Doc       Lighter `gorm:"serializer:json"`
}

func (lighterRow) TableName() string { return "lighter" }

type lighterBody struct {
	everywhere
	Lighter
}

func (*lighterBody) kind() (string, int) { return KindLighter, 1 }

func (b *lighterBody) project(tx *Tx, e entry) error {
	return tx.put(&lighterRow{Mill: e.Mill, Kind: b.Kind, Condition: b.Condition.String(), At: millis(b.At), Doc: b.Lighter}, "at", "doc")
}

// SignLighter keeps a supervisor's word on a kind of wood in one condition.
// learn is what the readings that stand show of it. It refuses what
// [procedures.MaySignLighter] refuses.
func (m *Mill) SignLighter(ctx context.Context, submission string, l Lighter, by procedures.Person, at time.Time, learn func([]Weighed) (lift.Learned, error)) error {
	_, err := m.do(ctx, submission, "lighter", at, func(tx *Tx, at time.Time) (string, error) {
		kept, err := weighed(tx, string(m.id))
		if err != nil {
			return "", err
		}
		learned, err := learn(kept)
		if err != nil {
			return "", err
		}
		kind, _ := lift.FindSpecies(l.Kind)
		if err := procedures.MaySignLighter(by, kind, l.Condition, learned, l.Allowed); err != nil {
			return "", err
		}
		l.Readings, l.By, l.At = learned.N, by.ID, at
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: l.Kind}, &lighterBody{Lighter: l})
		return l.Kind, err
	})
	return err
}

// Lighters lists the last word on each kind of wood and condition.
func (m *Mill) Lighters(ctx context.Context) ([]Lighter, error) {
	return lighters(ctxReader{m, ctx}, string(m.id))
}

func lighters(r reader, mill string) ([]Lighter, error) {
	var rows []lighterRow
	err := r.gorm().Order("kind, condition").Find(&rows, "mill = ?", mill).Error
	all := make([]Lighter, len(rows))
	for i := range rows {
		all[i] = rows[i].Doc
	}
	return all, err
}
