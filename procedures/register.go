package procedures

import (
	"math"
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// leastRecheck bounds how often an energy can be asked to be proven again.
// Common practice, no source: shorter, and nobody gets anything done between.
const leastRecheck = time.Minute

// energyAsked is an energy to be kept at a piece of a plant.
type energyAsked struct {
	plant Plant
	at    EquipmentID
	e     Energy
}

// KeepEnergy returns the plant with e among the energies of the piece at: one
// more, or changed where it has one of that id. Its error is a [plain.Problems]
// for "piece", "energy" (its id), "kind", "source", "size", "hazard", "stored",
// "relief", "zero", "coast" and "recheck". 29 CFR 1910.147(d)(1).
func (p Plant) KeepEnergy(at EquipmentID, e Energy) (Plant, error) {
	for _, text := range []*string{&e.Source, &e.Magnitude, &e.Hazard, &e.Relief, &e.Zero} {
		*text = strings.TrimSpace(*text)
	}
	if err := problemsBy(energyRules(), energyAsked{p, at, e}); err != nil {
		return p, err
	}
	return p.with(at, func(piece *Equipment) {
		i := slices.IndexFunc(piece.Energies, func(own Energy) bool { return own.ID == e.ID })
		if i < 0 {
			piece.Energies = append(slices.Clone(piece.Energies), e)
			return
		}
		piece.Energies = slices.Clone(piece.Energies)
		piece.Energies[i] = e
	})
}

func energyRules() []rule[energyAsked, plain.Problems] {
	return []rule[energyAsked, plain.Problems]{
		{"at a piece", func(a energyAsked) plain.Problems { return atPiece(a.plant, a.at) }},
		{"own id", func(a energyAsked) plain.Problems {
			owner, known := a.plant.energyOwner(a.e.ID)
			return want(a.e.ID != "" && (!known || owner == a.at), "energy", plain.Say("its own name, once in the plant"))
		}},
		{"kind", func(a energyAsked) plain.Problems {
			return want(a.e.Kind.known(), "kind", plain.Say("a kind from the list"))
		}},
		{"source and hazard", func(a energyAsked) plain.Problems {
			return append(want(a.e.Source != "", "source", plain.Say("where it comes from, as saw motor")),
				want(a.e.Hazard != "", "hazard", plain.Say("how it hurts, 29 CFR 1910.147(d)(1)"))...)
		}},
		{"texts fit", func(a energyAsked) plain.Problems {
			var bad plain.Problems
			bad.Unless(len(a.e.Source) <= longestName, "source", "in fewer words")
			bad.Unless(len(a.e.Magnitude) <= longestName, "size", "number and unit, in a few words")
			bad.Unless(len(a.e.Hazard) <= longestText, "hazard", "in fewer words")
			bad.Unless(len(a.e.Relief) <= longestText, "relief", "in fewer words")
			bad.Unless(len(a.e.Zero) <= longestText, "zero", "in fewer words")
			return bad
		}},
		{"left over by nature", func(a energyAsked) plain.Problems {
			return want(a.e.Stored || !a.e.Kind.leftOver(), "stored", plain.Say("yes: what coasts, hangs, is stretched, bent or hot is still there when the power is off, 29 CFR 1910.147(d)(5)(i)"))
		}},
		{"relief", func(a energyAsked) plain.Problems {
			return want(!a.e.Stored || a.e.Relief != "", "relief", plain.Say("how it is let out or held, 29 CFR 1910.147(d)(5)(i)"))
		}},
		{"zero", func(a energyAsked) plain.Problems {
			return want(a.e.Zero != "", "zero", plain.Say("how one sees that it is gone, 29 CFR 1910.147(d)(6)"))
		}},
		{"coast time", func(a energyAsked) plain.Problems {
			return want(a.e.Coast >= 0 && a.e.Coast <= CoastMost && (a.e.Coast == 0 || a.e.Kind == Rotation), "coast",
				plain.Say("the seconds it takes to stand still, at most %s, and only for what turns; empty while not yet measured", CoastMost))
		}},
		{"building up again", func(a energyAsked) plain.Problems {
			ok := a.e.Recheck == 0 || a.e.Stored && a.e.Recheck >= leastRecheck && a.e.Recheck <= VerificationLasts
			return want(ok, "recheck", plain.Say("%[1]s to %[2]s, and only for what is stored; empty if it can't build up again, 29 CFR 1910.147(d)(5)(ii)", leastRecheck, VerificationLasts))
		}},
	}
}

// leftOver tells whether energy of that kind is by its nature still there when
// what feeds it is isolated.
func (k EnergyKind) leftOver() bool {
	switch k {
	case Rotation, Moving, Gravity, Spring, Thermal, Strain:
		return true
	default:
		return false
	}
}

// DropEnergy returns the plant without that energy, which leaves the cuts of
// every device too. It is refused while a device keeps nothing else away.
func (p Plant) DropEnergy(id EnergyID) (Plant, error) {
	owner, known := p.energyOwner(id)
	if !known {
		return p, plain.Problems{{Field: "energy", Want: plain.Say("an energy of this mill")}}
	}
	less := slices.Clone(p)
	for i := range less {
		less[i].Devices = slices.Clone(less[i].Devices)
		for j := range less[i].Devices {
			d := &less[i].Devices[j]
			if !d.cuts(id) {
				continue
			}
			if len(d.Cuts) == 1 {
				return p, plain.Refuse("", "%s keeps only this away; remove that first, or say what else it keeps away.", d.Label)
			}
			d.Cuts = slices.DeleteFunc(slices.Clone(d.Cuts), func(cut EnergyID) bool { return cut == id })
		}
	}
	return less.with(owner, func(piece *Equipment) {
		piece.Energies = slices.DeleteFunc(slices.Clone(piece.Energies), func(e Energy) bool { return e.ID == id })
	})
}

// deviceAsked is a device to be kept at a piece of a plant.
type deviceAsked struct {
	plant Plant
	at    EquipmentID
	d     Device
}

// KeepDevice returns the plant with d among the isolating devices of the piece
// at: one more, or changed where it has one of that id. Its error is a
// [plain.Problems] for "piece", "device" (its id), "kind", "label", "place",
// "number", "cuts", "adapter", "photo" and "point".
func (p Plant) KeepDevice(at EquipmentID, d Device) (Plant, error) {
	d.Label, d.Place = strings.TrimSpace(d.Label), strings.TrimSpace(d.Place)
	if err := problemsBy(deviceRules(), deviceAsked{p, at, d}); err != nil {
		return p, err
	}
	return p.with(at, func(piece *Equipment) {
		i := slices.IndexFunc(piece.Devices, func(own Device) bool { return own.ID == d.ID })
		if i < 0 {
			piece.Devices = append(slices.Clone(piece.Devices), d)
			return
		}
		piece.Devices = slices.Clone(piece.Devices)
		piece.Devices[i] = d
	})
}

func deviceRules() []rule[deviceAsked, plain.Problems] {
	return []rule[deviceAsked, plain.Problems]{
		{"at a piece", func(a deviceAsked) plain.Problems { return atPiece(a.plant, a.at) }},
		{"own id", func(a deviceAsked) plain.Problems {
			owner, known := a.plant.deviceOwner(a.d.ID)
			return want(a.d.ID != "" && (!known || owner == a.at), "device", plain.Say("its own name, once in the plant"))
		}},
		{"a kind that isolates", func(a deviceAsked) plain.Problems {
			var bad plain.Problems
			_, err := ParseDeviceKind(string(a.d.Kind))
			bad.At("kind", err)
			return bad
		}},
		{"how it is found", func(a deviceAsked) plain.Problems {
			bad := a.d.named()
			bad.Unless(len(a.d.Place) <= longestName, "place", "where it is, in a few words")
			return bad
		}},
		{"named as no control", func(a deviceAsked) plain.Problems { return a.d.noControl() }},
		{"own number", func(a deviceAsked) plain.Problems {
			piece, _ := a.plant.Find(a.at)
			taken := slices.ContainsFunc(piece.Devices, func(own Device) bool { return own.ID != a.d.ID && own.Number == a.d.Number && own.Number != 0 })
			return want(a.d.Number >= 0 && a.d.Number <= 99 && !taken, "number", plain.Say("1 to 99, as painted at the machine, each number once; empty if none is painted"))
		}},
		{"keeps something away", func(a deviceAsked) plain.Problems {
			known := len(a.d.Cuts) > 0
			for _, id := range a.d.Cuts {
				_, found := a.plant.energyOwner(id)
				known = known && found
			}
			return want(known, "cuts", plain.Say("the energies it keeps away"))
		}},
		{"a block holds nothing electrical", func(a deviceAsked) plain.Problems {
			ok := a.d.Kind != Block || !slices.ContainsFunc(a.d.Cuts, func(id EnergyID) bool { return a.plant.energy(Energy{ID: id}).Kind == Electrical })
			return want(ok, "cuts", plain.Say("what a pin, chock or strap can hold: electricity needs a disconnect or a plug"))
		}},
		{"adapter for a lock", func(a deviceAsked) plain.Problems {
			return want(a.d.Lockable || !a.d.Adapter, "adapter", plain.Say("only where it takes a lock by means of one, 29 CFR 1910.147(b)"))
		}},
		{"photo and point", func(a deviceAsked) plain.Problems {
			within := func(x float64) bool { return !math.IsNaN(x) && x >= 0 && x <= 1 }
			return append(want(a.d.Photo == "" || isDigest(a.d.Photo), "photo", plain.Say("a photo that was kept")),
				want(within(a.d.Point.X) && within(a.d.Point.Y) && (a.d.Photo != "" || a.d.Point == Point{}), "point", plain.Say("a place within the photo"))...)
		}},
	}
}

// isDigest tells whether s looks like the digest a photo is kept under: SHA-256
// in lower-case hexadecimal.
func isDigest(s string) bool {
	return len(s) == 64 && strings.Trim(s, "0123456789abcdef") == ""
}

// DropDevice returns the plant without that device.
func (p Plant) DropDevice(id DeviceID) (Plant, error) {
	owner, known := p.deviceOwner(id)
	if !known {
		return p, plain.Problems{{Field: "device", Want: plain.Say("a device of this mill")}}
	}
	return p.with(owner, func(piece *Equipment) {
		piece.Devices = slices.DeleteFunc(slices.Clone(piece.Devices), func(d Device) bool { return d.ID == id })
	})
}

// with returns the plant with one piece changed, if it is still a plant then.
func (p Plant) with(id EquipmentID, change func(*Equipment)) (Plant, error) {
	changed := slices.Clone(p)
	change(&changed[slices.IndexFunc(changed, func(e Equipment) bool { return e.ID == id })])
	if err := changed.Validate(); err != nil {
		return p, err
	}
	return changed, nil
}

// atPiece asks for a piece of the plant that holds energies and devices.
func atPiece(p Plant, id EquipmentID) plain.Problems {
	e, known := p.Find(id)
	return want(known && e.Kind != Site, "piece", plain.Say("a piece of equipment of this mill"))
}

// energyOwner is the piece that holds that energy.
func (p Plant) energyOwner(id EnergyID) (EquipmentID, bool) {
	for _, e := range p {
		if slices.ContainsFunc(e.Energies, func(own Energy) bool { return own.ID == id }) {
			return e.ID, true
		}
	}
	return "", false
}

// Holds tells whether that energy is one of the piece at.
func (p Plant) Holds(at EquipmentID, id EnergyID) bool {
	owner, known := p.energyOwner(id)
	return known && owner == at
}

// deviceOwner is the piece that holds that device.
func (p Plant) deviceOwner(id DeviceID) (EquipmentID, bool) {
	for _, e := range p {
		if slices.ContainsFunc(e.Devices, func(own Device) bool { return own.ID == id }) {
			return e.ID, true
		}
	}
	return "", false
}
