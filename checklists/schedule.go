package checklists

import (
	"time"

	"stillsaw/procedures/plain"
)

// DueStatus is how a list stands against its schedule. The zero value is not
// known, which holds as much as due does.
type DueStatus string

const (
	DueUnknown DueStatus = ""
	IsDone     DueStatus = "done"
	IsDue      DueStatus = "due"      // its time has come, and is not over
	IsLate     DueStatus = "late"     // the shift has started, or the period before was missed too
	IsMissed   DueStatus = "missed"   // the last shift ended without it, and none is under way
	IsExcused  DueStatus = "excused"  // the mill is closed
	NoShift    DueStatus = "no-shift" // no shift is under way or about to start
)

// DueState is the answer of [Due]: how a list stands, for which span of time,
// and the inspection that did it, if any.
type DueState struct {
	List   ListID
	Status DueStatus
	Shift  string    // name of the shift it is for, "" for calendar periods
	Opens  time.Time // from here an inspection counts
	Starts time.Time // of the shift or period
	Ends   time.Time // from here it no longer counts
	Done   *Inspection
	Said   plain.Sentence
}

// Closure is a time the mill is closed: a day off, a holiday, an idle season.
// Shifts that would start in it don't take place.
type Closure struct {
	From   time.Time `json:"from"`
	Until  time.Time `json:"until"`
	Reason string    `json:"reason"`
}

func (c Closure) span() span { return span{c.From, c.Until} }

// missedWithin is how far back a shift without its check is still spoken of:
// every weekly pattern has shown itself by then.
const missedWithin = 8 * 24 * time.Hour

// Due tells how a list in force stands at a mill, given at least the
// inspections of its present and previous period; signed later than now they
// don't count.
//
// For a list of each shift: an inspection signed from [WindowBefore] ahead of a
// shift until its end counts for that shift; one signed outside the window of
// any shift counts for [OffShiftLasts]. While several shifts are under way each
// needs one. For calendar periods, in the mill's zone, any inspection signed
// within the period counts.
func Due(list List, mill Mill, history []Inspection, now time.Time) DueState {
	state := DueState{List: list.ID}
	w, err := mill.wall()
	if err != nil {
		state.Said = plain.Say("The mill's time zone is not known, so nothing can be said to be done in time.")
		return state
	}
	if !list.inForce(now) || !list.Schedule.Every.Known() {
		state.Said = plain.Say("This list is not in force.")
		return state
	}
	signed := make([]*Inspection, 0, len(history))
	for i := range history {
		if history[i].List == list.ID && !history[i].At.IsZero() && !history[i].At.After(now) {
			signed = append(signed, &history[i])
		}
	}
	if list.Schedule.Every == EachShift {
		return dueByShift(state, list, mill, signed, now)
	}
	return dueByCalendar(state, list, mill, signed, now, w)
}

// newest returns the last signed of the inspections within the span, or nil.
func newest(signed []*Inspection, within span) *Inspection {
	var last *Inspection
	for _, in := range signed {
		if within.holds(in.At) && (last == nil || !in.At.Before(last.At)) {
			last = in
		}
	}
	return last
}

func dueByCalendar(state DueState, list List, mill Mill, signed []*Inspection, now time.Time, w wall) DueState {
	present := w.period(list.Schedule.Every, now, 0)
	before := w.period(list.Schedule.Every, now, -1)
	state.Opens, state.Starts, state.Ends = present.From, present.From, present.Until
	if state.Done = newest(signed, present); state.Done != nil {
		state.Status = IsDone
		state.Said = plain.Say("%s was done %s.", list.Title, state.Done.At)
		return state
	}
	if closed := mill.closed(now); closed != nil {
		return state.excused(closed)
	}
	state.Status = IsDue
	state.Said = plain.Say("%s is due until %s.", list.Title, present.Until)
	// Only a period the list was in force for from its beginning can be missed.
	missable := before.From.Before(before.Until) && !list.InForce.After(before.From)
	for _, c := range mill.Closed {
		missable = missable && !(!c.From.After(before.From) && !c.Until.Before(before.Until))
	}
	if missable && newest(signed, before) == nil {
		state.Status = IsLate
		state.Said = plain.Say("%s is due until %s, and was not done the time before.", list.Title, present.Until)
	}
	return state
}

func (state DueState) excused(c *Closure) DueState {
	state.Status = IsExcused
	state.Said = plain.Say("The mill is closed until %s: %s", c.Until, c.Reason)
	return state
}

// closed returns the closure now falls in, or nil.
func (m Mill) closed(now time.Time) *Closure {
	for i := range m.Closed {
		if m.Closed[i].span().holds(now) {
			return &m.Closed[i]
		}
	}
	return nil
}

func dueByShift(state DueState, list List, mill Mill, signed []*Inspection, now time.Time) DueState {
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
	case shift != nil && now.Before(shift.Starts):
		state.Status = IsDue
		state.Said = plain.Say("%s is due: the %s shift starts %s.", list.Title, shift.Name, shift.Starts)
	case shift != nil:
		state.Status = IsLate
		state.Said = plain.Say("%s is late: the %s shift started %s.", list.Title, shift.Name, shift.Starts)
	default:
		return between(state, list, mill, near, signed, now)
	}
	return state
}

func (state DueState) about(s ShiftTime) DueState {
	state.Shift, state.Opens, state.Starts, state.Ends = s.Name, s.Opens, s.Starts, s.Ends
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
func between(state DueState, list List, mill Mill, near []ShiftTime, signed []*Inspection, now time.Time) DueState {
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
	if closed := mill.closed(now); closed != nil {
		return state.excused(closed)
	}
	missed := last != nil && !list.InForce.After(last.Starts) &&
		newest(signed, last.window()) == nil && newestOffShift(signed, near, last.Starts) == nil
	switch {
	case missed:
		state = state.about(*last)
		state.Status = IsMissed
		state.Said = plain.Say("%s was missed: the %s shift ended %s without it. No shift is under way.", list.Title, last.Name, last.Ends)
	case next != nil:
		state = state.about(*next)
		state.Status = NoShift
		state.Said = plain.Say("No shift is under way. The next check may be done from %s.", next.Opens)
	default:
		state.Status = NoShift
		state.Said = plain.Say("No shift is under way, and none is planned for the coming week.")
	}
	return state
}
