package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Beginning is what somebody says who begins a lockout.
type Beginning struct {
	ID        LockoutID
	Procedure Procedure
	Task      string
	By        Person
	Expected  time.Time // the end
	At        time.Time
	Late      bool // done with the printed placard and entered afterwards
	Craft     string

	// Coordinator answers over this and the other lockouts that meet it: see [Overlaps]
	// and [Coordinators], (f)(3)(ii)(C); only where there are such.
	Coordinator PersonID
}

// Begin starts a lockout and returns it with the event to keep; open is the
// lockouts under way. Its errors are [plain.Problems] for the fields "task" and
// "expected", else a [plain.Refusal]: somebody not authorized or who has left
// the mill, 29 CFR 1910.147(c)(8); a draft, or a procedure with a gap, (c)(4);
// another lockout that meets it and nobody over both, (f)(3)(ii)(C).
func (b Beginning) Begin(open []Lockout) (Lockout, Event, error) { return b.begin(open, law{}) }

// beginAsked is a beginning and what is under way.
type beginAsked struct {
	Beginning
	open []Lockout
}

func beginRules() []rule[beginAsked, error] {
	return []rule[beginAsked, error]{
		{"(f)(3)(ii)(C) coordinated", func(a beginAsked) error {
			over, all := Overlaps(a.open, a.Procedure), Coordinators(a.open, a.Procedure)
			switch {
			case len(over) == 0 || slices.Contains(all, a.Coordinator):
				return nil
			case len(all) == 0:
				return plain.Refuse(Clause("(f)(3)(ii)(C)"), "%d lockouts that this one meets are under way, and nobody answers for or coordinates all of them. Join one with your own lock; or one person takes them over first, or one of them ends.", len(over))
			}
			return plain.Refuse(Clause("(f)(3)(ii)(C)"), "Another lockout of the same equipment, or of devices or equipment that this one locks off too, is under way. Join it with your own lock, or name the one who answers for it to coordinate both: for more than one, somebody who answers for or coordinates each.")
		}},
		{"(c)(8) authorized to begin", func(a beginAsked) error {
			if a.By.Works() && a.By.Authorized {
				return nil
			}
			return plain.Refuse(Clause("(c)(8)"),
				"Only somebody of the crew who is recorded as authorized to lock out may begin. %s isn't; ask the supervisor.", a.By.Name)
		}},
		{"(c)(4)(i) published", func(a beginAsked) error {
			if a.Procedure.Version >= 1 {
				return nil
			}
			return plain.Refuse(Clause("(c)(4)(i)"),
				"This procedure is a draft. The supervisor reads it against the machine and publishes it first.")
		}},
		{"(c)(4)(ii) without a gap", func(a beginAsked) error {
			err := a.Procedure.Validate()
			if err == nil {
				return nil
			}
			return plain.Refuse(Clause("(c)(4)(ii)"), "This procedure has a gap and can't be used: %s", err.Error())
		}},
	}
}

func (b Beginning) begin(open []Lockout, w law) (Lockout, Event, error) {
	if err := refusedBy(keptBy(w, beginRules()), beginAsked{b, open}); err != nil {
		return Lockout{}, Event{}, err
	}
	e := Event{Kind: Began, Person: b.By.ID, At: b.At, Late: b.Late, Note: strings.TrimSpace(b.Task), Until: b.Expected,
		Craft: strings.TrimSpace(b.Craft), Coordinator: b.Coordinator}
	var bad plain.Problems
	bad.Unless(e.Note != "", "task", "say what is going to be done")
	bad.Unless(e.Until.After(e.At), "expected", "a time after the start")
	if err := bad.Err(); err != nil {
		return Lockout{}, Event{}, err
	}
	l, err := started(b.ID, b.Procedure, e, w)
	if err != nil {
		return Lockout{}, Event{}, err
	}
	return l, e, nil
}

// Overlaps returns which of the lockouts under way meet p: at equipment that
// either services or locks off besides, or at an isolating device of both. They
// are joined, or somebody coordinates them with the new one.
func Overlaps(open []Lockout, p Procedure) []LockoutID {
	var over []LockoutID
	for _, l := range open {
		if l.Open() && l.Procedure.meets(p) {
			over = append(over, l.ID)
		}
	}
	return over
}

