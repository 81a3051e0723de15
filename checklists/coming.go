package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// comingWithin is how far ahead shifts are looked for.
const comingWithin = 60 * 24 * time.Hour

// Coming is when a list is next to be done.
type Coming struct {
	List    ListID
	Title   string
	Now     bool // its time has come already
	Shift   string
	Opens   time.Time // from here it may be done, zero where no time is known
	Ends    time.Time // until here it is in time; zero: no end is known
	People  []procedures.PersonID
	Role    procedures.Role
	Said    plain.Sentence
	Unknown bool // it is not known when: by hours run, or on event
}

// Next tells when the list is next to be done, from now on.
func (f Facts) Next(list List, now time.Time) Coming {
	state := f.Due(list, now)
	next := Coming{List: list.ID, Title: list.Title}
	switch state.Status {
	case IsDue, IsLate:
		next.Now, next.Said = true, state.Said
		return next.within(state, list)
	case DueUnknown:
		next.Unknown, next.Said = true, state.Said
		return next.within(DueState{}, list)
	}
	w, err := f.Mill.wall()
	if err != nil {
		next.Unknown = true
		return next
	}
	p := f.past()
	signed := p.signed(list.ID, now)
	switch every := list.Schedule.Every; {
	case every == EachShift:
		return f.nextShift(next, list, signed, now)
	case every == AfterDays:
		last := newest(signed, always(now))
		if last == nil { // excused while closed, and never done
			last = &Inspection{At: p.begun(list)}
		}
		s := list.Schedule
		next = next.within(DueState{Opens: w.later(last.At, s.Days), Ends: f.Mill.openDay(w.later(last.At, s.Days+1+s.Grace), w)}, list)
	case every == AfterHours:
		next.Unknown = true
		next.Said = plain.Say("%s: due after %s more running hours.", list.Title, hours(max(0, list.Schedule.Hours-state.Hours)))
		return next.within(DueState{}, list)
	case every == OnEvent:
		next.Unknown, next.Said = true, state.Said
		return next.within(DueState{}, list)
	default:
		next = next.within(f.nextPeriod(list, p, signed, now, w), list)
	}
	next.Said = plain.Say("%s: from %s, by %s.", list.Title, next.Opens, next.Ends)
	return next
}

// nextPeriod is the first from the present one on that is not done, excused or
// closed all through.
func (f Facts) nextPeriod(list List, p past, signed []*Inspection, now time.Time, w wall) DueState {
	const ahead = 400 // a year of days, and a little
	var around span
	for step := range ahead {
		around = w.period(list.Schedule.Every, now, step)
		first := now
		if step > 0 {
			first = around.From
		}
		shut := f.Mill.closedThrough(span{first, around.Until})
		if around.From.Before(around.Until) && !shut && newest(signed, around) == nil && p.excuse(list.ID, around.From) == nil {
			break
		}
	}
	return DueState{Opens: around.From, Starts: around.From, Ends: around.Until}
}

func (f Facts) nextShift(next Coming, list List, signed []*Inspection, now time.Time) Coming {
	ahead, err := f.Mill.ShiftsBetween(now, now.Add(comingWithin))
	if err != nil {
		next.Unknown = true
		return next
	}
	p := f.past()
	for _, s := range ahead {
		if newest(signed, s.window()) == nil && p.excuse(list.ID, s.Starts) == nil {
			return next.ofShift(s, list)
		}
	}
	next.Unknown = true
	next.Said = plain.Say("%s: no shift is planned for the coming %d days.", list.Title, int(comingWithin/(24*time.Hour)))
	return next.within(DueState{}, list)
}

// Following is the first shift ahead for a list of each shift that is due now;
// false for any other, and where none is planned.
func (f Facts) Following(list List, now time.Time) (Coming, bool) {
	if !f.Next(list, now).Now || list.Schedule.Every != EachShift {
		return Coming{}, false
	}
	ahead, err := f.Mill.ShiftsBetween(now, now.Add(comingWithin))
	if err != nil {
		return Coming{}, false
	}
	for _, s := range ahead {
		if s.Opens.After(now) {
			return Coming{List: list.ID, Title: list.Title}.ofShift(s, list), true
		}
	}
	return Coming{}, false
}

func (c Coming) ofShift(s ShiftTime, list List) Coming {
	c = c.within(DueState{}.about(s), list)
	c.Said = plain.Say("%s: from %s, for the %s shift that starts %s.", list.Title, s.Opens, s.Name, s.Starts)
	return c
}

// within puts the times of a state, and who is expected then.
func (c Coming) within(state DueState, list List) Coming {
	c.Shift, c.Opens, c.Ends = state.Shift, state.Opens, state.Ends
	c.People, c.Role = list.Schedule.expected(state.people)
	return c
}

// expected are the people named on the list, else those of the shift, else
// anyone of the role.
func (s Schedule) expected(shift []procedures.PersonID) ([]procedures.PersonID, procedures.Role) {
	if len(s.People) > 0 {
		return s.People, ""
	}
	if s.Role == "" {
		return shift, ""
	}
	return nil, s.Role
}

// Expected tells who is expected to do the list as it stands: people named on
// it, else those named for the shift, else anyone of the role; none named is
// anyone of the crew.
func (state DueState) Expected(list List) ([]procedures.PersonID, procedures.Role) {
	return list.Schedule.expected(state.people)
}

// Upcoming tells of every list in force when it is next to be done: first what
// is due now, then by time, then what has none.
func (f Facts) Upcoming(now time.Time) []Coming {
	var all []Coming
	for _, l := range f.Lists {
		if l.inForce(now) {
			all = append(all, f.Next(l, now))
		}
	}
	rank := func(c Coming) int {
		switch {
		case c.Now:
			return 0
		case c.Unknown:
			return 2
		}
		return 1
	}
	slices.SortStableFunc(all, func(a, b Coming) int {
		if order := rank(a) - rank(b); order != 0 {
			return order
		}
		if a.Now {
			return a.Ends.Compare(b.Ends)
		}
		return a.Opens.Compare(b.Opens)
	})
	return all
}
