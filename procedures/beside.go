package procedures

import "stillsaw/procedures/plain"

// lockBeside returns a lock of another lockout under way that stands against
// power in l: on one of its devices, or of somebody at the same equipment.
func lockBeside(id LockoutID, p Procedure, others []Lockout) (Lock, bool) {
	for _, other := range others {
		if other.ID == id || !other.Open() {
			continue
		}
		same := len(Overlaps([]Lockout{other}, p)) > 0
		for _, lock := range other.LocksOn() {
			if _, shared := p.device(lock.Device); shared || same {
				return lock, true
			}
		}
	}
	return Lock{}, false
}

// gateBeside refuses power for a test while somebody works under another lockout
// that it could reach: the one who tests saw only the own people out.
func gateBeside(a gateAsked) error {
	if !a.power {
		return nil
	}
	lock, on := lockBeside(a.id, a.p, a.Others)
	if !on {
		return nil
	}
	return plain.Refuse(Clause("(f)(1)(ii)"), "Lock %s of another lockout is on. Its owner works there too: no power before that lockout is over or its people are out and their locks off.", lock.Number)
}
