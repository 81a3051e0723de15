package store

import (
	"context"
	"time"

	"stillsaw/procedures"
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
	return tx.db.Create(&gearInspectionRow{Mill: e.Mill, ID: in.ID, Rig: in.Rig, Link: in.Link, At: millis(in.At), Doc: in}).Error
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
	return tx.db.Create(&gearMeasurementRow{Mill: e.Mill, ID: g.ID, Rig: g.Rig, Link: g.Link, At: millis(g.At), Doc: g}).Error
}

// linkInForce refuses what is about a part that no rig in force has.
func (m *Mill) linkInForce(tx *Tx, rig, link string) error {
	p, err := published(tx, m.id, Rigs, rig, 0)
	if err != nil {
		return err
	}
	r, err := ReadRig(p.Doc)
	if err != nil {
		return err
	}
	for i := range r.Links {
		if r.Links[i].ID == link && link != "" {
			return nil
		}
	}
	return ErrNotFound
}

// KeepGearInspection keeps that a part of a rig in force was inspected;
// thorough: by more than the look before a shift. It refuses what
// [procedures.MayEnterGear] refuses.
func (m *Mill) KeepGearInspection(ctx context.Context, submission string, in GearInspection, thorough bool, by procedures.Person, at time.Time) (string, error) {
	return m.do(ctx, submission, "gear-inspected", at, func(tx *Tx, at time.Time) (string, error) {
		if err := procedures.MayEnterGear(by, thorough, in.Fit); err != nil {
			return "", err
		}
		if err := m.linkInForce(tx, in.Rig, in.Link); err != nil {
			return "", err
		}
		in.ID, in.By, in.At = NewID(), by.ID, at
		_, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: in.Rig + "/" + in.Link}, &gearInspectedBody{GearInspection: in, Note: record.Personal(in.Note)})
		return in.ID, err
	})
}

// KeepGearMeasurement keeps a measurement of a part of a rig in force.
func (m *Mill) KeepGearMeasurement(ctx context.Context, submission string, g GearMeasurement, by procedures.Person, at time.Time) (string, error) {
	return m.do(ctx, submission, "gear-measured", at, func(tx *Tx, at time.Time) (string, error) {
		if err := procedures.MayEnterGear(by, false, true); err != nil {
			return "", err
		}
		if err := m.linkInForce(tx, g.Rig, g.Link); err != nil {
			return "", err
		}
		g.ID, g.By, g.At = NewID(), by.ID, at
		_, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: g.Rig + "/" + g.Link}, &gearMeasuredBody{GearMeasurement: g, Note: record.Personal(g.Note)})
		return g.ID, err
	})
}

// Gear is what was entered of the parts of rigs, oldest first.
type Gear struct {
	Inspections  []GearInspection
	Measurements []GearMeasurement
}

// Of is what of it is about one part.
func (g Gear) Of(rig, link string) Gear {
	var part Gear
	for _, in := range g.Inspections {
		if in.Rig == rig && in.Link == link {
			part.Inspections = append(part.Inspections, in)
		}
	}
	for _, m := range g.Measurements {
		if m.Rig == rig && m.Link == link {
			part.Measurements = append(part.Measurements, m)
		}
	}
	return part
}

// OfRig is what of it is about one rig.
func (g Gear) OfRig(rig string) Gear {
	var part Gear
	for _, in := range g.Inspections {
		if in.Rig == rig {
			part.Inspections = append(part.Inspections, in)
		}
	}
	for _, m := range g.Measurements {
		if m.Rig == rig {
			part.Measurements = append(part.Measurements, m)
		}
	}
	return part
}

// Gear loads what was entered of the parts of a rig, of every rig for "".
func (m *Mill) Gear(ctx context.Context, rig string) (Gear, error) {
	return gear(ctxReader{m, ctx}, string(m.id), rig)
}

func gear(r reader, mill, rig string) (Gear, error) {
	var g Gear
	var inspections []gearInspectionRow
	if err := r.gorm().Order("at, id").Find(&inspections, "mill = ? AND (? = '' OR rig = ?)", mill, rig, rig).Error; err != nil {
		return g, err
	}
	var measurements []gearMeasurementRow
	if err := r.gorm().Order("at, id").Find(&measurements, "mill = ? AND (? = '' OR rig = ?)", mill, rig, rig).Error; err != nil {
		return g, err
	}
	for i := range inspections {
		g.Inspections = append(g.Inspections, inspections[i].Doc)
	}
	for i := range measurements {
		g.Measurements = append(g.Measurements, measurements[i].Doc)
	}
	return g, nil
}
