package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// law is the rules a lockout is folded by. The zero law is the whole of them
// and the only one there is outside of tests: these leave rules out of a law of
// their own, to see that what a rule keeps from happening then happens.
type law struct {
	without []string
}

// asks tells whether the rule of that name is part of w.
func (w law) asks(name string) bool { return !slices.Contains(w.without, name) }

// asked is one act as the rules see it: what was done, to which lockout as it
// stood then. By is who is signed in, for the rules of entering it only.
type asked struct {
	l  *Lockout
	e  Event
	by Person
	s  Step   // the event's, the zero Step where it names none
	d  Device // the event's, likewise
}

func ask(l *Lockout, e Event, by Person) asked {
	a := asked{l: l, e: e, by: by}
	a.s, _ = l.Procedure.step(e.Step)
	a.d, _ = l.Procedure.device(e.Device)
	if e.Kind == StepDone {
		a.d, _ = l.Procedure.device(a.s.Device)
	}
	return a
}

// keptBy are the rules of w among all.
func keptBy[C any](w law, all []rule[C, error]) []rule[C, error] {
	return slices.DeleteFunc(all, func(r rule[C, error]) bool { return !w.asks(r.name) })
}

// act is one kind of event: the rules that are asked of it, in order, and what
// it changes when none is against it.
type act struct {
	rules  []rule[asked, error]
	change func(*Lockout, Event)
}

// actOf returns what there is to a kind of event within a lockout.
func actOf(kind EventKind) (act, bool) {
	switch kind {
	case StepDone:
		return act{stepRules(), (*Lockout).stepDone}, true
	case LockApplied:
		return act{applyRules(), (*Lockout).lockApplied}, true
	case Joined:
		return act{joinRules(), (*Lockout).joined}, true
	case LeftJob:
		return act{leaveRules(), (*Lockout).leftJob}, true
	case LeftOvernight:
		return act{overnightRules(), (*Lockout).leftOvernight}, true
	case Reverified:
		return act{reverifyRules(), (*Lockout).reverified}, true
	case Rechecked:
		return act{recheckRules(), (*Lockout).rechecked}, true
	case HandedOver:
		return act{takeOverRules(), (*Lockout).handedOver}, true
	case LockTaken:
		return act{takenRules(), (*Lockout).lockTaken}, true
	case ToldOfLock:
		return act{toldRules(), (*Lockout).toldOfLock}, true
	case TestAsked:
		return act{testAskedRules(), (*Lockout).testAsked}, true
	case Energized:
		return act{energizedRules(), func(l *Lockout, _ Event) { l.Test = TestEnergized }}, true
	case TestEnded:
		return act{testEndedRules(), (*Lockout).testEnded}, true
	case WorkBegan:
		return act{workRules(), func(l *Lockout, _ Event) { l.Working = true }}, true
	case LaterEnd:
		return act{laterEndRules(), func(l *Lockout, e Event) { l.Expected = e.Until }}, true
	case WorkEnded:
		return act{endRules(), (*Lockout).workEnded}, true
	case Resumed:
		return act{resumeRules(), (*Lockout).resumed}, true
	case LockRemoved:
		return act{removeRules(), (*Lockout).lockRemoved}, true
	case Restored:
		return act{restoreRules(), func(l *Lockout, e Event) { l.Closed, l.Ended = true, e.At }}, true
	case Cancelled:
		return act{cancelRules(), func(l *Lockout, e Event) { l.Cancelled, l.Ended = true, e.At }}, true
	}
	return act{}, false
}

// take asks the rules of e's kind and changes l; on an error l is worthless,
// callers work on a copy. What is entered now is asked more than what was kept
// before: see enterRules.
func (l *Lockout) take(e Event, w law, entered bool) error {
	if e.Person == "" || e.At.IsZero() {
		return plain.Refuse(Clause("(d)"), "Say who did it and when.")
	}
	if len(l.Events) == 0 {
		return plain.Refuse(Clause("(d)"), "This lockout hasn't begun.")
	}
	if !l.Open() && e.Kind != ToldOfLock { // who comes back may come back after the end
		return plain.Refuse("", "This lockout is over. Begin a new one.")
	}
	act, known := actOf(e.Kind)
	if !known {
		return plain.Refuse("", "A lockout under way has no such act.")
	}
	rules := act.rules
	if entered {
		rules = append(rules, enterRules()...)
	}
	if err := refusedAbout(keptBy(w, rules), ask(l, e, Person{})); err != nil {
		return err
	}
	act.change(l, e)
	l.Events = append(l.Events, e)
	l.advance(w)
	return nil
}
