package store

import (
	"context"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// Weighing is what a scale or load cell showed for a kept lift, in kilograms,
// and how much of it was gear. A later weighing of the same lift stands in place
// of the earlier one; both stay on the record.
type Weighing struct {
	ID      string              `json:"id"`
	Lift    string              `json:"lift"`
	Reading float64             `json:"reading"`
	Gear    float64             `json:"gear"`
	Aside   bool                `json:"aside"` // a supervisor put it aside; Note says why
	Note    string              `json:"note"`
	By      procedures.PersonID `json:"by"`
	At      time.Time           `json:"at"`
}

type weighingRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Lift string
	At   int64
	Doc  Weighing `gorm:"serializer:json"`
}

func (weighingRow) TableName() string { return "weighings" }

type weighedBody struct {
	everywhere
	Weighing
	Note record.Personal `json:"note"`
}

func (b *weighedBody) weighing() Weighing {
	w := b.Weighing
	w.Note = string(b.Note)
	return w
}

func (*weighedBody) kind() (string, int) { return KindWeighed, 1 }

func (b *weighedBody) project(tx *Tx, e entry) error {
	w := b.weighing()
	return tx.add(&weighingRow{Mill: e.Mill, ID: w.ID, Lift: w.Lift, At: millis(w.At), Doc: w})
}

// KeepWeighing keeps what a lift weighed. judge is the rule: it is given the
// lift as it was kept. The error is a [plain.Refusal] for somebody not of the
// crew, ErrNotFound for a lift that was never kept, or what judge says.
func (m *Mill) KeepWeighing(ctx context.Context, submission string, w Weighing, by procedures.Person, at time.Time, judge func(Lift) error) (string, error) {
	return m.do(ctx, submission, "lift-weighed", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Works() {
			return "", plain.Refuse("", "only somebody of the crew can enter what a lift weighed; you are signed in to read")
		}
		if w.Aside && !by.Supervises() {
			return "", plain.Refuse("", "only a supervisor can put a weighing aside")
		}
		if err := tx.ofAge(m.id, by, at, procedures.Hoist); err != nil {
			return "", err
		}
		row, err := one[liftRow](tx, "lift", "mill = ? AND id = ?", m.id, w.Lift)
		if err != nil {
			return "", err
		}
		if err := judge(row.Doc); err != nil {
			return "", err
		}
		w.ID, w.By, w.At = NewID(), by.ID, at
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: w.Lift}, &weighedBody{Weighing: w, Note: record.Personal(w.Note)})
		return w.ID, err
	})
}

// Weighed is a lift with what it weighed.
type Weighed struct {
	Weighing Weighing
	Lift     Lift

	reckoned *reckoned
}

// weighingsMost is how many weighings are learned from: the newest, for wood
// from another stand may be other wood.
const weighingsMost = 500

// Weighed lists lifts that were weighed, the newest first, each with its last
// weighing.
func (m *Mill) Weighed(ctx context.Context) ([]Weighed, error) {
	return readWeighed(ctxReader{m, ctx}, string(m.id))
}

// weighed are those of Weighed, kept in memory for as long as no further one is
// entered.
func weighed(r reader, mill string) ([]Weighed, error) {
	kept := func(s *lasting) map[string]lastingRows[Weighed] { return s.weighed }
	return lastingIn(r, mill, weighingRow{}.TableName(), kept, func() ([]Weighed, error) { return readWeighed(r, mill) })
}

func readWeighed(r reader, mill string) ([]Weighed, error) {
	var rows []weighingRow
	err := r.gorm().Order("at DESC, id DESC").Limit(weighingsMost).Find(&rows, `mill = ? AND NOT EXISTS (SELECT 1 FROM weighings AS later
		WHERE later.mill = ? AND later.lift = weighings.lift AND (later.at > weighings.at OR later.at = weighings.at AND later.id > weighings.id))`, mill, mill).Error
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	of := make([]string, len(rows))
	for i := range rows {
		of[i] = rows[i].Lift
	}
	var lifts []liftRow
	err = r.gorm().Find(&lifts, "mill = ? AND id IN ?", mill, of).Error
	byID := make(map[string]Lift, len(lifts))
	for i := range lifts {
		byID[lifts[i].ID] = lifts[i].Doc
	}
	all := make([]Weighed, 0, len(rows))
	for i := range rows {
		all = append(all, Weighed{Weighing: rows[i].Doc, Lift: byID[rows[i].Lift], reckoned: new(reckoned)})
	}
	return all, err
}
