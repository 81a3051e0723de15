package store

import (
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
)

// Registered is the rig with all that the register says of its parts.
func (g Gear) Registered(rig lift.Rig, now time.Time) lift.Rig { return rig.By(g.Register, now) }

// Of is what was entered of one part of the rig, oldest first: with the rig, with
// another that has the same part, or under another id.
func (g Gear) Of(rig *lift.Rig, link string) (inspections []GearInspection, measurements []GearMeasurement) {
	type entry struct{ rig, link string }
	own := map[entry]bool{{rig.ID, link}: true}
	for _, one := range rig.Shared(g.Register.Versions) {
		if one.Link == link {
			own[entry{one.Rig, one.As}] = true
		}
	}
	for _, in := range g.inspections {
		if own[entry{in.Rig, in.Link}] {
			inspections = append(inspections, in)
		}
	}
	for _, m := range g.measurements {
		if own[entry{m.Rig, m.Link}] {
			measurements = append(measurements, m)
		}
	}
	return inspections, measurements
}

// Also are the rigs in force that have the part too, by name.
func (g Gear) Also(rig *lift.Rig, link string) (names []string) {
	for _, one := range rig.Shared(g.Register.Versions) {
		for _, version := range g.Register.Versions {
			if one.Link == link && one.Rig == version.Rig.ID && version.InForce && one.Rig != rig.ID && !slices.Contains(names, version.Rig.Name) &&
				slices.ContainsFunc(version.Rig.Links, func(l lift.Link) bool { return l.ID == one.As }) {
				names = append(names, version.Rig.Name)
			}
		}
	}
	return names
}

func (in GearInspection) looked() lift.Looked {
	every, err := lift.ParseEvery(in.Every)
	if err != nil {
		every = lift.EveryUnknown // of a later Stillsaw: it passes nothing, and not fit is not fit
	}
	return lift.Looked{Rig: in.Rig, Link: in.Link, Every: every, Fit: in.Fit && every != lift.EveryUnknown, At: in.At}
}

// Taken is the measurement as the rules read it.
func (m GearMeasurement) Taken() lift.Taken {
	return lift.Taken{Rig: m.Rig, Link: m.Link, What: m.What, Value: m.Value, New: m.New, At: m.At, Qualified: m.Qualified}
}

// gear is what the mill knows of its gear, with what was entered with one rig
// apart.
func gear(r reader, mill, rig string) (g Gear, err error) {
	g.inspections, err = lastingIn(r, mill, gearInspectionRow{}.TableName(), func(s *lasting) map[string]lastingRows[GearInspection] { return s.inspections }, func() ([]GearInspection, error) {
		return docsOf(r.gorm(), mill, func(row gearInspectionRow) GearInspection { return row.Doc })
	})
	if err != nil {
		return g, err
	}
	g.measurements, err = lastingIn(r, mill, gearMeasurementRow{}.TableName(), func(s *lasting) map[string]lastingRows[GearMeasurement] { return s.measurements }, func() ([]GearMeasurement, error) {
		return docsOf(r.gorm(), mill, func(row gearMeasurementRow) GearMeasurement { return row.Doc })
	})
	if err != nil {
		return g, err
	}
	for _, in := range g.inspections {
		g.Register.Looked = append(g.Register.Looked, in.looked())
		if in.Rig == rig {
			g.Inspections = append(g.Inspections, in)
		}
	}
	for _, m := range g.measurements {
		g.Register.Taken = append(g.Register.Taken, m.Taken())
		if m.Rig == rig {
			g.Measurements = append(g.Measurements, m)
		}
	}
	if g.Register.Versions, err = allVersions(r, checklists.MillID(mill)); err != nil {
		return g, err
	}
	g.Register.Uses = map[string][]time.Time{}
	for _, version := range g.Register.Versions {
		if id := version.Rig.ID; version.InForce {
			if g.Register.Uses[id], err = uses(r, mill, id); err != nil {
				return g, err
			}
		}
	}
	g.Uses = g.Register.Uses[rig]
	return g, nil
}

// allVersions are all versions of all rigs of the mill, each rig's oldest first.
func allVersions(r reader, mill checklists.MillID) ([]lift.Version, error) {
	var rows []publicationRow
	if err := r.gorm().Order("id, version").Find(&rows, "mill = ? AND sort = ?", mill, Rigs).Error; err != nil {
		return nil, err
	}
	all := make([]lift.Version, len(rows))
	for i := range rows {
		rig, err := ReadRig(rows[i].Doc)
		if err != nil {
			return nil, err
		}
		rig.ID = rows[i].ID // what entries name it by
		all[i] = lift.Version{Rig: rig, InForce: i+1 == len(rows) || rows[i+1].ID != rows[i].ID}
	}
	return all, nil
}
