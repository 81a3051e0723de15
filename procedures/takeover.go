package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// A primary who fell ill in the middle, or went home before the last notice,
// would leave a lockout nobody can end: only the primary reports steps. While
// work may be done somebody authorized takes over by [handOverRules]; at any
// stage, once nobody else is on the job and the primary isn't at the mill, a
// supervisor takes it to its end: no work, only the release, in its order.

// takeOverRules are of both ways.
func takeOverRules() []rule[asked, error] {
	rules := toEndRules()
	for _, r := range handOverRules() {
		ask := r.ask
		if r.name == "(f)(3)(ii)(A) one primary" {
			rules = append(rules, r)
			continue
		}
		rules = append(rules, rule[asked, error]{r.name, func(a asked) error {
			if a.e.ToEnd {
				return nil
			}
			return ask(a)
		}})
	}
	return rules
}

// toEndRules are of taking a lockout to its end.
func toEndRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(e)(3)(i) the primary isn't here", func(a asked) error {
			if !a.e.ToEnd || a.e.Person == a.l.Primary || !a.l.here(a.l.Primary, a.e) {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)(i)"), "The one who answers for this lockout is signed on and counts as here until %s, the end that was expected. Find them; they end it, or hand it over. If they went home before that: look for them, try to reach them, and say so here.", a.l.Expected)
		}},
		{"(e)(3)(ii) tried to reach the primary", func(a asked) error {
			if !a.e.ToEnd || !a.e.BeforeEnd || len(a.e.Tries) > 0 {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)(ii)"), "Before the end that was expected: try to reach the one who answers for it first, by every way there is, and enter each try.")
		}},
		{"(f)(3)(i) nobody else on the job", func(a asked) error {
			if !a.e.ToEnd || len(a.l.others()) == 0 {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(i)"), "Somebody else is signed on to this job. They sign off with their own lock, or take it over with own locks on every device.")
		}},
		{"(e) a lock was on to take to the end", func(a asked) error {
			if !a.e.ToEnd || len(a.l.Locks) > 0 {
				return nil
			}
			return plain.Refuse(Clause("(e)"), "No lock has been on yet. A supervisor cancels it.")
		}},
	}
}

// handedOver gives the responsibility to who came on.
func (l *Lockout) handedOver(e Event) {
	if e.ToEnd {
		l.toEnd(e)
	}
	l.Primary = e.Person
}

// toEnd signs the absent primary off, whose locks stay on till they come off in
// their turn, and opens the release where it wasn't begun. After a test it takes
// the machine back to the shutdown first; see isolatedAgain.
func (l *Lockout) toEnd(e Event) {
	if m := l.member(l.Primary); m != nil {
		m.Left, m.Away, m.Verified = e.At, false, time.Time{}
	}
	l.Members = append(l.Members, Member{Person: e.Person, Joined: e.At})
	l.Working, l.Overnight = false, false
	if l.isolatedAgain() {
		l.testEnded(e)
		return
	}
	l.Test = ""
	l.Stage = max(l.Stage, InspectArea)
}

// isolatedAgain tells whether a lockout taken to its end goes through all of
// isolation first: a test left it without locks, or under power, and nobody
// inspects such a machine.
func (l *Lockout) isolatedAgain() bool {
	return l.tested() && l.Stage <= Work && (l.Test == TestEnergized || !l.locked())
}

// TakenToEnd tells whether a supervisor took l over to end it: nobody works under
// it any more.
func (l Lockout) TakenToEnd() bool {
	return slices.ContainsFunc(l.Events, func(e Event) bool { return e.Kind == HandedOver && e.ToEnd })
}

// authorizedToEnd asks for an authorized supervisor where taking it to its end
// means isolating it: nobody else may do those steps, and it would stand still.
func authorizedToEnd() rule[asked, error] {
	return rule[asked, error]{"(c)(8) authorized to isolate it again", func(a asked) error {
		if !a.e.ToEnd || a.by.Authorized || !a.l.isolatedAgain() {
			return nil
		}
		return plain.Refuse(Clause("(c)(8)"), "A test left this without locks: it is isolated, locked and proven at zero again before its end. That takes a supervisor who is recorded as authorized to lock out, and %s isn't.", a.by.Name)
	}}
}

// onlyToItsEnd refuses work in a lockout a supervisor took to its end: after a
// test that goes through all of isolation once more, only so that the machine can
// be looked over.
func onlyToItsEnd() rule[asked, error] {
	return rule[asked, error]{"(f)(3)(ii)(A) only to its end", func(a asked) error {
		work := a.e.Kind == Joined || a.e.Kind == WorkBegan || a.e.Kind == TestAsked || a.e.Kind == Resumed
		if !work || !a.l.TakenToEnd() {
			return nil
		}
		return plain.Refuse(Clause("(f)(3)(ii)(A)"), "A supervisor took this lockout over to end it: nobody works under it any more. Take it to its end, then begin another.")
	}}
}

// powerByThePrimary refuses power for a test to anybody but the primary, who saw
// everybody out.
func powerByThePrimary() rule[asked, error] {
	return rule[asked, error]{"(f)(1)(iv) power by the primary", func(a asked) error {
		if a.e.Kind != Energized || a.e.Person == a.l.Primary {
			return nil
		}
		return plain.Refuse(Clause("(f)(1)(iv)"), "The one who answers for the lockout saw everybody out, and reports the power on for the test.")
	}}
}

// positionSaid asks where a lock holds its device.
func positionSaid() rule[asked, error] {
	return rule[asked, error]{"(d)(4)(ii) position said", func(a asked) error {
		if a.e.Kind != LockApplied && a.e.Kind != Joined || a.d.ID == "" || a.e.Position != "" {
			return nil
		}
		return plain.Refuse(Clause("(d)(4)(ii)"), "Say where the lock holds %[1]s: %[2]s.", a.d.Label, a.d.Kind.Position().Words())
	}}
}
