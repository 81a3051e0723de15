package procedures

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Standing is what is known of one person when they want to go to work under
// lock: everything that decides who may begin, join and put which lock on.
type Standing struct {
	Person  Person
	Learned Learned // of Person, on the procedure asked about

	// NoneEntered: the mill has entered no training for anybody. Until it has,
	// the supervisor's word that somebody is authorized counts alone, and a page
	// that shows it says so.
	NoneEntered bool

	Locks       []LockItem // the register
	Contractors []Contractor
	Program     Program
	Others      []Lockout // under way at the mill; the one reported in may be among them
	Ended       []Lockout // that were under way when what is entered late happened; needed for that alone
	Plant       Plant     // what moves or feeds what
}

// gateAsked is one act as the gate sees it.
type gateAsked struct {
	Standing
	p     Procedure
	joins bool     // begins, joins, does a step for those on the job: wasn't on it
	goes  bool     // goes on towards work
	takes bool     // takes an absent person's lock off
	locks []string // numbers of the locks put on, now or by an entry made afterwards
	now   time.Time

	id     LockoutID // of the lockout, "" before it is begun
	enters bool      // begins, comes on, proves zero for oneself, starts the work or takes over
	test   bool      // everything out for a test
	power  bool      // gives power for a test
	gives  bool      // gives energy back at a device or takes a block out
	device DeviceID  // where it gives that
	late   bool      // happened at now, which is past
}

// MayBegin returns nil when s lets the person begin a lockout by p at now, else
// a [plain.Refusal]: not authorized (c)(8), not trained (c)(7), an own lock taken
// off and not told of (e)(3)(iii), a firm whose procedures weren't exchanged
// (f)(2)(i).
func MayBegin(p Procedure, s Standing, now time.Time) error { return mayBegin(p, s, now, law{}) }

func mayBegin(p Procedure, s Standing, now time.Time, w law) error {
	return refusedBy(keptBy(w, gateRules()), gateAsked{Standing: s, p: p, joins: true, goes: true, enters: true, now: now})
}

// MayReport returns nil when s lets the person report e in l at now, else a
// [plain.Refusal]. What joins is asked what [MayBegin] is, and so is a step by
// somebody who isn't on the job; a lock put on must be one's own and fit. Who is on the job already isn't kept from going on for want
// of training: see [Lapses]. Taking off own locks, leaving, ending and telling
// are never refused, nor is what happened before and is entered late, but power
// for a test: see [Broken]. Whoever came on, or put a lock on, by such an entry is
// asked what that asks at the next act towards work.
func MayReport(l Lockout, e Event, s Standing, now time.Time) error {
	return mayReport(l, e, s, now, law{})
}

func mayReport(l Lockout, e Event, s Standing, now time.Time, w law) error {
	if e.Late && e.Kind != Energized {
		return nil
	}
	return refusedBy(keptBy(w, gateRules()), askedFor(l, e, s, now))
}

// MayReportTogether is [MayReport] of several events of one go. Its error is a
// [plain.Problems] as that of [Lockout.ApplyTogether].
func MayReportTogether(l Lockout, events []Event, s Standing, now time.Time) error {
	var refused plain.Problems
	for i, e := range events {
		if why := refusal(MayReport(l, e, s, now)); why != nil {
			refused.Unless(false, strconv.Itoa(i), "%s (%s)", why.Why, why.Clause)
		}
	}
	return refused.Err()
}

func askedFor(l Lockout, e Event, s Standing, now time.Time) gateAsked {
	a := gateAsked{Standing: s, p: l.Procedure, now: now, id: l.ID, power: e.Kind == Energized, late: e.Late}
	step, _ := l.Procedure.step(e.Step)
	switch e.Kind {
	case Began, Joined:
		a.joins, a.goes, a.enters = true, true, true
	case Reverified, WorkBegan:
		a.goes, a.enters = true, true
	case LockApplied, Rechecked, TestAsked, Energized:
		a.goes, a.test = true, e.Kind == TestAsked
	case HandedOver:
		a.goes, a.enters = !e.ToEnd, !e.ToEnd
	case LockTaken:
		a.takes = true
	case StepDone:
		a.goes, a.gives, a.device = step.Stage < Work, step.Stage == Restore, step.Device
		a.joins = a.goes && l.member(s.Person.ID) == nil // the one who measures comes for one step
	}
	// Whoever came on by an entry made afterwards was asked nothing then.
	a.joins = a.joins || a.goes && !e.Late && l.cameLate(s.Person.ID)
	if (e.Kind == LockApplied || e.Kind == Joined) && !blank(e.Lock) {
		a.locks = append(a.locks, e.Lock)
	}
	if a.goes && !e.Late {
		a.locks = append(a.locks, l.onLate(s.Person.ID)...)
	}
	return a
}

// cameLate tells whether person's last coming on the job was entered afterwards.
func (l *Lockout) cameLate(person PersonID) bool {
	late := false
	for _, e := range l.Events {
		if e.Person == person && (e.Kind == Began || e.Kind == Joined || e.Kind == HandedOver) {
			late = e.Late
		}
	}
	return late
}

// onLate are the numbers of person's locks that are on and went on by an entry
// made afterwards: nobody asked then whether each was their own and fit.
func (l *Lockout) onLate(person PersonID) []string {
	late := map[string]bool{}
	for _, e := range l.Events {
		if e.Kind == LockApplied || e.Kind == Joined {
			late[LockNumber(e.Lock)] = e.Late
		}
	}
	var numbers []string
	for _, lock := range l.LocksOn() {
		if lock.Owner == person && late[LockNumber(lock.Number)] {
			numbers = append(numbers, lock.Number)
		}
	}
	return numbers
}

