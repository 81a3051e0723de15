package checklists

import (
	"cmp"
	"reflect"
	"slices"
	"time"

	"stillsaw/procedures"
)

// Standing is how one list stood on one day, or at one of its shifts or periods.
// The zero value is not known.
type Standing string

const (
	StandsUnknown Standing = ""        // the rules lack what it follows from
	StandsNotDue  Standing = "not-due" // nothing was asked that day
	StandsNotYet  Standing = "not-yet" // its time is not over, and it is not done
	StandsDone    Standing = "done"    // signed in its time
	StandsLate    Standing = "late"    // signed after its shift had started
	StandsMissed  Standing = "missed"  // its time went by without it
	StandsOverdue Standing = "overdue" // its time came, and it is still to be done
	StandsExcused Standing = "excused" // not done, and a supervisor said why
	StandsHeld    Standing = "held"    // not done, and everything it asks about was out of use all through
	StandsClosed  Standing = "closed"  // the mill was closed
)

// Standings lists them, what a supervisor looks at first in front.
func Standings() []Standing {
	return []Standing{StandsMissed, StandsOverdue, StandsUnknown, StandsLate, StandsHeld, StandsExcused, StandsNotYet, StandsDone, StandsClosed, StandsNotDue}
}

// worse tells whether s is looked at before other.
func (s Standing) worse(other Standing) bool {
	all := Standings()
	return slices.Index(all, s) < slices.Index(all, other)
}

// MillFrom is a mill as it was kept from a moment on.
type MillFrom struct {
	Mill Mill
	From time.Time
}

// OutOfUse is a stretch in which one piece of equipment could not run: reported
// locked out, or held. Until is zero while it lasts.
type OutOfUse struct {
	Equipment   procedures.EquipmentID
	From, Until time.Time
}

// CalendarFacts is what a calendar of days against lists is reckoned from.
type CalendarFacts struct {
	Mills       []MillFrom   // every state that was kept, the oldest first; shifts are those of then
	Lists       []List       // every version published of every list
	Inspections []Inspection // those of the days asked for, 13 hours before and 49 after, of the whole period where that is longer, and of each list the last one before
	Excuses     []Excuse
	Events      []Event // reported or following from something else, [Facts.Happenings]
	Quiet       []Quiet
	Readings    []Reading
	Out         []OutOfUse
}

// Happenings are the events reported and those that follow from what else is
// kept, as [Facts.Due] counts them.
func (f Facts) Happenings() []Event { return f.events() }

// Calendar tells of each day how each list stood. Days are reckoned apart from
// each other, and those that are over once. Make one with [NewCalendar]; several may
// read it at once.
type Calendar struct {
	mill  Mill // as it is now: its zones and closures
	plans []MillFrom
	w     wall
	lists []*kept
	past  past
	out   map[procedures.EquipmentID][]span

	settled settled
}

// kept is one list through its versions with what was signed of it.
type kept struct {
	id       ListID
	title    string // of the newest version
	versions []List
	signed   []*Inspection // by when
	calls    calls
	covers   map[int][]procedures.EquipmentID // by version
}

// Check is one time a list was to be done, and how that stood.
type Check struct {
	DueState
	Stands Standing
}

// ListDay is one list on one day: how it stood at its worst, and each shift or
// period by itself. Without any, nothing was asked that day.
type ListDay struct {
	List   ListID
	Title  string
	Covers []procedures.EquipmentID // what the version of that day asks about
	Stands Standing
	Checks []Check
}

