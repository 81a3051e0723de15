package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Clause is the paragraph of 29 CFR 1910.147 that asks for the stage, "" for an
// unknown one. What comes right before and after the locks come off, controls to
// neutral and power back, is spelled out in its Appendix A only.
func (s Stage) Clause() string {
	switch s {
	case Prepare:
		return Clause("(d)(1)")
	case Notify:
		return Clause("(c)(9)")
	case ShutDown:
		return Clause("(d)(2)")
	case Isolate:
		return Clause("(d)(3)")
	case Apply:
		return Clause("(d)(4)")
	case Relieve:
		return Clause("(d)(5)")
	case Verify, Work:
		return Clause("(d)(6)")
	case InspectArea:
		return Clause("(e)(1)")
	case ClearPeople:
		return Clause("(e)(2)(i)")
	case ControlsOff, Restore:
		return Clause(" Appendix A")
	case RemoveLocks:
		return Clause("(e)(3)")
	case NotifyRestored:
		return Clause("(e)(2)(ii)")
	default:
		return ""
	}
}

// Words names the stage for a heading.
func (s Stage) Words() plain.Sentence {
	switch s {
	case Prepare:
		return plain.Say("Know every energy")
	case Notify:
		return plain.Say("Tell those it touches")
	case ShutDown:
		return plain.Say("Shut down")
	case Isolate:
		return plain.Say("Isolate")
	case Apply:
		return plain.Say("Put your locks on")
	case Relieve:
		return plain.Say("Relieve or hold what is stored")
	case Verify:
		return plain.Say("Prove it at zero")
	case Work:
		return plain.Say("Work")
	case InspectArea:
		return plain.Say("Look the area over")
	case ClearPeople:
		return plain.Say("Everybody clear")
	case ControlsOff:
		return plain.Say("Controls to off")
	case RemoveLocks:
		return plain.Say("Take your locks off")
	case Restore:
		return plain.Say("Restore")
	case NotifyRestored:
		return plain.Say("Tell them it is back")
	default:
		return plain.Say("Stage not known")
	}
}

// listed tells whether the steps of a stage are done in the order they are
// listed: stopping a machine, letting stored energy out and giving power back
// each go wrong the other way round, (d)(2) "orderly".
func (s Stage) listed() bool { return s == ShutDown || s == Relieve || s == Restore }

// Words says what a proof asks of a person.
func (p Proof) Words() plain.Sentence {
	switch p {
	case Tick:
		return plain.Say("done")
	case TryStart:
		return plain.Say("the start was tried, nothing moved, and the control is back at off")
	case MarkStill:
		return plain.Say("the painted mark was seen standing still for the whole wait")
	case BlockIn:
		return plain.Say("the block, pin or chock is in place")
	case GaugeZero:
		return plain.Say("the gauge reads zero and the lever moves nothing")
	case HookEmpty:
		return plain.Say("the hook is empty and the chain slack")
	case MeterDead:
		return plain.Say("a qualified person measured it dead")
	default:
		return plain.Say("a proof that isn't known")
	}
}

// Present returns the steps of the present stage, done or not; none while work
// goes on or after the end.
func (l Lockout) Present() []Step {
	if !l.Open() {
		return nil
	}
	return l.Procedure.stage(l.Stage)
}

// CalledOff tells whether the release was opened before everything was isolated,
// locked and proven at zero: nobody has worked, and nobody is protected who
// reaches in, 29 CFR 1910.147(d). The locks that are on come off in the order of
// (e) all the same.
func (l Lockout) CalledOff() bool {
	return l.Open() && l.Stage > Work && slices.ContainsFunc(l.Procedure.Steps, func(s Step) bool {
		_, done := l.Done[s.ID]
		return s.Stage < Work && !done
	})
}

// undone returns the present steps still to do.
func (l *Lockout) undone() []Step {
	return slices.DeleteFunc(slices.Clone(l.Present()), func(s Step) bool {
		_, done := l.Done[s.ID]
		return done
	})
}

// whole names the rule that a stage is left only with every step of it done.
func (s Stage) whole() string {
	return strings.TrimSpace(strings.TrimPrefix(s.Clause(), Clause(""))) + " " + s.Words().Format + ": every step"
}

// advance moves on past every stage that is complete. Work ends, and the last
// notice closes, only by an event of its own.
func (l *Lockout) advance(w law) {
	for l.Open() && l.Stage != Work && l.Stage != NotifyRestored && l.complete(w) {
		if m := l.member(l.Primary); l.Stage == Verify && m != nil {
			m.Verified = l.Events[len(l.Events)-1].At
		}
		l.Stage++
	}
}

