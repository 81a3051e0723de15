package procedures

import "stillsaw/procedures/plain"

// Apply adds e, done by the person signed in. It happens whole or, with an
// error, not at all: a [plain.Refusal] names the missing step and its clause.
// A live event may not be older than the newest one; a Late one takes its place
// by the time it happened, and is refused when that would make another event
// stand out of order.
func (l *Lockout) Apply(e Event, by Person) error { return l.apply(e, by, law{}) }

func (l *Lockout) apply(e Event, by Person, w law) error {
	if err := refusedBy(keptBy(w, permitRules()), ask(l, e, by)); err != nil {
		return err
	}
	at := len(l.Events) // e's place by the time it happened
	if w.asks("late entries in their place") {
		for at > 0 && e.At.Before(l.Events[at-1].At) {
			at--
		}
	}
	next := l.clone()
	if at < len(l.Events) {
		if !e.Late {
			return refuseOlder()
		}
		if at == 0 {
			return refuseStart()
		}
		before, err := folded(l.ID, l.Procedure, l.Events[:at], w)
		if err != nil {
			return err
		}
		next = before
	}
	if err := next.take(e, w, true); err != nil {
		return err
	}
	for _, later := range l.Events[at:] {
		if err := next.take(later, w, false); err != nil {
			return err
		}
	}
	*l = next
	return nil
}

func refuseOlder() error {
	return plain.Refuse(Clause("(d)"), "This is older than what was already reported. If it was done then and not entered, enter it as late.")
}

func refuseStart() error {
	return plain.Refuse(Clause("(d)"), "A lockout begins with who begins it, when, and for which task.")
}

// towardsWork tells whether a's event goes on from zero to work, or gives power
// for a test: it needs an authorized person. Taking off the own lock and clearing
// up never does, so that a card that lapsed meanwhile keeps nobody's lock on.
func (a asked) towardsWork() bool {
	switch a.e.Kind {
	case LockApplied, Joined, Reverified, Rechecked, WorkBegan, TestAsked, Energized:
		return true
	case HandedOver:
		return !a.e.ToEnd
	case StepDone:
		return a.s.Stage < Work
	}
	return false
}

// offWithTheOwn tells whether a's event only takes the own lock off, or says that
// somebody knows it was taken off: who reads only by now and has a lock on from
// before may still do both.
func (a asked) offWithTheOwn() bool {
	return a.e.Kind == LockRemoved || a.e.Kind == LeftJob || a.e.Kind == ToldOfLock
}

// permitRules ask whether a person may report an act at all. They aren't asked
// again of what was entered once: people change.
func permitRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(c)(8) signs for oneself", func(a asked) error {
			if a.e.Person != "" && a.e.Person == a.by.ID {
				return nil
			}
			return plain.Refuse(Clause("(c)(8)"), "Each person reports only what they did themselves. Sign in as yourself.")
		}},
		{"(c)(8) of the crew", func(a asked) error {
			if a.by.Works() || a.by.Reads() && a.offWithTheOwn() {
				return nil
			}
			return plain.Refuse(Clause("(c)(8)"), "%s isn't of the crew; only the crew locks out.", a.by.Name)
		}},
		{"(c)(8) authorized", func(a asked) error {
			if a.by.Authorized || !a.towardsWork() {
				return nil
			}
			return plain.Refuse(Clause("(c)(8)"), "%s isn't recorded as authorized to lock out. Ask the supervisor.", a.by.Name)
		}},
		{"(d)(6) meter by a qualified person", func(a asked) error {
			meter := (a.e.Kind == StepDone || a.e.Kind == Rechecked) && a.s.Proof == MeterDead || a.e.Kind == Reverified && a.l.Procedure.proves(MeterDead)
			if a.by.ElectricalAt(a.e.At) || !meter {
				return nil
			}
			return plain.Refuse(Clause("(d)(6)"), "This needs a meter, and %s isn't recorded as qualified for it. Get a qualified electrician.", a.by.Name)
		}},
		{"(d) who cancels", func(a asked) error {
			if a.e.Kind != Cancelled || a.by.ID == a.l.Primary || a.by.Supervises() {
				return nil
			}
			return plain.Refuse(Clause("(d)"), "Only the one who answers for it, or the supervisor, cancels a lockout.")
		}},
		{"(f)(3)(ii)(A) to its end by a supervisor", func(a asked) error {
			if !a.e.ToEnd || a.by.Supervises() {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(ii)(A)"), "Only a supervisor takes a lockout to its end for somebody who isn't here. Join it with your own locks, prove zero, and take it over; or ask the supervisor.")
		}},
		authorizedToEnd(),
		{"(e)(3) by a supervisor", func(a asked) error {
			if a.e.Kind != LockTaken || a.by.Supervises() {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)"), "Only its owner takes a lock off. For somebody who isn't here the supervisor does, by the mill's written procedure.")
		}},
	}
}
