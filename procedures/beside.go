package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// beside are the lockouts under way but the one of that id.
func beside(id LockoutID, lockouts []Lockout) []Lockout {
	return slices.DeleteFunc(slices.Clone(lockouts), func(l Lockout) bool { return l.ID == id || !l.Open() })
}

// lockBeside returns a lock of another lockout under way that stands against
// energy at the devices and equipment of p: on one of its devices, or of somebody
// at the same equipment.
func lockBeside(id LockoutID, p Procedure, others []Lockout) (Lock, bool) {
	for _, other := range beside(id, others) {
		same := other.Procedure.services(p)
		for _, lock := range other.LocksOn() {
			if _, shared := p.device(lock.Device); shared || same {
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
	lock, on := lockBeside(a.id, a.p, a.Others)
	if !on && a.power && len(a.Plant) > 0 {
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
