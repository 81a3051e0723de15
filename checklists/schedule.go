package checklists

import (
	"cmp"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// DueStatus is how a list stands against its schedule. The zero value is not
// known, which holds as much as due does.
type DueStatus string

const (
	DueUnknown DueStatus = ""
	IsDone     DueStatus = "done"
	IsDue      DueStatus = "due"        // its time has come, and is not over
	IsLate     DueStatus = "late"       // past its grace, or the period before was missed too
	IsMissed   DueStatus = "missed"     // the last shift ended without it, and none is under way
	IsExcused  DueStatus = "excused"    // the mill is closed, or a supervisor gave a reason
	NoShift    DueStatus = "no-shift"   // no shift is under way or about to start
	NotCalled  DueStatus = "not-called" // nothing that calls for it is known to have happened
)

// MoreNeeded orders lists by how much they want to be done: what is late before what
// is due, both before what waits, and the check of each shift before others alike.
func MoreNeeded(a, b List, stands, other DueStatus) int {
	return cmp.Or(cmp.Compare(stands.waits(), other.waits()), cmp.Compare(a.Schedule.afterOthers(), b.Schedule.afterOthers()))
}

// waits is how long a list of that state can wait, beside others.
func (s DueStatus) waits() int {
	switch s {
	case IsDue, NoShift: // what a check of each shift holds stays held without one
		return 1
	case IsExcused, NotCalled:
		return 2
	case IsDone:
		return 3
	}
	return 0
}

func (s Schedule) afterOthers() int {
	if s.Every == EachShift {
		return 0
	}
	return 1
}

// DueState is the answer of [Due]: how a list stands, for which span of time,
// and the inspection that did it, if any.
type DueState struct {
	List   ListID
	Status DueStatus
	Shift  string    // name of the shift it is for, "" for calendar periods
	Opens  time.Time // from here an inspection counts
	Starts time.Time // of the shift or period; when it fell due
	Ends   time.Time // from here it no longer counts, or is late; zero for no end
	Done   *Inspection
	Said   plain.Sentence

	Excuse *Excuse // a supervisor's, where it is excused by one
	Calls  []Event // what calls for a list on event, the oldest first
	Hours  float64 // running hours since last done, where they are known

	// over: its time is over for the machines, with no closure taken off, or it
	// is not known that it isn't.
	over   bool
	people []procedures.PersonID // named for the shift
}

// Closure is a time the mill is closed: a day off, a holiday, an idle season.
// Shifts that would start in it don't take place. Of other lists it puts off what
// is said, and nothing that is held: a machine can be run in it all the same.
type Closure struct {
	From   time.Time `json:"from"`
	Until  time.Time `json:"until"`
	Reason string    `json:"reason"`
}

func (c Closure) span() span { return span{c.From, c.Until} }

// missedWithin is how far back a shift without its check is still spoken of:
// every weekly pattern has shown itself by then.
const missedWithin = 8 * 24 * time.Hour

// past is what a schedule is judged by.
type past struct {
	inspections []Inspection
	readings    []Reading
	events      []Event
	quiet       []Quiet
	excuses     []Excuse
	since       map[ListID]time.Time
}

// Due tells how a list in force stands at a mill, given at least the
// inspections of its present and previous period; signed later than now they
// don't count. What follows from meters, events and excuses needs [Facts.Due].
//
// For a list of each shift: an inspection signed from [WindowBefore] ahead of a
// shift until its end counts for that shift; one signed outside the window of
// any shift counts for [OffShiftLasts]. While several shifts are under way each
// needs one. For calendar periods, in the mill's zone, any inspection signed
// within the period counts. Days since last done are whole days in the mill's
// zone: it may be done until the end of the last one.
func Due(list List, mill Mill, history []Inspection, now time.Time) DueState {
	return past{inspections: history}.due(list, mill, now)
}

// Due tells how a list in force stands, as [Due] does, with all that is known
// of meters, events and excuses. Of a list never done it reckons from when its
// first version took force.
func (f Facts) Due(list List, now time.Time) DueState { return f.past().due(list, f.Mill, now) }

func (f Facts) past() past {
	return past{inspections: f.Inspections, readings: f.Readings, events: f.events(), quiet: f.Quiet, excuses: f.Excuses, since: f.Since}
}

func (p past) due(list List, mill Mill, now time.Time) DueState {
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
	signed := p.signed(list.ID, now)
	switch every := list.Schedule.Every; {
	case every == EachShift:
		return p.dueByShift(state, list, mill, signed, now)
	case every == AfterDays:
		return p.dueAfterDays(state, list, mill, signed, now, w)
	case every == AfterHours:
		return p.dueAfterHours(state, list, mill, signed, now)
	case every == OnEvent:
		return p.dueOnEvent(state, list, mill, signed, now, w)
	}
	return p.dueByCalendar(state, list, mill, signed, now, w)
}

// signed are the list's inspections signed by now.
func (p past) signed(list ListID, now time.Time) []*Inspection {
	signed := make([]*Inspection, 0, len(p.inspections))
	for i := range p.inspections {
		if in := &p.inspections[i]; in.List == list && !in.At.IsZero() && !in.At.After(now) {
			signed = append(signed, in)
		}
	}
	return signed
}

// begun is when the list first took force.
func (p past) begun(list List) time.Time {
	if first, known := p.since[list.ID]; known && first.Before(list.InForce) {
		return first
	}
	return list.InForce
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

func (p past) dueByCalendar(state DueState, list List, mill Mill, signed []*Inspection, now time.Time, w wall) DueState {
	present := w.period(list.Schedule.Every, now, 0)
	state.Opens, state.Starts, state.Ends = present.From, present.From, present.Until
	if state.Done = newest(signed, present); state.Done != nil {
		state.Status = IsDone
		state.Said = plain.Say("%s was done %s.", list.Title, state.Done.At)
		return state
	}
	before := w.period(list.Schedule.Every, now, -1)
	passed := p.excuse(list.ID, before.From) == nil && !now.Before(w.later(present.From, list.Schedule.Grace))
	state.over = passed && p.undone(list, signed, before)
	if closed := mill.closed(now); closed != nil {
		return state.closedFor(closed)
	}
	if excuse := p.excuse(list.ID, present.From); excuse != nil {
		state.over = false // it may be done the next time
		return state.excusedBy(excuse, list)
	}
	state.Status = IsDue
	state.Said = plain.Say("%s is due until %s.", list.Title, present.Until)
	if passed && p.missed(list, mill, signed, before) {
		state.Status = IsLate
		state.Said = plain.Say("%s is due until %s, and was not done the time before.", list.Title, present.Until)
	}
	return state
}

// missed tells whether a period that is over went by without the list: only one
// it was in force for from its beginning, and not closed all through.
func (p past) missed(list List, mill Mill, signed []*Inspection, before span) bool {
	return p.undone(list, signed, before) && !mill.closedThrough(before)
}

// undone is missed, whether the mill was closed or not.
func (p past) undone(list List, signed []*Inspection, before span) bool {
	return before.From.Before(before.Until) && !p.begun(list).After(before.From) && newest(signed, before) == nil
}

func (state DueState) closedFor(c *Closure) DueState {
	state.Status = IsExcused
	state.Said = plain.Say("The mill is closed until %s: %s", c.Until, c.Reason)
	return state
}

func (state DueState) excusedBy(e *Excuse, list List) DueState {
	state.Status, state.Excuse = IsExcused, e
	state.Said = plain.Say("%s is excused: %s", list.Title, e.Reason)
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

// closedThrough tells whether the mill is closed for all of that time, by one
// closure or by several that adjoin.
func (m Mill) closedThrough(s span) bool {
	at := s.From
	for range m.Closed {
		if closed := m.closed(at); closed != nil && at.Before(s.Until) {
			at = closed.Until
		}
	}
	return !at.Before(s.Until)
}

// openDay is t, the end of a day by which something is to be done, or where the
// mill is closed right before it the end of the first day it is open again.
func (m Mill) openDay(t time.Time, w wall) time.Time {
	for range m.Closed {
		closed := m.closed(t.Add(-1))
		if closed == nil {
			break
		}
		t = w.later(closed.Until, 1)
	}
	return t
}