// Broken returns what of the gate, as it stood when it happened, an event
// entered late went against, and what it should have shown and didn't. It
// happened, so it is entered, each of these as a departure.
func Broken(l Lockout, e Event, s Standing) []Gap {
	if !e.Late {
		return nil
	}
	var gaps []Gap
	for _, r := range gateRules() {
		why := refusal(r.ask(askedFor(l, e, s, e.At)))
		switch {
		case why == nil:
		case r.name == trainedRule:
			gaps = append(gaps, s.Learned.Gaps(l.Procedure, e.At)...) // each a departure, as those of [Lapses] are
		default:
			gaps = append(gaps, Gap{why.Why, why.Clause})
		}
	}
	gaps = append(gaps, l.besideEnded(e, s)...)
	return append(gaps, l.lacked(e, s.Person)...)
}

const trainedRule = "trained"

// Lapses returns what the person, on the job in l, turns out to lack. They are
// not kept from going on; each is entered as a departure. None for somebody who
// isn't signed on.
func Lapses(l Lockout, s Standing, now time.Time) []Gap {
	if !l.Open() || l.member(s.Person.ID) == nil || s.NoneEntered {
		return nil
	}
	return s.Learned.Gaps(l.Procedure, now)
}

// MayTakeAbsentLock returns nil when std says in writing how the lock of somebody
// absent comes off, else a [plain.Refusal], 29 CFR 1910.147(e)(3).
func MayTakeAbsentLock(std Program) error {
	return gateAbsent(gateAsked{Standing: Standing{Program: std}, takes: true})
}

// refusal is err as one, nil for none.
func refusal(err error) *plain.Refusal {
	var why *plain.Refusal
	if errors.As(err, &why) {
		return why
	}
	return nil
}

func gateRules() []rule[gateAsked, error] {
	return []rule[gateAsked, error]{
		{"told of the own lock", gateTold},
		{"procedures exchanged", gateExchanged},
		{"authorized", gateAuthorized},
		{"version in force", gateVersion},
		{trainedRule, gateTrained},
		{"own good lock", gateLock},
		{"absent owner's procedure written", gateAbsent},
		{"no lock of another lockout where power comes", gateBeside},
		{"nothing given back that another lockout counts on", gateCountedOn},
		{"no other lockout under power that reaches here", gatePowered},
	}
}

func gateTold(a gateAsked) error {
	untold := UntoldOf(a.Person.ID, a.Locks)
	if !a.goes || len(untold) == 0 {
		return nil
	}
	return plain.Refuse(Clause("(e)(3)(iii)"), "Your lock %s was taken off while you were away. Say first that you know.", untold[0].Number)
}

func gateExchanged(a gateAsked) error {
	if !a.joins || a.Person.Firm == "" {
		return nil
	}
	c, known := FindContractor(a.Contractors, a.Person.Firm)
	switch {
	case !known:
		return plain.Refuse(Clause("(f)(2)(i)"), "%s isn't entered as a firm from outside. The supervisor exchanges procedures with it first.", a.Person.Firm)
	case c.OursGiven.IsZero():
		return plain.Refuse(Clause("(f)(2)(i)"), "Our procedures weren't given to %s yet. The supervisor enters the day.", c.Firm)
	case c.TheirsSeen.IsZero():
		return plain.Refuse(Clause("(f)(2)(i)"), "Nobody here has seen the procedures of %s yet. The supervisor enters the day.", c.Firm)
	}
	return nil
}

func gateAuthorized(a gateAsked) error {
	if !a.joins || a.Person.Works() && a.Person.Authorized {
		return nil
	}
	return plain.Refuse(Clause("(c)(8)"), "%s isn't recorded as authorized to lock out. Ask the supervisor.", a.Person.Name)
}

func gateTrained(a gateAsked) error {
	if !a.joins || a.NoneEntered {
		return nil
	}
	gaps := a.Learned.Gaps(a.p, a.now)
	if len(gaps) == 0 {
		return nil
	}
	why := make([]plain.Sentence, len(gaps))
	for i, g := range gaps {
		why[i] = g.Why
	}
	return plain.Refuse(gaps[0].Clause, "%[1]s may not go to work by this procedure yet: %[2]s. A supervisor enters the training once it was given.", a.Person.Name, why)
}

func gateLock(a gateAsked) error {
	for _, number := range a.locks {
		for _, other := range beside(a.id, a.Others) {
			if on := other.lockOn(number); on != nil && !a.notYet(on.On) {
				return plain.Refuse(Clause("(c)(5)(ii)"), "Lock %[1]s is reported on in another lockout: %[2]s. It can hang in one place only; give the number on the lock in your hand.", strings.TrimSpace(number), other.Procedure.Title)
			}
		}
		if _, _, err := MayUse(number, a.Person, a.Locks, a.Program, a.now); err != nil {
			return err
		}
	}
	return nil
}

func gateAbsent(a gateAsked) error {
	if !a.takes || !blank(a.Program.AbsentOwner) {
		return nil
	}
	return plain.Refuse(Clause("(e)(3)"), "How an absent person's lock comes off isn't written in this mill's program. Without that, only its owner takes it off.")
}
