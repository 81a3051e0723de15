package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// dueOnEvent: due from the oldest event that no inspection begun after it has
// answered and nobody excused, late from the end of its day and the grace on.
func (p past) dueOnEvent(state DueState, list List, mill Mill, signed []*Inspection, now time.Time, w wall) DueState {
	events := p.calling(list, now, w)
	open := answered(events, signed)
	if open < len(events) {
		state.Calls = slices.Clip(events[open:])
		first := state.Calls[0]
		state.over = !now.Before(w.later(first.Happened, 1+list.Schedule.Grace))
		unexcused := slices.IndexFunc(state.Calls, func(e Event) bool { return p.excuse(list.ID, e.Happened) == nil })
		if unexcused > 0 {
			first = state.Calls[unexcused]
		}
		state.Opens, state.Starts = first.Happened, first.Happened
		state.Ends = mill.openDay(w.later(first.Happened, 1+list.Schedule.Grace), w)
		state.Status = IsDue
		state.Said = plain.Say("%s is due: %s, %s.", list.Title, first.Kind.Said(), first.Happened)
		if !now.Before(state.Ends) {
			state.Status = IsLate
			state.Said = plain.Say("%s is late: %s, %s.", list.Title, first.Kind.Said(), first.Happened)
		}
		return p.reason(state, list)
	}
	if open > 0 {
		before := events[open-1]
		last := newestSeen(signed, before.Happened)
		state.Status, state.Done = IsDone, last
		state.Opens, state.Starts = before.Happened, before.Happened
		state.Said = plain.Say("%s was done %s, after: %s.", list.Title, last.At, before.Kind.Said())
		return state
	}
	state.Status = NotCalled
	state.Said = plain.Say("%s is not called for: nothing that calls for it was reported since it took force.", list.Title)
	return state
}

// answered is how many of the events, which stand by when they happened, an inspection
// has answered: what answers one answers those before it.
func answered(events []Event, signed []*Inspection) int {
	if open := slices.IndexFunc(events, func(e Event) bool { return newestSeen(signed, e.Happened) == nil }); open >= 0 {
		return open
	}
	return len(events)
}

// newestSeen returns the last signed of the inspections in which nothing was
// looked at before that time, or nil.
func newestSeen(signed []*Inspection, since time.Time) *Inspection {
	var last *Inspection
	for _, in := range signed {
		if !in.seenFrom().Before(since) && (last == nil || !in.At.Before(last.At)) {
			last = in
		}
	}
	return last
}

// seenFrom is when the first thing was looked at that an inspection tells of:
// its oldest answer, else when it was begun or, without that, signed.
func (in *Inspection) seenFrom() time.Time {
	if len(in.Answers) > 0 {
		return slices.MinFunc(in.Answers, func(a, b Answer) int { return a.At.Compare(b.At) }).At
	}
	if in.Began.IsZero() {
		return in.At
	}
	return in.Began
}

// calling are the events the list is for, by when they happened: happened or
// entered since it took force, and at equipment it asks about.
func (p past) calling(list List, now time.Time, w wall) []Event {
	begun := p.begun(list)
	calls := p.events
	if idle := p.idle(list, now, w); len(idle) > 0 {
		calls = slices.Concat(calls, idle)
	}
	asked := func(e Event) bool {
		known := !e.Happened.Before(begun) || !e.At.Before(begun)
		return known && !e.Happened.After(now) && list.asksAfter(e)
	}
	byTime := func(a, b Event) int { return a.Happened.Compare(b.Happened) }
	if slices.IsSortedFunc(calls, byTime) && !slices.ContainsFunc(calls, func(e Event) bool { return !asked(e) }) {
		return slices.Clip(calls) // of a calendar, day after day: they are not copied for each
	}
	calls = slices.DeleteFunc(slices.Clone(calls), func(e Event) bool { return !asked(e) })
	slices.SortStableFunc(calls, byTime)
	return calls
}

// AskedAfter are the lists in force that ask for a check after such an event.
func (f Facts) AskedAfter(e Event, now time.Time) []List {
	var asked []List
	for _, l := range f.Lists {
		if l.inForce(now) && l.Schedule.Every == OnEvent && l.asksAfter(e) {
			asked = append(asked, l)
		}
	}
	return asked
}

// asksAfter tells whether the list is for an event of that kind where it
// happened. A list that asks about the mill as a whole is for every machine.
func (l List) asksAfter(e Event) bool {
	return slices.Contains(l.Schedule.On, e.Kind) && (e.everywhere() || l.Covers(e.Equipment) || l.Covers(wholeMill))
}

// wholeMill is the equipment that stands for the mill as a whole.
const wholeMill procedures.EquipmentID = "site"

// everywhere tells whether the event is one of the mill as a whole.
func (e Event) everywhere() bool { return e.Equipment == "" || e.Equipment == wholeMill }

// idle are the events of a mill that stood still: the first instant of the day
// that many days after the last check before.
func (p past) idle(list List, now time.Time, w wall) []Event {
	if !slices.Contains(list.Schedule.On, Idle) {
		return nil
	}
	var found []Event
	for _, q := range p.quiet {
		from, until := q.From, q.Until
		if begun := p.begun(list); from.Before(begun) {
			from = begun
		}
		if until.IsZero() || until.After(now) {
			until = now
		}
		if idle := w.later(from, list.Schedule.IdleFor()); !idle.After(until) {
			found = append(found, Event{Kind: Idle, Happened: idle, At: idle})
		}
	}
	return found
}

// IdleFor is how many days without a signed check are idle for a list on event.
func (s Schedule) IdleFor() int {
	if s.Days < 1 {
		return IdleDays
	}
	return s.Days
}
