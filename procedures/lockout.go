package procedures

import (
	"maps"
	"slices"
	"strings"
	"time"
)

// VerificationLasts is how long a proof of zero counts before it must be given
// again. Common practice, no source: longer than a shift, shorter than a night,
// so that a lock left on overnight without saying so doesn't pass for verified.
const VerificationLasts = 12 * time.Hour

// Lockout is one use of one version of a procedure: the fold of its events and
// nothing else. It records what people reported; it isn't a lock. Make one with
// [Beginning.Begin], carry it on with [Lockout.Apply], rebuild it with [Replay].
type Lockout struct {
	ID        LockoutID        `json:"id"`
	Procedure Procedure        `json:"procedure"` // the whole version used
	Task      string           `json:"task"`
	Begun     time.Time        `json:"begun"`
	Expected  time.Time        `json:"expected"` // expected end, or the morning of an overnight lock
	Primary   PersonID         `json:"primary"`  // who began it, or took it over, and answers for it, (f)(3)(ii)(A)
	Stage     Stage            `json:"stage"`
	Done      map[StepID]Event `json:"done"`
	Locks     []Lock           `json:"locks"`
	Members   []Member         `json:"members"`
	Working   bool             `json:"working"`   // servicing was begun and not ended
	Overnight bool             `json:"overnight"` // left locked on purpose, not verified since
	Closed    bool             `json:"closed"`    // back in service
	Cancelled bool             `json:"cancelled"`
	Ended     time.Time        `json:"ended"`
	Events    []Event          `json:"events"` // in the order they happened

	Test        TestState `json:"test,omitzero"`        // locks are to come off, or are off, for a test
	Coordinator PersonID  `json:"coordinator,omitzero"` // over this and another lockout of the same equipment
}

// Lock is one person's numbered lock, as its owner reported it.
type Lock struct {
	Number string    `json:"number"`
	Owner  PersonID  `json:"owner"`
	Device DeviceID  `json:"device"` // "": on the box that holds the keys of the locks on the devices
	On     time.Time `json:"on"`
	Off    time.Time `json:"off"` // zero: still on

	Position  Position  `json:"position,omitzero"`   // where it holds the device, as reported
	TakenBy   PersonID  `json:"taken_by,omitzero"`   // the supervisor who took it off while its owner was away
	OwnerTold time.Time `json:"owner_told,omitzero"` // when the owner reported knowing of that
}

// Member is one person's stay on the job. Somebody who leaves and joins again
// has two.
type Member struct {
	Person   PersonID  `json:"person"`
	Joined   time.Time `json:"joined"`
	Left     time.Time `json:"left"`     // zero: still signed on
	Verified time.Time `json:"verified"` // zero: not proven at zero by or for this person, or no longer
	Away     bool      `json:"away"`     // left the own lock on overnight and hasn't verified since
	Craft    string    `json:"craft,omitzero"`
}

// Open tells whether the lockout is neither closed nor cancelled.
func (l Lockout) Open() bool { return !l.Closed && !l.Cancelled }

// HoldsEquipment returns the equipment that may not run because of l, from
// beginning to end: what its procedure is for and what its steps lock off
// besides. What is linked to it follows from [Plant.ReachedByLockout].
func (l Lockout) HoldsEquipment() []EquipmentID {
	if !l.Open() {
		return nil
	}
	return slices.Concat(l.Procedure.Equipment, l.Procedure.Holds)
}

// LocksOn returns the locks reported on and not reported off.
func (l Lockout) LocksOn() []Lock {
	var on []Lock
	for _, lock := range l.Locks {
		if lock.Off.IsZero() {
			on = append(on, lock)
		}
	}
	return on
}

// VerifiedFor tells whether person may do work under lock at eq: it is among the
// procedure's equipment, every step up to the proof of zero is done, no test is
// on, person has own locks on, person's proof is newer than these, than any night
// between, and no older than [VerificationLasts], nothing that can build up again
// is due to be proven again, and the keys in the box were seen where it is what
// person counts on. Not once a supervisor took it to its end. It knows l alone:
// see [PoweredBeside] for power of another lockout, [Against] for the rest.
func (l Lockout) VerifiedFor(person PersonID, eq EquipmentID, now time.Time) bool {
	due, _ := l.RecheckDue(now)
	return slices.Contains(l.Procedure.Equipment, eq) && l.Test == "" && due.ID == "" && !l.TakenToEnd() && l.proven(person, now) && !l.countsOnUnseen(person)
}

