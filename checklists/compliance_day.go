package checklists

import (
	"slices"
	"time"
)

// checks are the times one list was to be done that fall on the day, by the
// rules of [OnDay]; of lists that count from when they were last done or from
// what happened, by those of [Facts.Due] at the day's end.
func (c *Calendar) checks(k *kept, list List, shifts []ShiftTime, day span, now time.Time) []Check {
	asked := list
	asked.InForce = k.askedSince(list, day.Until)
	window := c.window(asked, day)
	states := c.past.onDay(asked, c.mill, k.between(window, now), shifts, day, now, c.w)
	if list.Schedule.Every != EachShift {
		// A version that still asked for each shift this morning did so until it
		// was put out of force.
		if before, known := InForceAt(k.versions, day.From); known && before.Schedule.Every == EachShift {
			next := list.InForce
			before.InForce = k.askedSince(before, next)
			for _, state := range c.past.onDay(before, c.mill, k.between(span{day.From.Add(-OffShiftLasts), day.Until.Add(offShiftAfter)}, now), shifts, day, now, c.w) {
				if state.Starts.Before(next) {
					states = append([]DueState{state}, states...)
				}
			}
		}
	}
	var all []Check
	for _, state := range states {
		all = append(all, Check{state, c.stands(list, state, now)})
	}
	if len(all) == 0 && !list.Schedule.Every.calendar() && list.Schedule.Every != EachShift && !day.From.After(now) {
		all = c.ownTime(k, asked, day, now)
	}
	return all
}

// offShiftAfter is how long after the end of the day on which a shift starts it
// may still go on: a shift of at most a day, and the clock put back.
const offShiftAfter = 25 * time.Hour

// askedSince is from when on the list has been asked for as often as this
// version does, whatever else its versions changed.
func (k *kept) askedSince(list List, until time.Time) time.Time {
	since := list.InForce
	for {
		before, known := InForceAt(k.versions, since.Add(-time.Millisecond))
		if !known || before.Schedule.Every != list.Schedule.Every || !before.InForce.Before(until) {
			return since
		}
		since = before.InForce
	}
}

