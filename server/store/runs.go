package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// LiftOfRun is a further piece lifted on a check kept before, with what was
// answered at the hook. Go is false where an answer was not yes: that is kept
// too.
type LiftOfRun struct {
	ID        string                 `json:"id"`
	Lift      string                 `json:"lift"` // the kept lift whose check it went by
	Hoist     procedures.EquipmentID `json:"hoist"`
	LandsOn   procedures.EquipmentID `json:"lands_on"`
	Alike     lift.Answer            `json:"alike"` // whether the piece is one the check covers
	Questions lift.Questions         `json:"questions"`
	Go        bool                   `json:"go"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"`

	AsSet lift.Answer `json:"as_set,omitzero"` // whether yoke and legs are set as the check was given for; not asked of every rig
}

type liftOfRunRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Lift string
	Go   bool
	At   int64
	Doc  LiftOfRun `gorm:"serializer:json"`
}

func (liftOfRunRow) TableName() string { return "lift_runs" }

type liftOfRunBody struct{ LiftOfRun }

func (*liftOfRunBody) kind() (string, int) { return KindLiftOfRun, 1 }

func (b *liftOfRunBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Hoist, b.LandsOn}
}

func (b *liftOfRunBody) project(tx *Tx, e entry) error {
	return tx.add(&liftOfRunRow{Mill: e.Mill, ID: b.ID, Lift: b.Lift, Go: b.Go, At: millis(b.At), Doc: b.LiftOfRun})
}

// Since is what the mill knows now of what a kept lift was answered on.
type Since struct {
	LiftFacts
	Version  int                 // of its rig, in force
	Found    []checklists.Defect // of its hoist and the hoist's parts, open or returned, by time
	Readings []Weighing          // all that the scale showed of it, by time
}

// Since loads what tells whether the answers to kept lifts still stand, by the
// lift's id, all as of one moment.
func (m *Mill) Since(ctx context.Context, now time.Time, lifts ...Lift) (since map[string]Since, err error) {
	since = make(map[string]Since, len(lifts))
	err = m.asOne(ctx, func(tx *Tx) error {
		facts, err := tx.facts(m.id, now)
		if err != nil {
			return err
		}
		for _, l := range lifts {
			if since[l.ID], err = tx.since(m.id, facts, l); err != nil {
				return err
			}
		}
		return nil
	})
	return since, err
}

func (tx *Tx) since(mill checklists.MillID, facts checklists.Facts, l Lift) (s Since, err error) {
	if s.LiftFacts, err = liftFacts(tx, string(mill), l.Rig, facts); err != nil {
		return s, err
	}
	var read []weighingRow
	if err = tx.gorm().Order("at, id").Find(&read, "mill = ? AND lift = ?", mill, l.ID).Error; err != nil {
		return s, err
	}
	for i := range read {
		s.Readings = append(s.Readings, read[i].Doc)
	}
	if s.Version, err = lastVersion(tx, mill, Rigs, l.Rig); err != nil {
		return s, err
	}
	on := append(facts.Plant.Parts(l.Hoist), l.Hoist)
	var rows []defectRow
	if err = tx.gorm().Order("at, id").Find(&rows, "mill = ? AND equipment IN ?", mill, on).Error; err != nil {
		return s, err
	}
	for _, row := range rows {
		s.Found = append(s.Found, row.Doc)
	}
	return s, nil
}

// KeepLiftOfRun keeps a further piece lifted on a kept check. judge is the rule:
// whether it may be lifted, or a [plain.Refusal] where the check stands no more
// and nothing is kept. Of r the lift and the answers count.
func (m *Mill) KeepLiftOfRun(ctx context.Context, submission string, r LiftOfRun, by procedures.Person, at time.Time, judge func(Lift, Since) (bool, error)) (string, error) {
	return m.do(ctx, submission, "lift-of-run", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Works() {
			return "", plain.Refuse("", "only somebody of the crew can check a lift; you are signed in to read")
		}
		if err := tx.ofAge(m.id, by, at, procedures.Hoist); err != nil {
			return "", err
		}
		row, err := one[liftRow](tx, "lift", "mill = ? AND id = ?", m.id, r.Lift)
		if err != nil {
			return "", err
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		since, err := tx.since(m.id, facts, row.Doc)
		if err != nil {
			return "", err
		}
		if r.Go, err = judge(row.Doc, since); err != nil {
			return "", err
		}
		r.ID, r.By, r.At, r.Hoist, r.LandsOn = NewID(), by.ID, at, row.Doc.Hoist, row.Doc.LandsOn
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: r.Lift}, &liftOfRunBody{r})
		return r.ID, err
	})
}

// Run lists the further pieces lifted on a kept check, oldest first.
func (m *Mill) Run(ctx context.Context, lift string) ([]LiftOfRun, error) {
	var rows []liftOfRunRow
	err := m.gorm().WithContext(ctx).Order("at, id").Find(&rows, "mill = ? AND lift = ?", m.id, lift).Error
	run := make([]LiftOfRun, len(rows))
	for i := range rows {
		run[i] = rows[i].Doc
	}
	return run, err
}

// ReportShockLoad holds a hoist after a shock load until its gear was inspected;
// [checklists.Shocked] is the rule.
func (m *Mill) ReportShockLoad(ctx context.Context, submission string, hoist procedures.EquipmentID, by procedures.Person, at time.Time) (checklists.DefectID, error) {
	id, err := m.do(ctx, submission, "shock-load", at, func(tx *Tx, at time.Time) (string, error) {
		known, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		d, err := checklists.Shocked(checklists.DefectID(NewID()), hoist, by, known, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(d.ID)}, &defectBody{newDefectPart(d)})
		return string(d.ID), err
	})
	return checklists.DefectID(id), err
}