// countsOnUnseen tells whether person's protection is a box whose keys nobody saw.
func (l Lockout) countsOnUnseen(person PersonID) bool {
	return l.unseenOnBox(person) != "" && !l.deviceLocksOn(person)
}

// proven tells whether person's own proof of zero counts.
func (l Lockout) proven(person PersonID, now time.Time) bool {
	if !l.Open() || l.Stage != Work {
		return false
	}
	m := l.member(person)
	if m == nil || m.Verified.IsZero() || !l.ownLocksOn(person) {
		return false
	}
	age := now.Sub(m.Verified)
	return age >= 0 && age <= VerificationLasts
}

// SignedOn returns who is on the job and has not signed off, (f)(3)(ii)(B).
func (l Lockout) SignedOn() []Member {
	var on []Member
	for _, m := range l.Members {
		if m.Left.IsZero() {
			on = append(on, m)
		}
	}
	return on
}

// WaitLeft is how long the present steps still have to wait since the last
// step of shutting down; zero when nothing has to.
func (l Lockout) WaitLeft(now time.Time) time.Duration {
	var left time.Duration
	for _, s := range l.Present() {
		if _, done := l.Done[s.ID]; !done {
			left = max(left, l.surelyReadyAt(s).Sub(now))
		}
	}
	return left
}

// readyAt is the earliest time s may be reported done, by the times reported.
func (l Lockout) readyAt(s Step) time.Time {
	return l.readyAfter(s, func(e Event) time.Time { return e.At })
}

// readyAfter is readyAt with each stop taken to be at the time stopped says.
func (l Lockout) readyAfter(s Step, stopped func(Event) time.Time) time.Time {
	var last time.Time
	if s.Wait <= 0 {
		return last
	}
	for _, other := range l.Procedure.Steps {
		if e, done := l.Done[other.ID]; done && other.Stage == ShutDown && stopped(e).After(last) {
			last = stopped(e)
		}
	}
	return last.Add(s.Wait)
}

// member returns person's present stay, or nil.
func (l *Lockout) member(person PersonID) *Member {
	for i := range l.Members {
		if l.Members[i].Person == person && l.Members[i].Left.IsZero() {
			return &l.Members[i]
		}
	}
	return nil
}

// lockOn returns the lock of that number that is on, or nil. Numbers are
// compared without regard to case and outer blanks.
func (l *Lockout) lockOn(number string) *Lock {
	for i := range l.Locks {
		if l.Locks[i].Off.IsZero() && strings.EqualFold(l.Locks[i].Number, strings.TrimSpace(number)) {
			return &l.Locks[i]
		}
	}
	return nil
}

// ownLocksOn tells whether person has an own lock on every device that takes
// one, or on the box, (f)(3)(ii)(D).
func (l Lockout) ownLocksOn(person PersonID) bool {
	for _, lock := range l.LocksOn() {
		if lock.Owner == person && lock.Device == "" {
			return true
		}
	}
	return l.deviceLocksOn(person)
}

// deviceLocksOn tells whether person has an own lock on every device that takes
// one; the box doesn't count.
func (l Lockout) deviceLocksOn(person PersonID) bool {
	own := map[DeviceID]bool{}
	for _, lock := range l.LocksOn() {
		own[lock.Device] = own[lock.Device] || lock.Owner == person
	}
	some := false
	for _, d := range l.Procedure.Devices {
		if d.Lockable && !own[d.ID] {
			return false
		}
		some = some || d.Lockable
	}
	return some
}

// bare returns the first device that takes a lock and would have none, should
// the locks that go come off, "" for none. Where none was on before, none is
// laid bare.
func (l Lockout) bare(goes func(Lock) bool) DeviceID {
	for _, d := range l.Procedure.Devices {
		had, left := false, false
		for _, lock := range l.LocksOn() {
			had = had || lock.Device == d.ID
			left = left || lock.Device == d.ID && !goes(lock)
		}
		if d.Lockable && had && !left {
			return d.ID
		}
	}
	return ""
}

// onBox returns the first personal lock on the box with the keys, or nil.
func (l Lockout) onBox() *Lock {
	for _, lock := range l.LocksOn() {
		if lock.Device == "" {
			return &lock
		}
	}
	return nil
}

// clone is a copy that shares nothing that Apply changes.
func (l Lockout) clone() Lockout {
	l.Done = maps.Clone(l.Done)
	l.Locks = slices.Clone(l.Locks)
	l.Members = slices.Clone(l.Members)
	l.Events = slices.Clone(l.Events)
	return l
}