// window is the time whose inspections decide about the day.
func (c *Calendar) window(list List, day span) span {
	switch every := list.Schedule.Every; {
	case every == EachShift:
		return span{day.From.Add(-OffShiftLasts), day.Until.Add(offShiftAfter)}
	case every.calendar():
		around := c.w.period(every, day.From, 0)
		return span{earlier(around.From, day.From), later(around.Until, day.Until)}
	}
	return day
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// between are the list's inspections of that time and the last one before, those
// signed by now.
func (k *kept) between(within span, now time.Time) []*Inspection {
	at := func(t time.Time) int {
		n, _ := slices.BinarySearchFunc(k.signed, t, func(in *Inspection, t time.Time) int { return in.At.Compare(t) })
		return n
	}
	first, last := at(within.From), at(earlier(within.Until, now.Add(time.Millisecond)))
	return k.signed[max(0, min(first, last)-1):last]
}

// stands is how a state of [OnDay] is shown on the calendar.
func (c *Calendar) stands(list List, state DueState, now time.Time) Standing {
	switch state.Status {
	case IsDone:
		return StandsDone
	case IsLate:
		if state.Done != nil {
			return StandsLate
		}
		return StandsOverdue
	case IsDue:
		return StandsNotYet
	case IsMissed:
		if c.outThrough(list, span{state.Starts, earlier(state.Ends, now)}) {
			return StandsHeld
		}
		return StandsMissed
	case IsExcused:
		if state.Excuse == nil {
			return StandsClosed
		}
		return StandsExcused
	}
	return StandsUnknown
}

// outThrough tells whether every machine the list asks about, the mill as a
// whole aside, was out of use for all of that time.
func (c *Calendar) outThrough(list List, through span) bool {
	any := false
	for _, eq := range list.equipment() {
		if eq == "" || eq == wholeMill {
			continue
		}
		any = true
		at := through.From
		for _, out := range c.out[eq] {
			if out.From.After(at) {
				break
			}
			if out.Until.IsZero() {
				at = through.Until
			}
			at = later(at, out.Until)
		}
		if at.Before(through.Until) {
			return false
		}
	}
	return any && through.From.Before(through.Until)
}

// ownTime is a list that falls due by itself and was not done that day: missed
// on the day its time ran out, overdue from then on.
func (c *Calendar) ownTime(k *kept, list List, day span, now time.Time) []Check {
	at, over := day.Until, true
	if now.Before(at) {
		at, over = now, false
	}
	state := c.dueAt(k, list, at)
	check := Check{state, StandsUnknown}
	switch state.Status {
	case IsLate:
		check.Stands = StandsOverdue
		before := state.Ends.IsZero() && c.dueAt(k, list, day.From).Status == IsLate
		if over && !before && (state.Ends.IsZero() || state.Ends.After(day.From)) {
			check.Stands = StandsMissed
			if c.outThrough(list, span{later(state.Starts, day.From), day.Until}) {
				check.Stands = StandsHeld
			}
		}
	case IsExcused:
		check.Stands = StandsExcused
		if state.Excuse == nil || !day.holds(state.Ends.Add(-time.Millisecond)) {
			return nil
		}
	case IsDue:
		if over || list.Schedule.Every != OnEvent {
			return nil
		}
		check.Stands = StandsNotYet
	case DueUnknown:
	default:
		return nil
	}
	return []Check{check}
}

// dueAt is how such a list stood at a moment.
func (c *Calendar) dueAt(k *kept, list List, at time.Time) DueState {
	state := DueState{List: list.ID}
	last := k.between(span{at, at}, at)
	switch list.Schedule.Every {
	case AfterDays:
		return c.past.dueAfterDays(state, list, c.mill, last, at, c.w)
	case AfterHours:
		return c.past.dueAfterHours(state, list, c.mill, last, at)
	case OnEvent:
		p := c.past
		p.events, p.quiet = k.open(at), nil
		if len(p.events) == 0 {
			state.Status = NotCalled
			return state
		}
		return p.dueOnEvent(state, list, c.mill, k.between(span{p.events[0].Happened, at}, at), at, c.w)
	}
	return state
}

// calls are events that call for a list, by when they happened, and when each was
// answered; zero: it is not yet.
type calls struct {
	events   []Event
	answered []time.Time
}

// calls are the events that call for any version of a list on event, by when
// they happened. What an inspection answers is answered for good, so each event
// is held against later days only until then.
func (p past) calls(k *kept, w wall) calls {
	kinds := List{ID: k.id}
	for _, v := range k.versions {
		if v.Schedule.Every == OnEvent {
			kinds = v
		}
	}
	if kinds.Schedule.Every != OnEvent {
		return calls{}
	}
	const everLater = 200 * 365 * 24 * time.Hour // an idle time that lasts falls due when it is reached
	events := slices.Concat(p.events, p.idle(kinds, k.versions[0].InForce.Add(everLater), w))
	slices.SortStableFunc(events, func(a, b Event) int { return a.Happened.Compare(b.Happened) })
	seen := slices.Clone(k.signed)
	slices.SortStableFunc(seen, func(a, b *Inspection) int { return a.seenFrom().Compare(b.seenFrom()) })
	all := calls{events, make([]time.Time, len(events))}
	var answered time.Time // by the earliest signed of those seen from there on
	next := len(seen)
	for i := len(events) - 1; i >= 0; i-- {
		for ; next > 0 && !seen[next-1].seenFrom().Before(events[i].Happened); next-- {
			if at := seen[next-1].At; answered.IsZero() || at.Before(answered) {
				answered = at
			}
		}
		all.answered[i] = answered
	}
	return all
}

// open are the events that had happened by then and were not answered. What is seen
// after an event is seen after the ones before it too, so that of the calls, which
// stand by when they happened, none is answered before an earlier one.
func (k *kept) open(at time.Time) []Event {
	happened, _ := slices.BinarySearchFunc(k.calls.events, at, func(e Event, at time.Time) int {
		if e.Happened.After(at) {
			return 1
		}
		return -1
	})
	answered, _ := slices.BinarySearchFunc(k.calls.answered[:happened], at, func(answered, at time.Time) int {
		if answered.IsZero() || answered.After(at) {
			return 1
		}
		return -1
	})
	return k.calls.events[answered:happened:happened]
}
