package procedures

import "stillsaw/procedures/plain"

// KeysUnseen tells whether a personal lock is on the box that went on by an entry
// made afterwards, which said nothing of the keys, and nobody has said since that
// they saw them in it: nobody knows then whether the box holds anything, 29 CFR
// 1910.147(f)(3)(ii)(D).
func (l Lockout) KeysUnseen() bool { return l.unseenOnBox("") != "" }

// unseenOnBox is the number of such a lock, of that person where one is named, ""
// for none.
func (l Lockout) unseenOnBox(owner PersonID) string {
	unseen := map[string]bool{}
	for _, e := range l.Events {
		switch {
		case e.KeysInBox:
			clear(unseen)
		case e.Kind == Joined && e.Device == "":
			unseen[LockNumber(e.Lock)] = true
		}
	}
	for _, lock := range l.LocksOn() {
		if lock.Device == "" && unseen[LockNumber(lock.Number)] && (owner == "" || lock.Owner == owner) {
			return lock.Number
		}
	}
	return ""
}

// keysBefore refuses to prove zero again, to begin and to take over while a lock
// is on the box whose keys nobody saw. That it went on so is a departure already:
// what is entered afterwards isn't asked again.
func keysBefore() rule[asked, error] {
	return rule[asked, error]{"(f)(3)(ii)(D) keys seen before going on", func(a asked) error {
		goes := a.e.Kind == Reverified || a.e.Kind == WorkBegan || a.e.Kind == HandedOver && !a.e.ToEnd
		number := a.l.unseenOnBox("")
		if !goes || a.e.Late || a.e.KeysInBox || number == "" {
			return nil
		}
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Lock %s went on the box, and nobody said that the keys are in it. Look into the box: the key of every lock on a device has to be there. Say that you saw them.", number)
	}}
}
