package checklists

import (
	"time"

	"stillsaw/procedures/plain"
)

func (p past) dueByShift(state DueState, list List, mill Mill, signed []*Inspection, now time.Time) DueState {
	near, err := mill.ShiftsBetween(now.Add(-missedWithin), now.Add(missedWithin))
	if err != nil {
		return state
	}
	shift := governing(near, now)
	if shift != nil {
		state = state.about(*shift)
		state.Done = newest(signed, shift.window())
	}
	if state.Done == nil {
		if off := newestOffShift(signed, near, now); off != nil {
			state.Done = off
			state.Opens, state.Ends = off.At, off.At.Add(OffShiftLasts)
		}
	}
	switch {
	case state.Done != nil:
		state.Status = IsDone
		state.Said = plain.Say("%s was done %s and counts until %s.", list.Title, state.Done.At, state.Ends)
	case shift != nil && p.excuse(list.ID, shift.Starts) != nil:
		return state.excusedBy(p.excuse(list.ID, shift.Starts), list)
	case shift != nil && now.Before(shift.Starts):
		state.Status = IsDue
		state.Said = plain.Say("%s is due: the %s shift starts %s.", list.Title, shift.Name, shift.Starts)
	case shift != nil && now.Before(shift.Starts.Add(list.Schedule.minutes())):
		state.Status = IsDue
		state.Said = plain.Say("%s is due: the %s shift started %s.", list.Title, shift.Name, shift.Starts)
	case shift != nil:
		state.Status = IsLate
		state.Said = plain.Say("%s is late: the %s shift started %s.", list.Title, shift.Name, shift.Starts)
	default:
		return p.between(state, list, mill, near, signed, now)
	}
	return state
}

// minutes is the grace of a list of each shift.
func (s Schedule) minutes() time.Duration { return time.Duration(s.Grace) * time.Minute }

func (state DueState) about(s ShiftTime) DueState {
	state.Shift, state.Opens, state.Starts, state.Ends, state.people = s.Name, s.Opens, s.Starts, s.Ends, s.People
	return state
}

// governing returns the shift that decides now: of those under way the one
// that started last, since a check that counts for it was signed within the
// windows of the others too; else the next whose window is open.
func governing(near []ShiftTime, now time.Time) *ShiftTime {
	var underWay, ahead *ShiftTime
	for i := range near {
		s := &near[i]
		switch {
		case !s.window().holds(now):
		case !now.Before(s.Starts):
			underWay = s
		case ahead == nil:
			ahead = s
		}
	}
	if underWay != nil {
		return underWay
	}
	return ahead
}

// newestOffShift returns the newest inspection signed outside any window that
// still counts at that time, or nil.
func newestOffShift(signed []*Inspection, near []ShiftTime, at time.Time) *Inspection {
	var last *Inspection
	for _, in := range signed {
		if in.At.After(at) || !in.At.Add(OffShiftLasts).After(at) || last != nil && in.At.Before(last.At) {
			continue
		}
		inside := false
		for _, s := range near {
			inside = inside || s.window().holds(in.At)
		}
		if !inside {
			last = in
		}
	}
	return last
}

// between is the state while no window is open and nothing counts.
func (p past) between(state DueState, list List, mill Mill, near []ShiftTime, signed []*Inspection, now time.Time) DueState {
	var last, next *ShiftTime
	for i := range near {
		switch s := &near[i]; {
		case !s.Ends.After(now):
			if last == nil || !s.Ends.Before(last.Ends) {
				last = s
			}
		case s.Opens.After(now) && next == nil:
			next = s
		}
	}
	missed := last != nil && p.missedShift(list, *last, signed, near)
	state.over = missed && p.excuse(list.ID, last.Starts) == nil
	if closed := mill.closed(now); closed != nil {
		return state.closedFor(closed)
	}
	switch {
	case missed && p.excuse(list.ID, last.Starts) != nil:
		return state.about(*last).excusedBy(p.excuse(list.ID, last.Starts), list)
	case missed:
		state = state.about(*last)
		state.Status = IsMissed
		state.Said = plain.Say("%s was missed: the %s shift ended %s without it. No shift is under way.", list.Title, last.Name, last.Ends)
	case next != nil:
		state = state.about(*next)
		state.Status = NoShift
		state.Said = plain.Say("No shift is under way. A check done now counts for %[1]d hours; the one for the next shift may be done from %[2]s.", int(OffShiftLasts.Hours()), next.Opens)
	default:
		state.Status = NoShift
		state.Said = plain.Say("No shift is under way, and none is planned for the coming week.")
	}
	return state
}

// missedShift tells whether a shift that is over went by without the list.
func (p past) missedShift(list List, shift ShiftTime, signed []*Inspection, near []ShiftTime) bool {
	return !p.begun(list).After(shift.Starts) && newest(signed, shift.window()) == nil && newestOffShift(signed, near, shift.Starts) == nil
}
