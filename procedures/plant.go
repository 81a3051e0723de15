package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// Find returns the equipment of that id.
func (p Plant) Find(id EquipmentID) (Equipment, bool) {
	for _, e := range p {
		if e.ID == id {
			return e, true
		}
	}
	return Equipment{}, false
}

// Parts returns the direct parts of id, in the plant's order.
func (p Plant) Parts(id EquipmentID) []EquipmentID {
	var parts []EquipmentID
	for _, e := range p {
		if e.PartOf == id && e.ID != id && id != "" {
			parts = append(parts, e.ID)
		}
	}
	return parts
}

// ReachedByLockout returns what may not run while somebody services id, in the
// plant's order: id; its parts and what it is part of; whatever drives or
// supplies these, however far back, since it can move or feed them; what all
// of that drives, supplies or consists of, since it can't run meanwhile and
// turns its driver when moved by hand; and what lands loads on id, its parts or
// its whole, where the person stands. The site is never reached, and a lockout
// of the site, or of something the plant doesn't know, reaches everything.
func (p Plant) ReachedByLockout(id EquipmentID) []EquipmentID {
	if p.coversAll(id) {
		return p.all(id)
	}
	carrying := p.close(p.close([]EquipmentID{id}, p.Parts), p.whole)
	reached := p.close(p.close(carrying, p.before), p.after)
	for _, e := range p {
		for _, link := range e.Links {
			if link.Kind == LandsOn && slices.Contains(carrying, link.To) {
				reached = append(reached, e.ID)
			}
		}
	}
	return p.ordered(reached)
}

// ReachedByStop returns what may not run while a stop defect stands on id, in
// the plant's order: id; its parts and what it is part of; and what these drive
// or supply, however far on, since it would run on a thing that is broken. What
// drives id may run without it, and so may what lands on it; whether a load may
// be set down there is asked when it is lifted. A stop on the site, or on
// something the plant doesn't know, reaches everything.
func (p Plant) ReachedByStop(id EquipmentID) []EquipmentID {
	if p.coversAll(id) {
		return p.all(id)
	}
	return p.ordered(p.close([]EquipmentID{id}, p.after))
}

// before returns what directly acts on id: what drives or supplies it or what
// it is part of.
func (p Plant) before(id EquipmentID) []EquipmentID {
	from := p.whole(id)
	for _, e := range p {
		for _, link := range e.Links {
			if link.Kind != LandsOn && link.To == id {
				from = append(from, e.ID)
			}
		}
	}
	return from
}

// after returns what directly can't run without id: what it drives or
// supplies, its parts, and the whole that lacks it.
func (p Plant) after(id EquipmentID) []EquipmentID {
	to := append(p.whole(id), p.Parts(id)...)
	e, _ := p.Find(id)
	for _, link := range e.Links {
		if link.Kind != LandsOn {
			to = append(to, link.To)
		}
	}
	return to
}

// whole returns what id is part of, unless that is the site.
func (p Plant) whole(id EquipmentID) []EquipmentID {
	e, _ := p.Find(id)
	if whole, known := p.Find(e.PartOf); known && whole.Kind != Site {
		return []EquipmentID{whole.ID}
	}
	return nil
}

// close adds to from all that next leads to.
func (p Plant) close(from []EquipmentID, next func(EquipmentID) []EquipmentID) []EquipmentID {
	reached := slices.Clone(from)
	for i := 0; i < len(reached); i++ {
		for _, id := range next(reached[i]) {
			if e, known := p.Find(id); known && e.Kind != Site && !slices.Contains(reached, id) {
				reached = append(reached, id)
			}
		}
	}
	return reached
}

// coversAll tells whether id is the site or unknown.
func (p Plant) coversAll(id EquipmentID) bool {
	e, known := p.Find(id)
	return !known || e.Kind == Site
}

// all returns the whole plant, and id should the plant not know it.
func (p Plant) all(id EquipmentID) []EquipmentID {
	var every []EquipmentID
	for _, e := range p {
		every = append(every, e.ID)
	}
	if !slices.Contains(every, id) {
		every = append(every, id)
	}
	return every
}

