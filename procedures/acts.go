package procedures

import (
	"slices"
	"strings"
	"time"
)

// What each act changes. The rules were asked before: see actOf.

func (l *Lockout) stepDone(e Event) { l.Done[e.Step] = e }

func (l *Lockout) lockApplied(e Event) {
	l.putOn(e)
	if m := l.member(e.Person); m != nil {
		m.Verified = time.Time{} // a proof from before one's last lock is none, (d)(6)
	}
	if e.Person == l.Primary {
		l.doneAt(Apply, e.Device, e)
	}
}

// putOn notes e's lock on e's device, or on the box.
func (l *Lockout) putOn(e Event) {
	l.Locks = append(l.Locks, Lock{Number: strings.TrimSpace(e.Lock), Owner: e.Person, Device: e.Device, On: e.At, Position: e.Position})
}

// doneAt notes e as what was done at a device in that stage.
func (l *Lockout) doneAt(stage Stage, device DeviceID, e Event) {
	for _, s := range l.Procedure.Steps {
		if s.Stage == stage && s.Device == device {
			l.Done[s.ID] = e
		}
	}
}

// joined signs another person on with a lock of their own: on the device e
// names, then on each other with LockApplied; or, with no device named, on the
// box that holds the keys of all the locks on the devices.
func (l *Lockout) joined(e Event) {
	l.putOn(e)
	l.Members = append(l.Members, Member{Person: e.Person, Joined: e.At, Craft: e.Craft})
}

func (l *Lockout) leftJob(e Event) {
	for i := range l.Locks {
		if l.Locks[i].Owner == e.Person && l.Locks[i].Off.IsZero() {
			l.Locks[i].Off = e.At
		}
	}
	if m := l.member(e.Person); m != nil {
		m.Left, m.Away = e.At, false
	}
	if l.Stage == Work && l.allAway() { // who came in alone while the others' locks stayed on has gone
		l.Overnight, l.Working = true, false
	}
}

// leftOvernight keeps the own locks on and takes the own proof back: what was
// still in the evening is proven again in the morning. It is night for the
// lockout when the last one goes.
func (l *Lockout) leftOvernight(e Event) {
	if m := l.member(e.Person); m != nil {
		m.Away, m.Verified = true, time.Time{}
	}
	if l.allAway() {
		l.Overnight, l.Working, l.Expected = true, false, e.Until
	}
}

// allAway tells whether everybody signed on has gone for the night.
func (l *Lockout) allAway() bool {
	return !slices.ContainsFunc(l.SignedOn(), func(m Member) bool { return !m.Away })
}

func (l *Lockout) reverified(e Event) {
	if m := l.member(e.Person); m != nil {
		m.Verified, m.Away = e.At, false
	}
	l.Overnight = false
}

// workEnded opens the release, also when the work was never begun: once a lock
// is on, the release is the only way out.
func (l *Lockout) workEnded(e Event) {
	l.Working, l.Overnight, l.Stage = false, false, InspectArea
	if m := l.member(e.Person); m != nil {
		m.Away = false
	}
}

func (l *Lockout) lockRemoved(e Event) {
	lock := l.lockOn(e.Lock)
	if lock == nil {
		return
	}
	lock.Off = e.At
	if l.Stage >= RemoveLocks {
		l.doneAt(RemoveLocks, lock.Device, e)
	}
}
