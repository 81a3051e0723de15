package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// RecheckDue returns the verify step that is late to be proven again, because
// what it proves can build up, and since when; the most overdue, the zero Step
// when none is late. Left locked overnight, nobody is at work and none is.
func (l Lockout) RecheckDue(now time.Time) (Step, time.Time) {
	var late Step
	var since time.Time
	for _, s := range l.BuildingUp() {
		if due := l.provenLast(s).Add(s.Recheck); now.After(due) && (late.ID == "" || due.Before(since)) {
			late, since = s, due
		}
	}
	return late, since
}

// RecheckNext is when the first of what can build up again has to be proven
// again, the zero time when nothing has to.
func (l Lockout) RecheckNext() time.Time {
	var next time.Time
	for _, s := range l.BuildingUp() {
		if due := l.provenLast(s).Add(s.Recheck); next.IsZero() || due.Before(next) {
			next = due
		}
	}
	return next
}

// BuildingUp returns the verify steps that are proven again while somebody may be
// at work: none at night, in a test, or once the release has begun.
func (l Lockout) BuildingUp() []Step {
	var steps []Step
	if !l.Open() || l.Stage != Work || l.Test != "" || l.Overnight {
		return nil
	}
	for _, s := range l.Procedure.Steps {
		if s.Stage == Verify && s.Recheck > 0 {
			steps = append(steps, s)
		}
	}
	return steps
}

// provenLast is when s was last shown at zero: by itself, or with all the others.
func (l *Lockout) provenLast(s Step) time.Time {
	last := l.Done[s.ID].At
	for _, e := range l.Events {
		if e.Kind == Reverified && e.At.After(last) {
			last = e.At
		}
	}
	return last
}

// recheckedInTime refuses to go to work while something that can build up again
// is late to be proven again.
func recheckedInTime() rule[asked, error] {
	return rule[asked, error]{"(d)(5)(ii) rechecked in time", func(a asked) error {
		late, since := a.l.RecheckDue(a.e.At)
		if late.ID == "" {
			return nil
		}
		return plain.Refuse(Clause("(d)(5)(ii)"), "This can build up again and was to be proven at zero again by %[1]s: %[2]s", since, late.Text)
	}}
}

// recheckRules are of doing one verify step again while work goes on.
func recheckRules() []rule[asked, error] {
	return append([]rule[asked, error]{
		signedOn(joinFirst()),
		duringWork(),
		noTest(),
		ownerTold(),
		{"(d)(5)(ii) a step that proves zero", func(a asked) error {
			if a.s.ID != "" && a.s.Stage == Verify {
				return nil
			}
			return plain.Refuse(Clause("(d)(5)(ii)"), "Say which of the verify steps was done again.")
		}},
		{"(f)(3)(ii)(D) own locks before the own proof", ownLocksFirst},
	}, proofRules()...)
}

func (l *Lockout) rechecked(e Event) { l.Done[e.Step] = e }
