package procedures

import (
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

func (l *Lockout) lockApplied(e Event) error {
	if l.member(e.Person) == nil {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Join the job with your own lock first.")
	}
	first := e.Person == l.Primary
	if first && l.Stage < Apply || !first && l.Stage < Work {
		return l.notYet()
	}
	if first && l.Stage > Apply || l.Stage > Work {
		return plain.Refuse(Clause("(d)(4)"), "The time for putting locks on is past.")
	}
	if err := l.putOn(e); err != nil {
		return err
	}
	l.member(e.Person).Verified = time.Time{} // a proof from before one's last lock is none, (d)(6)
	if first {
		for _, s := range l.Procedure.Steps {
			if s.Stage == Apply && s.Device == e.Device {
				l.Done[s.ID] = e
			}
		}
	}
	return nil
}

// putOn notes e's lock on e's device.
func (l *Lockout) putOn(e Event) error {
	d, known := l.Procedure.device(e.Device)
	if !known {
		return plain.Refuse(Clause("(d)(4)(i)"), "Say which of this procedure's devices the lock is on.")
	}
	if !d.Lockable {
		return plain.Refuse(Clause("(c)(2)(i)"), "%s takes no lock; hang your tag there and tick its step.", d.Label)
	}
	if err := l.freeNumber(e.Lock); err != nil {
		return err
	}
	for _, lock := range l.LocksOn() {
		if lock.Owner == e.Person && lock.Device == e.Device {
			return plain.Refuse(Clause("(d)(4)(i)"), "Your lock %s is already on %s.", lock.Number, d.Label)
		}
	}
	l.Locks = append(l.Locks, Lock{Number: strings.TrimSpace(e.Lock), Owner: e.Person, Device: e.Device, On: e.At})
	return nil
}

// freeNumber asks for a lock number that isn't on anywhere in this lockout.
func (l *Lockout) freeNumber(number string) error {
	if blank(number) {
		return plain.Refuse(Clause("(c)(5)(ii)"), "Give the number on your own lock.")
	}
	if on := l.lockOn(number); on != nil {
		return plain.Refuse(Clause("(c)(5)(ii)"), "Lock %s is already on in this lockout. Each device takes a lock of its own.", on.Number)
	}
	return nil
}

// joined signs another person on with a lock of their own: on the device e
// names, then on each other with LockApplied; or, with no device named, on the
// box that holds the keys of all the locks on the devices.
func (l *Lockout) joined(e Event) error {
	if l.member(e.Person) != nil {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "You are on this job already.")
	}
	if l.Stage < Work {
		return l.notYet()
	}
	if l.Stage > Work {
		return plain.Refuse(Clause("(e)"), "The work was reported ended; nobody joins any more.")
	}
	if e.Device == "" {
		if err := l.freeNumber(e.Lock); err != nil {
			return err
		}
		l.Locks = append(l.Locks, Lock{Number: strings.TrimSpace(e.Lock), Owner: e.Person, On: e.At})
	} else if err := l.putOn(e); err != nil {
		return err
	}
	l.Members = append(l.Members, Member{Person: e.Person, Joined: e.At})
	return nil
}

func (l *Lockout) leftJob(e Event) error {
	m := l.member(e.Person)
	if m == nil {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "You aren't signed on to this job.")
	}
	if e.Person == l.Primary {
		return plain.Refuse(Clause("(f)(3)(ii)(A)"), "You began this lockout and answer for it: end the work and release it, or leave it locked overnight.")
	}
	for i := range l.Locks {
		if l.Locks[i].Owner == e.Person && l.Locks[i].Off.IsZero() {
			l.Locks[i].Off = e.At
		}
	}
	m.Left, m.Away = e.At, false
	return nil
}

