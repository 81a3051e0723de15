package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server/record"
)

// GearInspection is one part of a rig looked over: how far (Every names which
// of the inspections it was, as package lift calls them), and whether it may
// stay in use.
type GearInspection struct {
	ID    string              `json:"id"`
	Rig   string              `json:"rig"`
	Link  string              `json:"link"` // the link's id in the rig
	Every string              `json:"every"`
	Fit   bool                `json:"fit"`
	Note  string              `json:"note"`
	Photo string              `json:"photo"` // digest, of the plate or of what was found; "" for none
	By    procedures.PersonID `json:"by"`
	At    time.Time           `json:"at"`
}

// GearMeasurement is one number taken off a part of a rig. What names the
// measure as package lift does; Value and New, the same when the part was new,
// are in metres, degrees for a twist.
type GearMeasurement struct {
	ID    string              `json:"id"`
	Rig   string              `json:"rig"`
	Link  string              `json:"link"`
	What  string              `json:"what"`
	Value float64             `json:"value"`
	New   float64             `json:"new"`
	Note  string              `json:"note"`
	By    procedures.PersonID `json:"by"`
	At    time.Time           `json:"at"`

	// Qualified: whoever measured was recorded as qualified for lifting gear then.
	Qualified bool `json:"qualified,omitzero"`
}

type gearInspectionRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Rig  string
	Link string
	At   int64
	Doc  GearInspection `gorm:"serializer:json"`
}

func (gearInspectionRow) TableName() string { return "gear_inspections" }

type gearMeasurementRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Rig  string
	Link string
	At   int64
	Doc  GearMeasurement `gorm:"serializer:json"`
}

func (gearMeasurementRow) TableName() string { return "gear_measurements" }

type gearInspectedBody struct {
	everywhere
	GearInspection
	Note record.Personal `json:"note"`
}

func (b *gearInspectedBody) inspection() GearInspection {
	in := b.GearInspection
	in.Note = string(b.Note)
	return in
}

func (*gearInspectedBody) kind() (string, int) { return KindGearInspected, 1 }

func (b *gearInspectedBody) project(tx *Tx, e entry) error {
	in := b.inspection()
	return tx.add(&gearInspectionRow{Mill: e.Mill, ID: in.ID, Rig: in.Rig, Link: in.Link, At: millis(in.At), Doc: in})
}

type gearMeasuredBody struct {
	everywhere
	GearMeasurement
	Note record.Personal `json:"note"`
}

func (b *gearMeasuredBody) measurement() GearMeasurement {
	g := b.GearMeasurement
	g.Note = string(b.Note)
	return g
}

func (*gearMeasuredBody) kind() (string, int) { return KindGearMeasured, 1 }

func (b *gearMeasuredBody) project(tx *Tx, e entry) error {
	g := b.measurement()
	return tx.add(&gearMeasurementRow{Mill: e.Mill, ID: g.ID, Rig: g.Rig, Link: g.Link, At: millis(g.At), Doc: g})
}

// rigInForce is the newest version of a rig.
func rigInForce(r reader, mill checklists.MillID, id string) (lift.Rig, error) {
	p, err := published(r, mill, Rigs, id, 0)
	if err != nil {
		return lift.Rig{}, err
	}
	return ReadRig(p.Doc)
}

// linkOf finds a part of a rig; ErrNotFound where it has none of that id.
func linkOf(rig *lift.Rig, id string) (*lift.Link, error) {
	for i := range rig.Links {
		if rig.Links[i].ID == id && id != "" {
			return &rig.Links[i], nil
		}
	}
	return nil, ErrNotFound
}

// KeepGearInspection keeps that a part of a rig in force was inspected;
// thorough: by more than the look before a shift. It refuses what
// [procedures.MayEnterGear] and [lift.Link.MayPass] refuse.
func (m *Mill) KeepGearInspection(ctx context.Context, submission string, in GearInspection, thorough bool, by procedures.Person, at time.Time) (string, error) {
	return m.KeepGearInspections(ctx, submission, []GearInspection{in}, thorough, by, at)
}

