package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// beside are the lockouts under way but the one of that id.
func beside(id LockoutID, lockouts []Lockout) []Lockout {
	return slices.DeleteFunc(slices.Clone(lockouts), func(l Lockout) bool { return l.ID == id || !l.Open() })
}

// notYet tells whether something of another lockout that is so now wasn't yet
// when what is entered late happened.
func (a gateAsked) notYet(since time.Time) bool { return a.late && !a.power && since.After(a.now) }

// lockBeside returns a lock of another lockout under way that stands against
// energy at the devices and equipment of a's procedure: on one of its devices, or
// of somebody at the same equipment.
func lockBeside(a gateAsked) (Lock, bool) {
	for _, other := range beside(a.id, a.Others) {
		same := other.Procedure.services(a.p)
		for _, lock := range other.LocksOn() {
			if _, shared := a.p.device(lock.Device); (shared || same) && !a.notYet(lock.On) {
				return lock, true
			}
		}
	}
	return Lock{}, false
}

// lockReached returns a lock of another lockout whose people anything that p is
// for could reach as the plant is linked: a hoist reaches who stands at the
// carriage it lands on, a saw who stands at the carriage it feeds. What the other
// locks off besides is where its people may stand too: what holds the hoist from
// running while they work holds it from a test.
func (p Plant) lockReached(id LockoutID, of Procedure, others []Lockout) (Lock, bool) {
	for _, other := range beside(id, others) {
		on := other.LocksOn()
		if len(on) == 0 {
			continue
		}
		for _, at := range other.HoldsEquipment() {
			for _, reached := range p.ReachedByLockout(at) {
				if slices.Contains(of.Equipment, reached) || slices.Contains(of.Holds, reached) {
					return on[0], true
				}
			}
		}
	}
	return Lock{}, false
}

// gateBeside refuses power for a test while somebody works under another lockout
// that it could reach: the one who tests saw only the own people out. It refuses
// energy back, and a block out, at what somebody else still has a lock on.
func gateBeside(a gateAsked) error {
	if !a.power && !a.gives {
		return nil
	}
	lock, on := lockBeside(a)
	if !on && a.power {
		lock, on = a.Plant.lockReached(a.id, a.p, a.Others)
	}
	switch {
	case !on:
		return nil
	case a.gives:
		return plain.Refuse(Clause("(f)(3)(i)"), "Lock %s of another lockout is on here. Leave it isolated and blocked as it is; go on when that lock is off.", lock.Number)
	}
	return plain.Refuse(Clause("(f)(1)(ii)"), "Lock %s of another lockout is on. Its owner works there too: no power before that lockout is over or its people are out and their locks off.", lock.Number)
}

// countsOn returns another lockout whose people still stand behind the device
// that a gives back: it was set there for them, lock or no lock, and their release
// hasn't come to giving back. From there on whoever comes first takes it out.
func countsOn(a gateAsked) (Lockout, bool) {
	for _, other := range beside(a.id, a.Others) {
		for _, s := range other.Procedure.Steps {
			set, done := other.Done[s.ID]
			if a.device != "" && s.Device == a.device && s.Stage < Work && done && other.Stage < Restore && !a.notYet(set.At) {
				return other, true
			}
		}
	}
	return Lockout{}, false
}

// gateCountedOn refuses energy back at, and taking out, what another lockout was
// isolated or blocked with: a pin, chock or strap carries no lock to show it.
func gateCountedOn(a gateAsked) error {
	if !a.gives {
		return nil
	}
	other, on := countsOn(a)
	if !on {
		return nil
	}
	d, _ := a.p.device(a.device)
	return plain.Refuse(Clause("(f)(3)(i)"), "%[1]s is set for another lockout too: %[2]s. Leave it as it is until that one is over, or has come to giving back itself.", d.Label, other.Procedure.Title)
}

// underPower tells whether l was reported under power for a test at that time.
func (l Lockout) underPower(at time.Time) bool {
	on := false
	for _, e := range l.Events {
		switch {
		case e.At.After(at):
			return on
		case e.Kind == Energized:
			on = true
		case e.Kind == TestEnded || e.Kind == HandedOver && e.ToEnd:
			on = false
		}
	}
	return on
}

// PoweredBeside returns one of the lockouts that is reported under power for a
// test and could reach who works under l: at equipment or a device of both, or as
// the plant is linked. While there is one nobody is protected under l.
func PoweredBeside(l Lockout, lockouts []Lockout, plant Plant) (Lockout, bool) {
	return poweredBeside(gateAsked{Standing: Standing{Others: lockouts, Plant: plant}, p: l.Procedure, id: l.ID})
}

func poweredBeside(a gateAsked) (Lockout, bool) {
	for _, other := range beside(a.id, a.Others) {
		powered := other.Test == TestEnergized
		if a.late {
			powered = other.underPower(a.now)
		}
		if powered && (other.Procedure.meets(a.p) || a.Plant.reachedBy(other.Procedure, a.p)) {
			return other, true
		}
	}
	return Lockout{}, false
}

// reachedBy tells whether power at what the one procedure is for, or locks off,
// reaches who works by the other: as [Plant.lockReached] sees it from the other side.
func (p Plant) reachedBy(powered, at Procedure) bool {
	on := slices.Concat(powered.Equipment, powered.Holds)
	return slices.ContainsFunc(slices.Concat(at.Equipment, at.Holds), func(id EquipmentID) bool {
		return slices.ContainsFunc(p.ReachedByLockout(id), func(reached EquipmentID) bool { return slices.Contains(on, reached) })
	})
}

// gatePowered refuses to begin, to come on, to prove zero for oneself, to start
// the work and to take over while another lockout has power for a test that
// reaches here: its own people are out, those of this one aren't.
func gatePowered(a gateAsked) error {
	if !a.enters {
		return nil
	}
	other, on := poweredBeside(a)
	if !on {
		return nil
	}
	return plain.Refuse(Clause("(f)(1)(ii)"), "Another lockout is reported under power for a test that reaches here: %s. Stay out until the end of that test is reported.", other.Procedure.Title)
}

// Against returns what the gate has against s.Person's being at work under l at
// now, as at any start of work, though each step of it was reported: somebody who
// came on by an entry made afterwards was asked nothing then. nil where there is
// nothing, and for somebody who isn't on the job or before zero is proven.
func Against(l Lockout, s Standing, now time.Time) error {
	if !l.Open() || l.Stage != Work || l.Test != "" || l.TakenToEnd() || l.member(s.Person.ID) == nil {
		return nil
	}
	return MayReport(l, Event{Kind: WorkBegan, Person: s.Person.ID, At: now}, s, now)
}
