package procedures

import (
	"slices"
	"strings"
)

// stopping is how a piece is brought to rest in the ordinary way.
func stopping(e Equipment) Step {
	s := Step{ID: "stop-" + StepID(e.ID), Text: e.Name + ": stop it the ordinary way, in its usual order, and leave its controls at off."}
	switch e.Kind {
	case HeadSaw:
		s.Text = e.Name + ": take the cant off the usual way; one jammed in the cut stays where it is. Stop the saw with its ordinary control."
	case Carriage:
		s.Text = e.Name + ": run it empty to its parking end, feed lever to off, latch it."
	case Hoist:
		s.Proof = HookEmpty
		s.Text = e.Name + ": land the load, unhook it, lower the hook block to rest until the chain is slack. Nobody works with a load up."
	case DustCollection:
		s.Text = e.Name + ": leave it running until the saw stands still, then stop it with its ordinary control."
	}
	return s
}

// isolating is what to do at a device.
func isolating(d Device) string {
	at := d.Label
	if d.Place != "" {
		at += ", " + d.Place
	}
	switch d.Kind {
	case Disconnect:
		return "Pull to off, standing to the side of it: " + at + "."
	case Plug:
		return "Pull the plug and put it where your lock covers it: " + at + "."
	case Valve:
		return "Shut it so that it vents: " + at + "."
	case BatteryLock:
		return "Turn to off: " + at + ". Vent an air or spring starter. Taking a key isolates nothing."
	case FuelValve:
		return "Shut: " + at + "."
	case PartRemoved:
		return "Take it off, and keep it with you or locked away: " + at + "."
	default:
		return "When what it holds stands still, put it in: " + at + "."
	}
}

// restoring undoes it.
func restoring(d Device) string {
	switch d.Kind {
	case Disconnect:
		return "Back on, standing to the side of it: " + d.Label + "."
	case Plug:
		return "Plug it in: " + d.Label + "."
	case Valve, FuelValve:
		return "Open slowly: " + d.Label + "."
	case BatteryLock:
		return "Back on: " + d.Label + "."
	case PartRemoved:
		return "Put it back, and its guard: " + d.Label + "."
	default:
		return "Take it out, before power comes back: " + d.Label + "."
	}
}

// relieving is what lets e out or holds it: the wait for what turns, a step at
// every block that holds it, and what the register says of it.
func (d *drafting) relieving(e Energy) []Step {
	var steps []Step
	cut, blocked, wait := false, false, d.unmeasured(e)
	if e.Kind == Rotation {
		steps = append(steps, Step{ID: "wait-" + StepID(e.ID), Energy: e.ID, Proof: MarkStill, Wait: wait,
			Text: own(e, "Stay out. Wait, then watch the painted mark for ten seconds. Sound, the look of the rim or touch prove nothing.", e.Relief)})
	} else {
		wait = 0
	}
	for _, device := range d.devices {
		if !device.cuts(e.ID) {
			continue
		}
		cut, blocked = true, blocked || device.Kind == Block
		if device.Kind != Block || device.Lockable {
			continue // at its own isolate step
		}
		steps = append(steps, Step{ID: "hold-" + StepID(device.ID) + "-" + StepID(e.ID), Energy: e.ID, Device: device.ID, Proof: BlockIn, Wait: wait,
			Text: own(e, "Put it in: "+device.Label+".", "")})
	}
	let := e.Stored || e.Kind.leftOver() || !cut && canBeBlocked(e.Kind)
	if !let || e.Kind == Rotation && blocked {
		return steps
	}
	s := Step{ID: "relieve-" + StepID(e.ID), Energy: e.ID, Wait: wait, Text: own(e, letOut(e.Kind), e.Relief)}
	if e.Kind == Hydraulic || e.Kind == Pneumatic {
		s.Proof = GaugeZero
	}
	if e.Kind == Rotation || !cut && canBeBlocked(e.Kind) {
		s.Proof = BlockIn
	}
	// Let out first, then hold.
	if at := slices.IndexFunc(steps, func(s Step) bool { return s.Proof == BlockIn }); at >= 0 {
		return slices.Insert(steps, at, s)
	}
	return append(steps, s)
}

// canBeBlocked tells whether a block, prop, clamp, cover or barrier of any kind
// can stand between that kind of energy and a person. Current, pressure from a
// pump, an engine and a driven shaft need an isolator.
func canBeBlocked(k EnergyKind) bool { return k.leftOver() || k == Chemical }

// letOut is what is done with a kind of stored energy where the register says
// nothing of its own.
func letOut(k EnergyKind) string {
	switch k {
	case Rotation:
		return "When it stands still, pin, bar or clamp it so that it can't be turned, by hand or by draught."
	case Moving:
		return "Park it at its end, tie it down and chock it both ways."
	case Gravity:
		return "Land or lower what hangs or leans; prop what can't come down. Nobody goes under."
	case Strain:
		return "Wedge or chock the wood, then ease it from the side."
	case Electrical:
		return "Wait the time on the drive's cover. Nobody opens it but a qualified person."
	case Engine:
		return "See that it has come to rest. Vent an air or spring starter."
	case Hydraulic, Pneumatic:
		return "Bleed it and work the lever both ways until nothing moves, then lever to off. Never feel for a leak by hand."
	case Spring:
		return "Let it out slowly to rest, or hold it with its keeper, pin or clamp."
	case Shaft:
		return "See that it has come to rest."
	case Thermal:
		return "Let it cool, or put a cover between it and you."
	default:
		return "Let it settle or drain away, or put a cover between it and you. No flame, spark or hot part near."
	}
}

// verifying is how zero of e is shown: by the start tried where something
// starts, by the gauge where there is pressure, by a push where something is held.
func (d *drafting) verifying(e Energy) Step {
	s := Step{ID: "verify-" + StepID(e.ID), Energy: e.ID}
	said := ""
	switch e.Kind {
	case Electrical, Engine:
		s.Proof = TryStart
		said = "See that nobody is near. Try its ordinary start: nothing may move. Control back to off. Work on wiring needs a qualified person with a meter besides."
	case Rotation:
		s.Proof = BlockIn
		said = "Push it both ways with a stick: it stands and can't be turned."
	case Hydraulic, Pneumatic:
		s.Proof = GaugeZero
		said = "Gauge at zero, and the lever, worked both ways and put back to off, moves nothing."
	case Gravity:
		if owner, _ := d.plant.energyOwner(e.ID); d.kind(owner) == Hoist {
			s.Proof = HookEmpty
		}
		said = "Nothing hangs or leans that isn't propped: nudge it with a stick from the side."
	case Moving:
		said = "From beside it, push both ways: it stays."
	case Shaft:
		said = "Nobody near: what it drives is worked both ways and put back to off, and nothing turns."
	case Spring, Strain:
		said = "Nudged with a stick it lies at rest, or what holds it stays."
	case Thermal:
		said = "Back of the hand held near: no heat, or it is covered. No smoke."
	default:
		said = "Looked at: clear, or covered; no spark or hot part near."
	}
	s.Text = own(e, said, e.Zero)
	return s
}

func (d *drafting) kind(id EquipmentID) EquipmentKind {
	e, _ := d.plant.Find(id)
	return e.Kind
}

// own is said of that energy, with what the mill's register says besides.
func own(e Energy, said, register string) string {
	source := strings.TrimSpace(e.Source)
	if source == "" {
		source = string(e.Kind)
	}
	if said = source + ": " + said; strings.TrimSpace(register) != "" {
		said += " " + strings.TrimSpace(register)
	}
	return said
}