// KeepGearInspections is KeepGearInspection for several parts looked over in one
// go, all or none, each as an entry of its own; it returns the id of the last.
func (m *Mill) KeepGearInspections(ctx context.Context, submission string, all []GearInspection, thorough bool, by procedures.Person, at time.Time) (string, error) {
	return m.do(ctx, submission, "gear-inspected", at, func(tx *Tx, at time.Time) (id string, err error) {
		by := by.Now(at)
		if err := tx.ofAge(m.id, by, at, procedures.Hoist); err != nil {
			return "", err
		}
		for _, in := range all {
			if err := procedures.MayEnterGear(by, thorough, in.Fit); err != nil {
				return "", err
			}
			rig, err := rigInForce(tx, m.id, in.Rig)
			if err != nil {
				return "", err
			}
			link, err := linkOf(&rig, in.Link)
			if err != nil {
				return "", err
			}
			if in.Fit {
				if err := link.MayPass(); err != nil {
					return "", err
				}
			}
			in.ID, in.By, in.At = NewID(), by.ID, at
			id = in.ID
			if _, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: in.Rig + "/" + in.Link}, &gearInspectedBody{GearInspection: in, Note: record.Personal(in.Note)}); err != nil {
				return "", err
			}
		}
		return id, nil
	})
}

// KeepGearMeasurement keeps a measurement of a part of a rig in force, with the
// size as new that was entered before where it states none. It refuses what
// [procedures.MayMeasureGear] refuses.
func (m *Mill) KeepGearMeasurement(ctx context.Context, submission string, g GearMeasurement, by procedures.Person, at time.Time) (string, error) {
	return m.do(ctx, submission, "gear-measured", at, func(tx *Tx, at time.Time) (string, error) {
		by := by.Now(at)
		if err := tx.ofAge(m.id, by, at, procedures.Hoist); err != nil {
			return "", err
		}
		rig, err := rigInForce(tx, m.id, g.Rig)
		if err != nil {
			return "", err
		}
		if _, err := linkOf(&rig, g.Link); err != nil {
			return "", err
		}
		known, err := gear(tx, string(m.id), g.Rig)
		if err != nil {
			return "", err
		}
		_, taken := known.Register.Of(&rig)
		asNew := lift.AsNew(taken, g.Link, g.What)
		if err := procedures.MayMeasureGear(by, g.New, asNew); err != nil {
			return "", err
		}
		if g.New == 0 {
			g.New = asNew
		}
		g.ID, g.By, g.At, g.Qualified = NewID(), by.ID, at, by.QualifiedLifting
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: g.Rig + "/" + g.Link}, &gearMeasuredBody{GearMeasurement: g, Note: record.Personal(g.Note)})
		return g.ID, err
	})
}

// Gear is what was entered of the parts of a rig, oldest first, and when the rig
// is known to have been used, in no order; Register has that of the whole mill.
type Gear struct {
	Inspections  []GearInspection
	Measurements []GearMeasurement
	Uses         []time.Time
	Register     lift.Register

	inspections  []GearInspection // of the whole mill
	measurements []GearMeasurement
}

// Gear loads what was entered of the parts of a rig.
func (m *Mill) Gear(ctx context.Context, rig string) (Gear, error) {
	return gear(ctxReader{m, ctx}, string(m.id), rig)
}

// RigVersion is a rig as it stood from a moment on.
type RigVersion struct {
	Rig lift.Rig
	At  time.Time
}

// RigVersions loads every version of a rig, the oldest first; none of a rig
// nobody put in force.
func (m *Mill) RigVersions(ctx context.Context, id string) ([]RigVersion, error) {
	return rigVersions(ctxReader{m, ctx}, m.id, id)
}

func rigVersions(r reader, mill checklists.MillID, id string) ([]RigVersion, error) {
	var rows []publicationRow
	if err := r.gorm().Order("version").Find(&rows, "mill = ? AND sort = ? AND id = ?", mill, Rigs, id).Error; err != nil {
		return nil, err
	}
	all := make([]RigVersion, len(rows))
	for i := range rows {
		rig, err := ReadRig(rows[i].Doc)
		if err != nil {
			return nil, err
		}
		all[i] = RigVersion{Rig: rig, At: timeOf(rows[i].At)}
	}
	return all, nil
}
