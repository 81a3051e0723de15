package procedures

import (
	"cmp"
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// DraftProcedure writes a draft (Version 0) for servicing that equipment, from
// what the register says of it, of its parts and whole, and of all that drives
// or supplies these, however far back. Every energy of all that gets its steps.
// Everything beside equipment stands in Holds. The steps are general ones, to
// be read against the machine and edited; [Procedure.Validate] names what the
// register lacks: an isolator that takes a lock, or one for an energy no block
// can hold.
//
// Its error is a [plain.Problems] for "equipment": none, the site, or something
// the plant doesn't have. 29 CFR 1910.147(c)(4)(ii) and Appendix A.
func (p Plant) DraftProcedure(id ProcedureID, title string, equipment ...EquipmentID) (Procedure, error) {
	var bad plain.Problems
	bad.Unless(len(equipment) > 0, "equipment", "name what it is for")
	for _, id := range equipment {
		bad.At("equipment", atPiece(p, id).Err())
	}
	if err := bad.Err(); err != nil {
		return Procedure{}, err
	}
	equipment = p.ordered(equipment)
	d := drafting{plant: p, reached: p.actingOn(equipment)}
	d.collect()
	draft := draft(p, Answers{}, id, title, d.part(), equipment, d.holds(equipment))
	d.number(draft.Devices)
	d.time(draft.Steps)
	ownIDs(draft.Steps)
	return draft, nil
}

// LeftOut returns the energies the register has of the equipment p is for and
// that p doesn't list, in the plant's order: p is to be renewed. So machines
// that share one procedure have all of each of them controlled by it, 29 CFR
// 1910.147(c)(4)(ii), (c)(7)(iii)(A).
func (p Plant) LeftOut(written Procedure) []EnergyID {
	var out []EnergyID
	for _, e := range p {
		for _, energy := range e.Energies {
			if slices.Contains(written.Equipment, e.ID) && !written.hasEnergy(energy.ID) {
				out = append(out, energy.ID)
			}
		}
	}
	return out
}

// actingOn is equipment with its parts and wholes, and all that can move or
// feed any of it, in the plant's order. Saw and carriage count as one, linked or
// not: the carriage passes the saw, and whoever mends one stands beside the other.
func (p Plant) actingOn(equipment []EquipmentID) []EquipmentID {
	from := slices.Clone(equipment)
	if slices.ContainsFunc(p.close(equipment, p.whole), p.ofHeadRig) {
		for _, e := range p {
			if e.Kind == HeadSaw || e.Kind == Carriage {
				from = append(from, e.ID)
			}
		}
	}
	return p.ordered(p.close(p.close(from, p.Parts), p.before))
}

// ofHeadRig tells whether that piece is saw, carriage, or dogs and knees.
func (p Plant) ofHeadRig(id EquipmentID) bool {
	e, _ := p.Find(id)
	return e.Kind == HeadSaw || e.Kind == Carriage || e.Kind == DogsAndKnees
}

// drafting is a procedure being written from the register.
type drafting struct {
	plant    Plant
	reached  []EquipmentID
	pieces   []Equipment
	energies []Energy
	devices  []Device
	owners   []EquipmentID // of devices, also where the piece is not reached
}

// collect gathers what the register says: the energies, and every device of the
// plant that keeps one of them away.
func (d *drafting) collect() {
	for _, id := range d.reached {
		e, _ := d.plant.Find(id)
		d.pieces = append(d.pieces, e)
		d.energies = append(d.energies, e.Energies...)
	}
	for _, e := range d.plant {
		for _, device := range e.Devices {
			if slices.ContainsFunc(d.energies, func(energy Energy) bool { return device.cuts(energy.ID) }) {
				d.devices, d.owners = append(d.devices, device), append(d.owners, e.ID)
			}
		}
	}
}

// holds is what the procedure locks off beside what it is for.
func (d *drafting) holds(equipment []EquipmentID) []EquipmentID {
	held := d.plant.ordered(slices.Concat(d.reached, d.owners))
	return slices.DeleteFunc(held, func(id EquipmentID) bool {
		e, _ := d.plant.Find(id)
		return slices.Contains(equipment, id) || e.Kind == Site
	})
}

// part is the steps that follow from the register.
func (d *drafting) part() part {
	whole := part{energies: d.energies}
	for _, device := range d.devices {
		whole.isolators = append(whole.isolators, isolator{Device: device, isolate: isolating(device), restore: restoring(device)})
	}
	for _, e := range d.pieces {
		whole.stop = append(whole.stop, stopping(e))
		whole.off = append(whole.off, Step{ID: "off-" + StepID(e.ID), Text: e.Name + ": its controls are at off."})
		whole.guards = append(whole.guards, Step{ID: "guards-" + StepID(e.ID), Text: e.Name + ": every guard and cover is back and tight."})
	}
	// What is pinched or hung comes off while the rest still holds it: letting
	// out the pressure of a dog drops the cant. Nobody comes near before what
	// turns stands still.
	energies := slices.Clone(d.energies)
	slices.SortStableFunc(energies, func(a, b Energy) int {
		return cmp.Compare(slices.Index(reliefOrder, a.Kind), slices.Index(reliefOrder, b.Kind))
	})
	for _, e := range energies {
		whole.relieve = append(whole.relieve, d.relieving(e)...)
	}
	for _, e := range d.energies {
		whole.verify = append(whole.verify, d.verifying(e))
	}
	return whole
}

// reliefOrder is the order in which stored energy is let out or held. It is
// never changed.
var reliefOrder = []EnergyKind{Rotation, Moving, Gravity, Strain, Electrical, Engine, Hydraulic, Pneumatic, Spring, Shaft, Thermal, Chemical}

// number gives each device the number painted at the machine where that is free,
// else the next.
func (d *drafting) number(devices []Device) {
	taken := map[int]bool{}
	for i := range devices {
		painted := d.devices[i].Number
		if painted > 0 && taken[painted] {
			painted = 0
		}
		devices[i].Number = painted
		taken[painted] = true
	}
	next := 1
	for i := range devices {
		if devices[i].Number == 0 {
			for taken[next] {
				next++
			}
			devices[i].Number, taken[next] = next, true
		}
	}
}

// time gives steps what follows from their energies: a pin with a lock of its
// own goes in when what it holds stands still and no sooner; what can build up
// again is proven again.
func (d *drafting) time(steps []Step) {
	for i := range steps {
		s := &steps[i]
		if s.Stage == Verify {
			s.Recheck = d.plant.energy(Energy{ID: s.Energy}).Recheck
		}
		if s.Stage != Isolate {
			continue
		}
		device := d.plant.device(Device{ID: s.Device})
		for _, e := range d.energies {
			if device.Kind != Block || e.Kind != Rotation || !device.cuts(e.ID) {
				continue
			}
			if wait := CoastWait(e.Coast, d.unmeasured(e)); wait > s.Wait {
				s.Wait, s.Energy, s.Proof = wait, e.ID, MarkStill
				s.Clause = Relieve.Clause()
			}
		}
	}
}

// unmeasured is the wait for what turns while its coast time is not measured.
func (d *drafting) unmeasured(e Energy) (wait time.Duration) {
	for _, piece := range d.pieces {
		if piece.Kind == HeadSaw && slices.ContainsFunc(piece.Energies, func(own Energy) bool { return own.ID == e.ID }) {
			return SawWaitUnmeasured
		}
	}
	return max(SawWaitUnmeasured, FanWaitUnmeasured)
}

// ownIDs makes ids of steps that happen to be the same differ.
func ownIDs(steps []Step) {
	seen := map[StepID]bool{}
	for i := range steps {
		for seen[steps[i].ID] {
			steps[i].ID += "-"
		}
		seen[steps[i].ID] = true
	}
}