// Coordinators returns who may be named over a new lockout by p and all those it
// meets: who answers for or coordinates every one of these, each once, the first
// to answer first. None where it meets none, or where nobody is over all.
func Coordinators(open []Lockout, p Procedure) []PersonID {
	var over []PersonID
	met := slices.DeleteFunc(slices.Clone(open), func(l Lockout) bool { return !l.Open() || !l.Procedure.meets(p) })
	for _, l := range met {
		for _, who := range []PersonID{l.Primary, l.Coordinator} {
			all := !slices.ContainsFunc(met, func(other Lockout) bool { return other.Primary != who && other.Coordinator != who })
			if who != "" && all && !slices.Contains(over, who) {
				over = append(over, who)
			}
		}
	}
	return over
}

// CoordinatorAway tells whether who was named over l and others is signed on to
// none of the lockouts under way any more: nobody on the job coordinates them.
func (l Lockout) CoordinatorAway(open []Lockout) bool {
	return l.Open() && l.Coordinator != "" && l.member(l.Coordinator) == nil && !slices.ContainsFunc(open, func(other Lockout) bool {
		return other.Open() && other.member(l.Coordinator) != nil
	})
}

// meets tells whether p and other have equipment or an isolating device in common.
func (p Procedure) meets(other Procedure) bool {
	held := slices.Concat(other.Equipment, other.Holds)
	return slices.ContainsFunc(slices.Concat(p.Equipment, p.Holds), func(id EquipmentID) bool { return slices.Contains(held, id) }) ||
		slices.ContainsFunc(p.Devices, func(d Device) bool {
			_, shared := other.device(d.ID)
			return shared
		})
}

// services tells whether p and other are for a piece of equipment in common.
func (p Procedure) services(other Procedure) bool {
	return slices.ContainsFunc(p.Equipment, func(id EquipmentID) bool { return slices.Contains(other.Equipment, id) })
}

// Begin is [Beginning.Begin] where no other lockout is under way.
func Begin(id LockoutID, p Procedure, task string, by Person, expected, now time.Time) (Lockout, Event, error) {
	return Beginning{ID: id, Procedure: p, Task: task, By: by, Expected: expected, At: now}.Begin(nil)
}

// BeginLate is [Begin] for a lockout that was done with the printed placard and
// is entered afterwards; happened is when it began.
func BeginLate(id LockoutID, p Procedure, task string, by Person, expected, happened time.Time) (Lockout, Event, error) {
	return Beginning{ID: id, Procedure: p, Task: task, By: by, Expected: expected, At: happened, Late: true}.Begin(nil)
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
	return folded(id, p, events, law{})
}

// Continue is what [Replay] makes of l's events and one more, for an l that Replay
// made: an event that happened after those is asked alone. On an error l is
// worthless.
func (l *Lockout) Continue(e Event) error {
	if last := len(l.Events) - 1; last >= 0 && !e.At.Before(l.Events[last].At) {
		return l.take(e, law{}, false)
	}
	next, err := Replay(l.ID, l.Procedure, append(slices.Clip(l.Events), e))
	*l = next
	return err
}

// folded is the state that events, in the order they happened, lead to.
func folded(id LockoutID, p Procedure, events []Event, w law) (Lockout, error) {
	l, err := started(id, p, events[0], w)
	for _, e := range events[1:] {
		if err != nil {
			break
		}
		err = l.take(e, w, false)
	}
	if err != nil {
		return Lockout{}, err
	}
	return l, nil
}

// started is the state after the first event.
func started(id LockoutID, p Procedure, e Event, w law) (Lockout, error) {
	if e.Kind != Began || e.Person == "" || e.At.IsZero() {
		return Lockout{}, plain.Refuse(Clause("(d)"), "A lockout begins with who begins it, when, and for which task.")
	}
	l := Lockout{
		ID: id, Procedure: p, Task: e.Note, Begun: e.At, Expected: e.Until,
		Primary: e.Person, Stage: Prepare, Done: map[StepID]Event{},
		Members:     []Member{{Person: e.Person, Joined: e.At, Craft: e.Craft}},
		Events:      []Event{e},
		Coordinator: e.Coordinator,
	}
	l.advance(w)
	return l, nil
}