// NewCalendar prepares the days of a mill. Its error is that of [Mill.Location].
func NewCalendar(f CalendarFacts) (*Calendar, error) {
	c := &Calendar{past: past{readings: f.Readings, quiet: f.Quiet, excuses: f.Excuses, events: f.Events, since: map[ListID]time.Time{}}, out: map[procedures.EquipmentID][]span{}}
	if len(f.Mills) > 0 {
		c.mill = f.Mills[len(f.Mills)-1].Mill
	}
	var err error
	if c.w, err = c.mill.wall(); err != nil {
		return nil, err
	}
	for _, m := range f.Mills {
		if n := len(c.plans); n == 0 || !reflect.DeepEqual(c.plans[n-1].Mill.Shifts, m.Mill.Shifts) {
			plan := c.mill
			plan.Shifts = m.Mill.Shifts
			c.plans = append(c.plans, MillFrom{plan, m.From})
		}
	}
	for _, o := range f.Out {
		c.out[o.Equipment] = append(c.out[o.Equipment], span{o.From, o.Until})
	}
	for _, spans := range c.out {
		slices.SortFunc(spans, func(a, b span) int { return a.From.Compare(b.From) })
	}
	byID := map[ListID]*kept{}
	for _, l := range f.Lists {
		k := byID[l.ID]
		if k == nil {
			k = &kept{id: l.ID, covers: map[int][]procedures.EquipmentID{}}
			byID[l.ID] = k
			c.lists = append(c.lists, k)
		}
		k.versions = append(k.versions, l)
		k.covers[l.Version] = l.equipment()
	}
	for i := range f.Inspections {
		if k := byID[f.Inspections[i].List]; k != nil {
			k.signed = append(k.signed, &f.Inspections[i])
		}
	}
	for _, k := range c.lists {
		slices.SortFunc(k.versions, func(a, b List) int { return a.Version - b.Version })
		slices.SortStableFunc(k.signed, func(a, b *Inspection) int { return a.At.Compare(b.At) })
		k.title = k.versions[len(k.versions)-1].Title
		c.past.since[k.id] = k.begun()
		k.calls = c.past.calls(k, c.w)
	}
	slices.SortStableFunc(c.lists, func(a, b *kept) int { return cmp.Or(cmp.Compare(a.title, b.title), cmp.Compare(a.id, b.id)) })
	return c, nil
}

// begun is when the first version took force.
func (k *kept) begun() time.Time {
	begun := k.versions[0].InForce
	for _, v := range k.versions {
		if v.InForce.Before(begun) {
			begun = v.InForce
		}
	}
	return begun
}

// Days are the first instants of the days from one date to another, both of
// them included, in the mill's zone.
func (c *Calendar) Days(from, to time.Time) []time.Time {
	var days []time.Time
	y, m, d := c.w.date(from)
	for at := c.w.midnight(y, m, d); !at.After(to); {
		days = append(days, at)
		d++
		next := c.w.midnight(y, m, d)
		if !next.After(at) { // a date the zone skipped
			d++
			next = c.w.midnight(y, m, d)
		}
		at = next
	}
	return days
}

// Day tells how each list in force on the day that starts at from stood, looked
// at now, by title.
func (c *Calendar) Day(from, now time.Time) []ListDay {
	y, m, d := c.w.date(from)
	day := c.w.days(y, m, d, 1)
	var shifts []ShiftTime
	var closed, begun bool
	var all []ListDay
	for _, k := range c.lists {
		list, known := InForceAt(k.versions, day.Until.Add(-time.Millisecond))
		if !known {
			continue
		}
		if l, known := c.settled.of(k.id, day, now); known {
			all = append(all, l)
			continue
		}
		if !begun {
			shifts, closed, begun = c.shifts(day), c.mill.closedThrough(day), true
		}
		l := ListDay{List: k.id, Title: list.Title, Covers: k.covers[list.Version], Checks: c.checks(k, list, shifts, day, now), Stands: StandsNotDue}
		if closed && len(l.Checks) == 0 {
			l.Stands = StandsClosed
		}
		for i, check := range l.Checks {
			if i == 0 || check.Stands.worse(l.Stands) {
				l.Stands = check.Stands
			}
		}
		c.settled.keep(k.id, day, l, c.settles(list, day, l), now)
		all = append(all, l)
	}
	return all
}

// shifts are those whose window touches the day or [OffShiftLasts] before it,
// each by the plan the mill had when it started.
func (c *Calendar) shifts(day span) []ShiftTime {
	var all []ShiftTime
	for i, plan := range c.plans {
		held := span{plan.From, day.Until.AddDate(0, 0, 2)}
		if i == 0 {
			held.From = time.Time{} // nothing is known of before
		}
		if i+1 < len(c.plans) {
			held.Until = c.plans[i+1].From
		}
		if held.Until.Before(day.From.AddDate(0, 0, -3)) {
			continue
		}
		shifts, err := plan.Mill.ShiftsBetween(day.From.Add(-OffShiftLasts), day.Until)
		if err != nil {
			return nil
		}
		for _, s := range shifts {
			if held.holds(s.Starts) {
				all = append(all, s)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b ShiftTime) int { return a.Starts.Compare(b.Starts) })
	return all
}

// equipment is what the list asks about, each once.
func (l List) equipment() []procedures.EquipmentID {
	var all []procedures.EquipmentID
	for _, item := range l.Items {
		if !item.NotFitted && !slices.Contains(all, item.Equipment) {
			all = append(all, item.Equipment)
		}
	}
	return all
}
