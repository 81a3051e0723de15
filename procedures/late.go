package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// liveOnly is rules of what is reported as it happens. What is entered afterwards
// happened without them: it is taken, and each it lacks is a departure.
func liveOnly(rules []rule[asked, error]) []rule[asked, error] {
	live := make([]rule[asked, error], len(rules))
	for i, r := range rules {
		ask := r.ask
		live[i] = rule[asked, error]{r.name, func(a asked) error {
			if a.e.Late {
				return nil
			}
			return ask(a)
		}}
	}
	return live
}

// lacked is what e, entered afterwards by that person, should have shown and
// didn't, as things stood when it happened, and what it makes of the tools that
// were counted out.
func (l Lockout) lacked(e Event, by Person) []Gap {
	var gaps []Gap
	then := l.asOf(e.At)
	for _, r := range shownRules() {
		if why := refusal(r.ask(ask(&then, e, by))); why != nil {
			gaps = append(gaps, Gap{why.Why, why.Clause})
		}
	}
	next := l
	if e.Kind == Began || next.Apply(e, by) != nil {
		return gaps
	}
	known := l.miscounts()
	for _, m := range next.miscounts() {
		if !slices.Contains(known, m) {
			gaps = append(gaps, m.gap())
		}
	}
	return gaps
}

// asOf is l as it stood before what happens at that time.
func (l Lockout) asOf(at time.Time) Lockout {
	n := len(l.Events)
	for n > 0 && at.Before(l.Events[n-1].At) {
		n--
	}
	if n == 0 || n == len(l.Events) {
		return l
	}
	then, err := folded(l.ID, l.Procedure, l.Events[:n], law{})
	if err != nil {
		return l
	}
	return then
}

// miscount is one count of tools and parts by which the machine was given on with
// some of them in it, or with more out than in.
type miscount struct {
	kind    EventKind
	step    StepID
	in, out int
}

// miscounts are those of l, by what is known now of what was counted in before
// each.
func (l Lockout) miscounts() []miscount {
	var wrong []miscount
	for i, e := range l.Events {
		if !l.countsAllOut(e) {
			continue
		}
		before := Lockout{Procedure: l.Procedure, Events: l.Events[:i]}
		if in := before.ToolsIn(); e.Tools && in > 0 && in != e.ToolsOut {
			wrong = append(wrong, miscount{e.Kind, e.Step, in, e.ToolsOut})
		}
	}
	return wrong
}

func (m miscount) gap() Gap {
	clause := Clause("(e)(1)")
	if m.kind == TestAsked {
		clause = Clause("(f)(1)(i)")
	}
	return Gap{plain.Say("Counted in and not out: by what is entered now, %[1]d tools and parts were in, and %[2]d were counted out. Find what is missing.", m.in, m.out), clause}
}

// minuteOver asks for a minute more of a wait that counts from a stop which was
// entered afterwards: a form says when to the minute, and the stop may have been
// at its end.
func minuteOver() rule[asked, error] {
	return rule[asked, error]{"(d)(5)(i) wait over from a stop entered to the minute", func(a asked) error {
		if a.e.Kind != StepDone {
			return nil
		}
		surely := a.l.surelyReadyAt(a.s)
		wait := surely.Sub(a.e.At)
		if wait <= 0 || surely.Equal(a.l.readyAt(a.s)) {
			return nil
		}
		return plain.Refuse(a.s.Clause, "The stop was entered to the minute, so the wait counts from the end of that minute. It may still be turning. Wait %s more.", (wait + time.Second - 1).Truncate(time.Second))
	}}
}

// surelyReadyAt is when s may be reported done, however late in its minute the
// stop was.
func (l Lockout) surelyReadyAt(s Step) time.Time {
	return l.readyAfter(s, func(e Event) time.Time {
		if e.Late && e.At.Equal(e.At.Truncate(time.Minute)) {
			return e.At.Add(time.Minute)
		}
		return e.At
	})
}
