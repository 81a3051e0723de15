package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Apply adds e, done by the person signed in. It happens whole or, with an
// error, not at all: a [plain.Refusal] names the missing step and its clause.
// A live event may not be older than the newest one; a Late one takes its place
// by the time it happened, and is refused when that would make another event
// stand out of order.
func (l *Lockout) Apply(e Event, by Person) error {
	if err := l.permit(e, by); err != nil {
		return err
	}
	if len(l.Events) > 0 && e.At.Before(l.Events[len(l.Events)-1].At) {
		next, err := Replay(l.ID, l.Procedure, append(slices.Clone(l.Events), e))
		if err != nil {
			return err
		}
		*l = next
		return nil
	}
	next := l.clone()
	if err := next.take(e); err != nil {
		return err
	}
	*l = next
	return nil
}

// permit asks whether by may report e at all. Going on from zero to work needs
// an authorized person; taking off the own lock and clearing up never does, so
// that a card that lapsed meanwhile keeps nobody's lock on.
func (l *Lockout) permit(e Event, by Person) error {
	if e.Person == "" || e.Person != by.ID {
		return plain.Refuse(Clause("(c)(8)"), "Each person reports only what they did themselves. Sign in as yourself.")
	}
	if !by.Works() {
		return plain.Refuse(Clause("(c)(8)"), "%s isn't of the crew; only the crew locks out.", by.Name)
	}
	step, _ := l.Procedure.step(e.Step)
	towardsWork := e.Kind == LockApplied || e.Kind == Joined || e.Kind == Reverified || e.Kind == WorkBegan ||
		e.Kind == StepDone && step.Stage < Work
	if towardsWork && !by.Authorized {
		return plain.Refuse(Clause("(c)(8)"), "%s isn't recorded as authorized to lock out. Ask the supervisor.", by.Name)
	}
	if !by.QualifiedElectrical && (e.Kind == StepDone && step.Proof == MeterDead || e.Kind == Reverified && l.Procedure.proves(MeterDead)) {
		return plain.Refuse(Clause("(d)(6)"), "This needs a meter, and %s isn't recorded as qualified for it. Get a qualified electrician.", by.Name)
	}
	if e.Kind == Cancelled && by.ID != l.Primary && !by.Supervises() {
		return plain.Refuse(Clause("(d)"), "Only the one who began it, or the supervisor, cancels a lockout.")
	}
	return nil
}

// take checks e against the order of steps and changes l; on an error l is
// worthless, callers work on a copy.
func (l *Lockout) take(e Event) error {
	if e.Person == "" || e.At.IsZero() {
		return plain.Refuse(Clause("(d)"), "Say who did it and when.")
	}
	if len(l.Events) == 0 {
		return plain.Refuse(Clause("(d)"), "This lockout hasn't begun.")
	}
	if !l.Open() {
		return plain.Refuse("", "This lockout is over. Begin a new one.")
	}
	act, known := map[EventKind]func(Event) error{
		StepDone: l.stepDone, LockApplied: l.lockApplied, WorkBegan: l.workBegan,
		Joined: l.joined, LeftJob: l.leftJob, LeftOvernight: l.leftOvernight, Reverified: l.reverified,
		WorkEnded: l.workEnded, LockRemoved: l.lockRemoved, Restored: l.restored, Cancelled: l.cancelled,
	}[e.Kind]
	if !known {
		return plain.Refuse("", "A lockout under way has no such act.")
	}
	if err := act(e); err != nil {
		return err
	}
	l.Events = append(l.Events, e)
	l.advance()
	return nil
}

// primaryOnly refuses e unless the one who began the lockout did it.
func (l *Lockout) primaryOnly(e Event) error {
	if e.Person != l.Primary {
		return plain.Refuse(Clause("(f)(3)(ii)(A)"), "This step is for the one who began the lockout and answers for it.")
	}
	return nil
}

func (l *Lockout) stepDone(e Event) error {
	s, known := l.Procedure.step(e.Step)
	if !known {
		return plain.Refuse(Clause("(c)(4)(i)"), "This version of the procedure has no such step.")
	}
	if s.Proof != MeterDead {
		if err := l.primaryOnly(e); err != nil {
			return err
		}
	}
	if err := l.inOrder(s); err != nil {
		return err
	}
	if err := l.proven(s, e); err != nil {
		return err
	}
	l.Done[s.ID] = e
	return nil
}

// inOrder asks that s is of the present stage, not done, and reported by tick.
func (l *Lockout) inOrder(s Step) error {
	if _, done := l.Done[s.ID]; done || s.Stage < l.Stage {
		return plain.Refuse(s.Clause, "This step is past. It can't be reported again.")
	}
	if s.Stage > l.Stage {
		return l.notYet()
	}
	if d, _ := l.Procedure.device(s.Device); d.Lockable && (s.Stage == Apply || s.Stage == RemoveLocks) {
		return plain.Refuse(s.Clause, "This step is done with a lock: give the lock's number.")
	}
	if s.Stage.listed() {
		if first := l.undone()[0]; first.ID != s.ID {
			return plain.Refuse(first.Clause, "Not yet. First: %s", first.Text)
		}
	}
	return nil
}

// proven asks for what the step wants beside the tick.
func (l *Lockout) proven(s Step, e Event) error {
	if wait := l.readyAt(s).Sub(e.At); wait > 0 {
		return plain.Refuse(s.Clause, "It may still be turning. Wait %s more.", (wait + time.Second - 1).Truncate(time.Second))
	}
	if s.Proof != Tick && e.Proof != s.Proof {
		return plain.Refuse(s.Clause, "This step needs its proof: %s", s.Proof.Words())
	}
	if s.Proof == TryStart && !e.OffBack {
		return refuseOffBack()
	}
	if (s.Stage == Notify || s.Stage == NotifyRestored) && blank(e.Told) {
		return plain.Refuse(s.Clause, "Say whom you told, and how. With nobody else about, say that.")
	}
	if s.Stage == InspectArea && !e.Tools && len(l.undone()) == 1 && !l.toolsCounted() {
		return plain.Refuse(s.Clause, "Count the tools and parts out of the machine first, and say so.")
	}
	if s.Stage == ClearPeople {
		for _, m := range l.SignedOn() {
			if m.Person != l.Primary {
				return plain.Refuse(s.Clause, "Somebody is still signed on to this job. Everybody takes the own lock off and signs off first.")
			}
		}
	}
	return nil
}

func (l *Lockout) toolsCounted() bool {
	for _, s := range l.Procedure.Steps {
		if s.Stage == InspectArea && l.Done[s.ID].Tools {
			return true
		}
	}
	return false
}

func blank(s string) bool { return strings.TrimSpace(s) == "" }

func refuseOffBack() error {
	return plain.Refuse(ControlsOff.Clause(), "Put the control back to off after trying it, and say so; else it starts when the locks come off.")
}