// ordered returns the plant's ids that are in reached, once each.
func (p Plant) ordered(reached []EquipmentID) []EquipmentID {
	var in []EquipmentID
	for _, e := range p {
		if slices.Contains(reached, e.ID) && !slices.Contains(in, e.ID) {
			in = append(in, e.ID)
		}
	}
	return in
}

// Validate returns nil or a [plain.Problems]: one site, and first; ids once
// each; every part under something without going in a circle; links and cuts
// that point at something; nothing that drives itself by way of others.
func (p Plant) Validate() error {
	var bad plain.Problems
	bad.Unless(len(p) > 0 && p[0].Kind == Site && p[0].PartOf == "", "site", "the site first, part of nothing")
	ids, energies, devices := map[EquipmentID]bool{}, map[EnergyID]bool{}, map[DeviceID]bool{}
	for _, e := range p {
		for _, energy := range e.Energies {
			bad.Unless(energy.ID != "" && !energies[energy.ID], string(e.ID)+" energy "+string(energy.ID), "its own name, once in the plant")
			bad.Unless(energy.Kind.known(), string(e.ID)+" energy "+string(energy.ID), "a kind from the list")
			bad.Unless(energy.Coast >= 0, string(e.ID)+" energy "+string(energy.ID), "a coast time of nothing or more")
			energies[energy.ID] = true
		}
	}
	for i, e := range p {
		field := string(e.ID)
		bad.Unless(e.ID != "" && !ids[e.ID], field, "its own name, once in the plant")
		ids[e.ID] = true
		bad.Unless(!blank(e.Name), field, "give it a name")
		bad.Unless(e.Kind.known() && (e.Kind == Site) == (i == 0), field, "a kind from the list, the site once only")
		p.checkPlace(&bad, e)
		bad.At(field, e.checkTrack())
		for _, d := range e.Devices {
			checkDevice(&bad, field, d, devices, energies)
		}
	}
	return bad.Err()
}

// checkPlace asks that e is under the site and that its links lead somewhere.
func (p Plant) checkPlace(bad *plain.Problems, e Equipment) {
	field := string(e.ID)
	if e.Kind != Site {
		above, known := p.Find(e.PartOf)
		for steps := 0; known && above.Kind != Site && steps < len(p); steps++ {
			above, known = p.Find(above.PartOf)
		}
		bad.Unless(known && above.Kind == Site, field, "part of the site or of something under it")
	}
	for _, link := range e.Links {
		to, known := p.Find(link.To)
		bad.Unless(known && to.Kind != Site && to.ID != e.ID, field, "links to other equipment of this plant")
		bad.Unless(link.Kind == Drives || link.Kind == Supplies || link.Kind == LandsOn, field, "a kind of link from the list")
	}
	drivenFrom := func(id EquipmentID) []EquipmentID {
		var to []EquipmentID
		from, _ := p.Find(id)
		for _, link := range from.Links {
			if link.Kind == Drives {
				to = append(to, link.To)
			}
		}
		return to
	}
	bad.Unless(!slices.Contains(p.close(drivenFrom(e.ID), drivenFrom), e.ID), field, "not to drive itself by way of others")
}

func checkDevice(bad *plain.Problems, field string, d Device, devices map[DeviceID]bool, energies map[EnergyID]bool) {
	field += " device " + string(d.ID)
	bad.Unless(d.ID != "" && !devices[d.ID], field, "its own name, once in the plant")
	devices[d.ID] = true
	if _, err := ParseDeviceKind(string(d.Kind)); err != nil {
		bad.Add(field, err)
	}
	bad.Unless(len(d.Cuts) > 0, field, "the energies it keeps away")
	for _, id := range d.Cuts {
		bad.Unless(energies[id], field, "energies of this plant")
	}
}

func (k EquipmentKind) known() bool {
	switch k {
	case Site, HeadSaw, Carriage, DogsAndKnees, Hoist, DustCollection, OffBearing, Supply:
		return true
	default:
		return false
	}
}

func (k EnergyKind) known() bool {
	switch k {
	case Electrical, Rotation, Moving, Gravity, Spring, Hydraulic, Pneumatic, Engine, Shaft, Thermal, Strain, Chemical:
		return true
	default:
		return false
	}
}
