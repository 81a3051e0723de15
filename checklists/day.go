package checklists

import (
	"time"

	"stillsaw/procedures/plain"
)

// OnDay tells how a list stood on the day that starts at from and ends at
// until, looked at now: for a list of each shift once for every shift that
// starts that day, else once for the period if it was done that day or ended
// with it. history holds at least the list's inspections of the period around
// the day, and those signed up to [OffShiftLasts] before; excuses the
// supervisors' for what started by then. An inspection counts where [Due] counts
// it; one signed outside the window of any shift, for the shift that began on
// it. The list is the version in force then.
func OnDay(list List, mill Mill, history []Inspection, excuses []Excuse, from, until, now time.Time) []DueState {
	w, err := mill.wall()
	if err != nil || !list.inForce(until.Add(-time.Millisecond)) || !from.Before(until) {
		return nil
	}
	var signed []*Inspection
	for i := range history {
		if history[i].List == list.ID && !history[i].At.After(now) {
			signed = append(signed, &history[i])
		}
	}
	day := span{from, until}
	var shifts []ShiftTime
	if list.Schedule.Every == EachShift {
		if shifts, err = mill.ShiftsBetween(day.From.Add(-OffShiftLasts), day.Until); err != nil {
			return nil
		}
	}
	return past{excuses: excuses}.onDay(list, mill, signed, shifts, day, now, w)
}

// onDay is [OnDay] for inspections of the list alone, signed by now; shifts are
// those whose window touches the day or [OffShiftLasts] before it.
func (p past) onDay(list List, mill Mill, signed []*Inspection, shifts []ShiftTime, day span, now time.Time, w wall) []DueState {
	if list.Schedule.Every == EachShift {
		return p.onShifts(list, signed, shifts, day, now)
	}
	if !list.Schedule.Every.calendar() {
		return p.onOwnDay(list, mill, signed, day, now, w)
	}
	around := w.period(list.Schedule.Every, day.From, 0)
	state := DueState{List: list.ID, Opens: around.From, Starts: around.From, Ends: around.Until}
	if last := newest(signed, day); last != nil {
		return []DueState{state.seenDone(list, last)}
	}
	ends := !around.Until.After(day.Until) && around.Until.After(day.From)
	if !ends || newest(signed, around) != nil || list.InForce.After(around.From) {
		return nil
	}
	if closed := mill.closed(day.From); closed != nil && mill.closedThrough(around) {
		return []DueState{state.closedFor(closed)}
	}
	return []DueState{p.seenUndone(state, list, now)}
}

// onOwnDay is a list that falls due by itself: done that day, or for days since
// it was last done late with the end of that day.
func (p past) onOwnDay(list List, mill Mill, signed []*Inspection, day span, now time.Time, w wall) []DueState {
	state := DueState{List: list.ID, Opens: day.From, Starts: day.From, Ends: day.Until}
	if last := newest(signed, day); last != nil {
		return []DueState{state.seenDone(list, last)}
	}
	if s := list.Schedule; s.Every == AfterDays {
		base := list.InForce
		fell := base // due, from when it took force or that many days after
		if last := newest(signed, span{Until: day.From}); last != nil {
			base, fell = last.At, w.later(last.At, s.Days)
		}
		if mill.openDay(w.later(base, s.Days+1+s.Grace), w).Equal(day.Until) {
			if excuse := p.excuse(list.ID, fell); excuse != nil {
				return []DueState{state.excusedBy(excuse, list)}
			}
			return []DueState{p.seenUndone(state, list, now)}
		}
	}
	return nil
}

func (p past) onShifts(list List, signed []*Inspection, shifts []ShiftTime, day span, now time.Time) []DueState {
	var states []DueState
	for _, shift := range shifts {
		if !day.holds(shift.Starts) || list.InForce.After(shift.Starts) {
			continue
		}
		state := DueState{List: list.ID}.about(shift)
		last := newest(signed, shift.window())
		if last == nil {
			last = newestOffShift(signed, shifts, shift.Starts)
		}
		if last != nil {
			states = append(states, state.seenDone(list, last))
			continue
		}
		states = append(states, p.seenUndone(state, list, now))
	}
	return states
}

func (state DueState) seenDone(list List, last *Inspection) DueState {
	state.Status, state.Done = IsDone, last
	state.Said = plain.Say("%[1]s was done %[2]s.", list.Title, last.At)
	if last.Late {
		state.Status = IsLate
		state.Said = plain.Say("%[1]s was done late, %[2]s.", list.Title, last.At)
	}
	return state
}

// seenUndone: excused where a supervisor gave a reason, missed once its time is
// over, before that late or due.
func (p past) seenUndone(state DueState, list List, now time.Time) DueState {
	if excuse := p.excuse(list.ID, state.Starts); excuse != nil {
		return state.excusedBy(excuse, list)
	}
	switch {
	case !now.Before(state.Ends):
		state.Status, state.Said = IsMissed, plain.Say("%s was not done.", list.Title)
	case state.Shift != "" && !now.Before(state.Starts):
		state.Status, state.Said = IsLate, plain.Say("%s is not done yet, and the shift has started.", list.Title)
	default:
		state.Status, state.Said = IsDue, plain.Say("%s is not done yet.", list.Title)
	}
	return state
}
