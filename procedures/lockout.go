package procedures

import (
	"maps"
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// VerificationLasts is how long a proof of zero counts before it must be given
// again. Common practice, no source: longer than a shift, shorter than a night,
// so that a lock left on overnight without saying so doesn't pass for verified.
const VerificationLasts = 12 * time.Hour

// Lockout is one use of one version of a procedure: the fold of its events and
// nothing else. It records what people reported; it isn't a lock. Make one with
// [Begin], carry it on with [Lockout.Apply], rebuild it with [Replay].
type Lockout struct {
	ID        LockoutID        `json:"id"`
	Procedure Procedure        `json:"procedure"` // the whole version used
	Task      string           `json:"task"`
	Begun     time.Time        `json:"begun"`
	Expected  time.Time        `json:"expected"` // expected end, or the morning of an overnight lock
	Primary   PersonID         `json:"primary"`  // who began it and answers for it, (f)(3)(ii)(A)
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
}

// Lock is one person's numbered lock, as its owner reported it.
type Lock struct {
	Number string    `json:"number"`
	Owner  PersonID  `json:"owner"`
	Device DeviceID  `json:"device"` // "": on the box that holds the keys of the locks on the devices
	On     time.Time `json:"on"`
	Off    time.Time `json:"off"` // zero: still on
}

// Member is one person's stay on the job. Somebody who leaves and joins again
// has two.
type Member struct {
	Person   PersonID  `json:"person"`
	Joined   time.Time `json:"joined"`
	Left     time.Time `json:"left"`     // zero: still signed on
	Verified time.Time `json:"verified"` // zero: not proven at zero by or for this person, or no longer
	Away     bool      `json:"away"`     // left the own lock on overnight and hasn't verified since
}

// Begin starts a lockout of p by an authorized person and returns it with the
// event to keep. Its errors are [plain.Problems] for the fields "task" and
// "expected", else a [plain.Refusal]: somebody not authorized or who has left
// the mill, 29 CFR 1910.147(c)(8); a draft, or a procedure with a gap, (c)(4).
func Begin(id LockoutID, p Procedure, task string, by Person, expected, now time.Time) (Lockout, Event, error) {
	return begin(id, p, by, Event{Kind: Began, Person: by.ID, At: now, Note: strings.TrimSpace(task), Until: expected})
}

// BeginLate is [Begin] for a lockout that was done with the printed placard and
// is entered afterwards; happened is when it began.
func BeginLate(id LockoutID, p Procedure, task string, by Person, expected, happened time.Time) (Lockout, Event, error) {
	return begin(id, p, by, Event{Kind: Began, Person: by.ID, At: happened, Late: true, Note: strings.TrimSpace(task), Until: expected})
}

func begin(id LockoutID, p Procedure, by Person, e Event) (Lockout, Event, error) {
	if !by.Works() || !by.Authorized {
		return Lockout{}, Event{}, plain.Refuse(Clause("(c)(8)"),
			"Only somebody of the crew who is recorded as authorized to lock out may begin. %s isn't; ask the supervisor.", by.Name)
	}
	if p.Version < 1 {
		return Lockout{}, Event{}, plain.Refuse(Clause("(c)(4)(i)"),
			"This procedure is a draft. The supervisor reads it against the machine and publishes it first.")
	}
	if err := p.Validate(); err != nil {
		return Lockout{}, Event{}, plain.Refuse(Clause("(c)(4)(ii)"), "This procedure has a gap and can't be used: %s", err.Error())
	}
	var bad plain.Problems
	bad.Unless(e.Note != "", "task", "say what is going to be done")
	bad.Unless(e.Until.After(e.At), "expected", "a time after the start")
	if err := bad.Err(); err != nil {
		return Lockout{}, Event{}, err
	}
	l, err := started(id, p, e)
	if err != nil {
		return Lockout{}, Event{}, err
	}
	return l, e, nil
}

// Replay folds events into the state they lead to. They may stand in the order
// they were entered: late ones take the place of the time they happened. It
// asks what the order of steps allows, not who may do what today: that was
// asked when each was entered, and people change.
func Replay(id LockoutID, p Procedure, events []Event) (Lockout, error) {
	var entered time.Time
	for _, e := range events {
		if e.At.Before(entered) && !e.Late {
			return Lockout{}, plain.Refuse(Clause("(d)"), "This is older than what was already reported. If it was done then and not entered, enter it as late.")
		}
		if e.At.After(entered) {
			entered = e.At
		}
	}
	events = slices.Clone(events)
	slices.SortStableFunc(events, func(a, b Event) int { return a.At.Compare(b.At) })
	if len(events) == 0 {
		return Lockout{}, plain.Refuse("", "This lockout has no events; it begins with who and which task.")
	}
	l, err := started(id, p, events[0])
	for _, e := range events[1:] {
		if err != nil {
			break
		}
		err = l.take(e)
	}
	if err != nil {
		return Lockout{}, err
	}
	return l, nil
}

// started is the state after the first event.
func started(id LockoutID, p Procedure, e Event) (Lockout, error) {
	if e.Kind != Began || e.Person == "" || e.At.IsZero() {
		return Lockout{}, plain.Refuse(Clause("(d)"), "A lockout begins with who begins it, when, and for which task.")
	}
	return Lockout{
		ID: id, Procedure: p, Task: e.Note, Begun: e.At, Expected: e.Until,
		Primary: e.Person, Stage: Prepare, Done: map[StepID]Event{},
		Members: []Member{{Person: e.Person, Joined: e.At}},
		Events:  []Event{e},
	}, nil
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
// procedure's equipment, every step up to the proof of zero is done, person has
// own locks on, and person's proof is newer than these, than any night between,
// and no older than [VerificationLasts].
func (l Lockout) VerifiedFor(person PersonID, eq EquipmentID, now time.Time) bool {
	if !l.Open() || l.Stage != Work || !slices.Contains(l.Procedure.Equipment, eq) {
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
			left = max(left, l.readyAt(s).Sub(now))
		}
	}
	return left
}

// readyAt is the earliest time s may be reported done.
func (l Lockout) readyAt(s Step) time.Time {
	var stopped time.Time
	if s.Wait <= 0 {
		return stopped
	}
	for _, other := range l.Procedure.Steps {
		if e, done := l.Done[other.ID]; done && other.Stage == ShutDown && e.At.After(stopped) {
			stopped = e.At
		}
	}
	return stopped.Add(s.Wait)
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
	own := map[DeviceID]bool{}
	for _, lock := range l.LocksOn() {
		if lock.Owner == person {
			own[lock.Device] = true
		}
	}
	if own[""] {
		return true
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

// clone is a copy that shares nothing that Apply changes.
func (l Lockout) clone() Lockout {
	l.Done = maps.Clone(l.Done)
	l.Locks = slices.Clone(l.Locks)
	l.Members = slices.Clone(l.Members)
	l.Events = slices.Clone(l.Events)
	return l
}