// complete tells whether nothing of the present stage is left. A lock that
// never went on, in a lockout given up half way, need not come off.
func (l *Lockout) complete(w law) bool {
	if l.Stage == RemoveLocks && len(l.LocksOn()) > 0 && w.asks("(e)(3) every lock off") {
		return false
	}
	for _, s := range l.undone() {
		if d, _ := l.Procedure.device(s.Device); l.Stage == RemoveLocks && d.Lockable {
			continue
		}
		return !w.asks(l.Stage.whole())
	}
	return true
}

// Missing says what of the present stage is not yet reported; empty when
// nothing is, while work goes on and after the end.
func (l Lockout) Missing() plain.Sentence {
	missing, _ := l.missing()
	return missing
}

func (l *Lockout) missing() (what plain.Sentence, clause string) {
	switch undone := l.undone(); {
	case !l.Open():
		return plain.Sentence{}, ""
	case l.Test == TestPrepared && len(l.LocksOn()) > 0:
		return plain.Say("lock %s taken off by its owner, for the test", l.LocksOn()[0].Number), Clause("(f)(1)(iii)")
	case l.Test != "":
		return plain.Say("the end of the test, then everything isolated, locked and proven again"), Clause("(f)(1)(v)")
	case l.Stage == Work && l.Overnight:
		return plain.Say("the proof at zero, given again after the night"), Work.Clause()
	case l.Stage == RemoveLocks && len(l.LocksOn()) > 0:
		return plain.Say("lock %s taken off by its owner", l.LocksOn()[0].Number), RemoveLocks.Clause()
	case len(undone) == 1:
		return plain.Say("%s", undone[0].Text), undone[0].Clause
	case len(undone) > 1:
		return plain.Say("%s (and %d more at this stage)", undone[0].Text, len(undone)-1), undone[0].Clause
	default:
		return plain.Sentence{}, l.Stage.Clause()
	}
}

// notYet refuses an act that comes after the present stage.
func (l *Lockout) notYet() error {
	missing, clause := l.missing()
	switch {
	case !missing.Empty():
		return plain.Refuse(clause, "Not yet. First: %s", missing)
	case l.Stage == Work:
		return plain.Refuse(InspectArea.Clause(), "Not yet. First: the end of the work, reported by the one who answers for the lockout.")
	default:
		return plain.Refuse(l.Stage.Clause(), "It is too late for this: the release has begun.")
	}
}

// NextAt says what to do at now: what can build up again and is late to be
// proven again comes before all else.
func (l Lockout) NextAt(now time.Time) plain.Sentence {
	if late, since := l.RecheckDue(now); late.ID != "" {
		return plain.Say("Hands out. This can build up again and was to be proven at zero again by %[1]s: %[2]s", since, late.Text)
	}
	return l.Next()
}

// Next says what to do now, whatever the time.
func (l Lockout) Next() plain.Sentence {
	missing := l.Missing()
	switch {
	case l.Cancelled:
		return plain.Say("This lockout was cancelled.")
	case l.Closed:
		return plain.Say("This lockout is over: reported back in service.")
	case l.Test == TestPrepared && len(l.LocksOn()) > 0:
		return plain.Say("For the test: take your own locks off, everybody clear. Nobody reaches in. Or give the test up; then all of isolation is done again.")
	case l.Test == TestPrepared:
		return plain.Say("Your locks are off: NOBODY IS PROTECTED. See everybody clear, then report power on for the test, or give it up.")
	case l.Test == TestEnergized:
		return plain.Say("Reported under power for a test: NOBODY IS PROTECTED. When it is done, control off and report the end; then isolate, lock and prove everything again.")
	case l.Stage == Work && l.TakenToEnd():
		return plain.Say("Reported proven at zero again, to end it: NOBODY WORKS under it. Report the end of the work, then look the machine over.")
	case l.Stage == Work && l.Overnight:
		return plain.Say("Left locked. Before anybody reaches in: put your own lock on, then prove every energy at zero again.")
	case l.Stage == Work && l.Working:
		return plain.Say("Work. When it is done, report the end; whoever leaves takes their own lock off.")
	case l.Stage == Work && !slices.ContainsFunc(l.Members, func(m Member) bool { return m.Left.IsZero() && !m.Verified.IsZero() }):
		return plain.Say("Before anybody reaches in: prove every energy at zero again, under your own lock.")
	case l.Stage == Work:
		return plain.Say("Reported proven at zero. Report the start of the work, or leave it locked overnight.")
	case l.Stage == NotifyRestored && missing.Empty():
		return plain.Say("Report it back in service.")
	case l.CalledOff() && l.Stage < RemoveLocks:
		return plain.Say("Called off before everything was locked and proven at zero: NOBODY REACHES IN. Look it over from outside, then take the locks off in order. Now: %s", missing)
	default:
		return missing
	}
}
