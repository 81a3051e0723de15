package server

import (
	"net/url"
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func weighingSaid(w store.Weighing) plain.Sentence {
	if w.Aside {
		return plain.Say("A reading of the scale put aside: %s", w.Note)
	}
	return plain.Say("A lift weighed: the scale showed %[1]s, %[2]s of it gear.", plain.Kilograms(w.Reading), plain.Kilograms(w.Gear))
}

func lighterSaid(l store.Lighter) plain.Sentence {
	name := lift.Wood(l.Kind)
	if s, ok := lift.FindSpecies(l.Kind); ok {
		name = lift.Wood(s.Common)
	}
	if l.Allowed {
		return plain.Say("%[1]s, %[2]s: by %[3]d readings of the scale the upper weight may lie below the published mean.", name, conditionSaid(l.Condition), l.Readings)
	}
	return plain.Say("%[1]s, %[2]s: the upper weight may lie below the published mean no more.", name, conditionSaid(l.Condition))
}

func conditionSaid(c lift.Condition) plain.Sentence {
	switch c {
	case lift.Green:
		return plain.Say("green")
	case lift.PartDry:
		return plain.Say("part dry")
	case lift.AirDry:
		return plain.Say("air-dry")
	case lift.MeasuredMoisture:
		return plain.Say("moisture measured")
	case lift.Soaked:
		return plain.Say("soaked through")
	}
	return plain.Say("wetness not known")
}

// rigsOf loads the rigs that entries about gear name, in all their versions.
func (v *visit) rigsOf(entries []store.Entry) (map[string][]store.RigVersion, error) {
	rigs := map[string][]store.RigVersion{}
	for _, e := range entries {
		id := ""
		switch body := e.Body.(type) {
		case store.GearInspection:
			id = body.Rig
		case store.GearMeasurement:
			id = body.Rig
		}
		if _, known := rigs[id]; known || id == "" {
			continue
		}
		versions, err := v.desk.RigVersions(v.ctx(), id)
		if err != nil {
			return nil, err
		}
		rigs[id] = versions
	}
	return rigs, nil
}

// part names a part and its rig as they stood at that time.
func (t teller) part(rig, link string, at time.Time) (part, of plain.Sentence) {
	part, of = plain.Say("A part no longer there"), plain.Say("no longer there")
	for _, version := range t.rigs[rig] {
		if version.At.After(at) {
			break
		}
		of = plain.Say("%s", version.Rig.Name)
		for i := range version.Rig.Links {
			if version.Rig.Links[i].ID == link {
				part = plain.Say("%s", version.Rig.Links[i].Name)
			}
		}
	}
	return part, of
}

func (t teller) gearInspection(in store.GearInspection) plain.Sentence {
	part, of := t.part(in.Rig, in.Link, in.At)
	if in.Fit {
		return plain.Say("%[1]s of the rig %[2]s inspected and passed.", part, of)
	}
	return plain.Say("%[1]s of the rig %[2]s inspected and not fit: %[3]s", part, of, in.Note)
}

func (t teller) gearMeasurement(m store.GearMeasurement) plain.Sentence {
	part, of := t.part(m.Rig, m.Link, m.At)
	return plain.Say("%[1]s of the rig %[2]s measured.", part, of)
}

// gearPath is the page of one part of a rig.
func gearPath(rig, link string) string {
	return "/gear/" + url.PathEscape(rig) + "/" + url.PathEscape(link)
}
