package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// A guard that won't go on is found when the area is looked over: the release has
// begun, and the work isn't done. Until the first lock is off the primary goes
// back, and everybody proves zero again for themselves, 29 CFR 1910.147(d)(6).

// resumeRules are of going back from the release to work.
func resumeRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(f)(3)(ii)(A) back by the primary", primaryOnly},
		{"(e) back from the release", func(a asked) error {
			if a.l.Stage > Work {
				return nil
			}
			return plain.Refuse(Clause("(e)"), "The end of the work wasn't reported. Go on as it stands.")
		}},
		{"(d)(6) back only to what was at zero", func(a asked) error {
			if !a.l.CalledOff() {
				return nil
			}
			return plain.Refuse(Clause("(d)(6)"), "It was called off before everything was locked and proven at zero. Finish the release, then begin another lockout.")
		}},
		{"(d)(4) back only under every lock", func(a asked) error {
			if a.l.overByTest() || a.l.Stage <= RemoveLocks && a.l.deviceLocksOn(a.l.Primary) && !a.l.givenBack() {
				return nil
			}
			return plain.Refuse(Clause("(d)(4)"), "A lock is off already, or a block out. Finish the release, then begin another lockout for what is left to do.")
		}},
	}
}

// resumed goes back to work with every proof taken back, and what was done of the
// release to do again; after a test, which left no lock on, to the shutdown.
func (l *Lockout) resumed(Event) {
	over := l.overByTest()
	for i := range l.Members {
		l.Members[i].Verified = time.Time{}
	}
	for _, s := range l.Procedure.Steps {
		if s.Stage > Work {
			delete(l.Done, s.ID)
		}
	}
	l.Stage = Work
	if over {
		l.testEnded(Event{})
	}
}

// overByTest tells whether the release was opened by the end of a test: no lock is
// on.
func (l Lockout) overByTest() bool {
	over := false
	for _, e := range l.Events {
		switch e.Kind {
		case TestEnded:
			over = e.Over
		case Resumed, TestAsked:
			over = false
		}
	}
	return over
}

// givenBack tells whether a step with the locks, as of a pin out, was reported.
func (l Lockout) givenBack() bool {
	return slices.ContainsFunc(l.Procedure.Steps, func(s Step) bool {
		_, done := l.Done[s.ID]
		return done && s.Stage >= RemoveLocks
	})
}

// MayResume tells whether the primary may go back to work from the release.
func (l Lockout) MayResume() bool {
	e := Event{Kind: Resumed, Person: l.Primary}
	return l.Open() && !l.TakenToEnd() && refusedBy(resumeRules(), ask(&l, e, Person{})) == nil
}

// Outside says why nobody may reach in while the area is looked over: it wasn't
// proven at zero after a night, a lock or a test. Empty where it was, and outside
// of that part of the release.
func (l Lockout) Outside() plain.Sentence {
	m := l.member(l.Primary)
	switch {
	case !l.Open() || l.Stage <= Work || l.Stage >= RemoveLocks || m != nil && !m.Verified.IsZero():
		return plain.Sentence{}
	case l.CalledOff():
		return plain.Say("Called off before everything was locked and proven at zero: NOBODY REACHES IN.")
	case len(l.LocksOn()) == 0:
		return plain.Say("No lock is on since the test: NOBODY REACHES IN. Look it over from outside. Where something is left to do, go back: everything is isolated, locked and proven again.")
	}
	return plain.Say("Not proven at zero again since a night, a lock or a test: NOBODY REACHES IN. Look it over from outside, or prove zero again before the work is ended.")
}