// leftOvernight keeps the own locks on and takes the own proof back: what was
// still in the evening is proven again in the morning. Nobody else is at work
// then, so no other proof stands.
func (l *Lockout) leftOvernight(e Event) error {
	m := l.member(e.Person)
	if m == nil {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "You aren't signed on to this job.")
	}
	if l.Stage < Work {
		return l.notYet()
	}
	if l.Stage > Work {
		return plain.Refuse(Clause("(e)"), "The work was reported ended; finish the release.")
	}
	for _, other := range l.SignedOn() {
		if other.Person != e.Person && !other.Away {
			return plain.Refuse(Clause("(f)(4)"), "Somebody else is still at work here. They sign off, or leave their own lock on for the night, first.")
		}
	}
	if !l.ownLocksOn(e.Person) {
		return plain.Refuse(Clause("(d)(4)(i)"), "Your own lock isn't on every device.")
	}
	if !e.Until.After(e.At) {
		return plain.Refuse("", "Say until when it stays locked.")
	}
	m.Away, m.Verified = true, time.Time{}
	l.Overnight, l.Working, l.Expected = true, false, e.Until
	return nil
}

// reverified proves every energy at zero again for one person: everything the
// verify steps ask, done by them under own locks.
func (l *Lockout) reverified(e Event) error {
	m := l.member(e.Person)
	if m == nil {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Join the job with your own lock first.")
	}
	if l.Stage != Work {
		return l.notYet()
	}
	if !l.ownLocksOn(e.Person) {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Put your own lock on every device, or on the box with the keys, first.")
	}
	if e.Proof == "" {
		return plain.Refuse(Clause("(d)(6)"), "Say how zero was proven.")
	}
	if l.Procedure.proves(TryStart) {
		if e.Proof != TryStart {
			return plain.Refuse(Clause("(d)(6)"), "This procedure asks to try the start. Do every verify step again.")
		}
		if !e.OffBack {
			return refuseOffBack()
		}
	}
	m.Verified, m.Away, l.Overnight = e.At, false, false
	return nil
}

func (l *Lockout) workBegan(e Event) error {
	if l.Stage < Work {
		return l.notYet()
	}
	if l.Stage > Work || l.Working {
		return plain.Refuse("", "The start of the work was reported already.")
	}
	m := l.member(e.Person)
	if m == nil {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Join the job with your own lock first.")
	}
	for _, eq := range l.Procedure.Equipment {
		if !l.VerifiedFor(e.Person, eq, e.At) {
			return plain.Refuse(Clause("(d)(6)"), "Prove it at zero again first: the last proof is from before a lock or a night, or too old.")
		}
	}
	l.Working = true
	return nil
}

// workEnded opens the release, also when the work was never begun: once a lock
// is on, the release is the only way out.
func (l *Lockout) workEnded(e Event) error {
	if err := l.primaryOnly(e); err != nil {
		return err
	}
	if len(l.Locks) == 0 {
		return plain.Refuse(Clause("(d)"), "No lock is on yet. Go on, or cancel.")
	}
	if l.Stage > Work {
		return plain.Refuse(Clause("(e)"), "The end of the work was reported already.")
	}
	l.Working, l.Overnight, l.Stage = false, false, InspectArea
	l.member(e.Person).Away = false
	return nil
}

func (l *Lockout) lockRemoved(e Event) error {
	lock := l.lockOn(e.Lock)
	if lock == nil || e.Device != "" && e.Device != lock.Device {
		return plain.Refuse(Clause("(e)(3)"), "No such lock is on. Give the number on your lock.")
	}
	if lock.Owner != e.Person {
		return plain.Refuse(Clause("(e)(3)"), "That isn't your lock. Only the one who put it on takes it off.")
	}
	if e.Person != l.Primary {
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Take your lock off by signing off the job.")
	}
	if l.Stage < RemoveLocks {
		return l.notYet()
	}
	lock.Off = e.At
	for _, s := range l.Procedure.Steps {
		if s.Stage == RemoveLocks && s.Device == lock.Device {
			l.Done[s.ID] = e
		}
	}
	return nil
}

func (l *Lockout) restored(e Event) error {
	if err := l.primaryOnly(e); err != nil {
		return err
	}
	if l.Stage != NotifyRestored || len(l.undone()) > 0 {
		return l.notYet()
	}
	l.Closed, l.Ended = true, e.At
	return nil
}

func (l *Lockout) cancelled(e Event) error {
	if len(l.Locks) > 0 {
		return plain.Refuse(Clause("(e)"), "A lock has been on. End the work and go through the release.")
	}
	l.Cancelled, l.Ended = true, e.At
	return nil
}
