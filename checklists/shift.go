package checklists

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// WindowBefore is how long before a shift's start its check may be done and
// still count for that shift. Common practice, no source.
const WindowBefore = 4 * time.Hour

// OffShiftLasts is how long a check signed outside the window of any shift
// counts. Common practice, no source.
const OffShiftLasts = 12 * time.Hour

// minutesADay bounds Shift.Start and Shift.End.
const minutesADay = 24 * 60

// Location is the time zone the mill was set up in, from the name in Zone. A
// mill without one, or with a name this machine doesn't know, is a
// [plain.Problems] for the field "zone": UTC or the server's own zone is never
// put in its place.
func (m Mill) Location() (*time.Location, error) { return location(m.Zone, "zone") }

// zones are those asked for before, by name: each rule asks, and there are some
// hundreds in all.
var zones sync.Map

func location(name, field string) (*time.Location, error) {
	if loc, before := zones.Load(name); before {
		return loc.(*time.Location), nil
	}
	var bad plain.Problems
	loc, err := time.LoadLocation(name)
	known := err == nil && name != "" && name != "Local"
	bad.Unless(known, field, "the name of a time zone, such as America/New_York")
	if !known {
		return nil, bad.Err()
	}
	zones.Store(name, loc)
	return loc, nil
}

// LocationAt is the mill's time zone at that instant, after every change dated
// by then. Its error is that of [Mill.Location], or for the field "zones.n.zone".
func (m Mill) LocationAt(t time.Time) (*time.Location, error) {
	w, err := m.wall()
	if err != nil {
		return nil, err
	}
	return w.in(t), nil
}

// wall is the mill's clock through all its zones.
func (m Mill) wall() (wall, error) {
	loc, err := m.Location()
	w := wall{zones: []zoneSpan{{loc: loc}}}
	for i, z := range m.Zones {
		var next *time.Location
		if err == nil {
			next, err = location(z.Zone, fmt.Sprintf("zones.%d.zone", i+1))
		}
		w.zones = append(w.zones, zoneSpan{z.From, next})
	}
	slices.SortStableFunc(w.zones[1:], func(a, b zoneSpan) int { return a.from.Compare(b.from) })
	return w, err
}

// Validate returns nil or a [plain.Problems] with everything the rules can't
// use: name, zone, units, each shift under "shifts.n.name", and the kinds of wood
// under "kinds".
func (m Mill) Validate() error {
	var bad plain.Problems
	bad.Unless(worded(m.Name, LongestText), "name", "the mill's name, at most %d letters", LongestText)
	_, err := m.wall()
	bad.Add("", err)
	for i, z := range m.Zones {
		bad.Unless(!z.From.IsZero() && (i == 0 || z.From.After(m.Zones[i-1].From)), fmt.Sprintf("zones.%d.from", i+1), "the day and time from which it holds, later than the change before")
	}
	for i, c := range m.Closed {
		field := fmt.Sprintf("closed.%d.", i+1)
		bad.Unless(!c.From.IsZero() && c.Until.After(c.From), field+"until", "an end after the start")
		bad.Unless(tidy(c.Reason, LongestText), field+"reason", "why the mill is closed, in at most %d letters", LongestText) // one withheld is empty
	}
	bad.Unless(m.Units == InchPound || m.Units == Metric, "units", "inch-pound or metric")
	for i, s := range m.Shifts {
		field := fmt.Sprintf("shifts.%d.", i+1)
		bad.Unless(worded(s.Name, LongestText), field+"name", "a name for the shift")
		bad.Unless(s.startsInDay(), field+"start", "a time of day from 00:00 to 23:59")
		bad.Unless(s.endsInDay(), field+"end", "a time of day from 00:00 to 24:00")
		bad.Unless(len(s.Days) > 0, field+"days", "at least one day of the week")
		for _, day := range s.Days {
			bad.Unless(day >= time.Sunday && day <= time.Saturday, field+"days", "days of the week")
		}
	}
	var before []lift.Species
	for _, name := range m.Kinds {
		kind, known := lift.FindSpecies(name)
		bad.Unless(known, "kinds", "kinds of wood of the table, not %s", name)
		bad.Unless(!known || !slices.Contains(before, kind), "kinds", "%s once only", name)
		before = append(before, kind)
	}
	return bad.Err()
}

func (s Shift) startsInDay() bool { return s.Start >= 0 && s.Start < minutesADay }
func (s Shift) endsInDay() bool   { return s.End >= 0 && s.End <= minutesADay }

// ShiftTime is one shift on one day.
type ShiftTime struct {
	Name   string
	Opens  time.Time // its check may be done from here
	Starts time.Time
	Ends   time.Time
	People []procedures.PersonID // named for it
}

// window is from Opens up to Ends.
func (s ShiftTime) window() span { return span{s.Opens, s.Ends} }

// ShiftsBetween returns every shift whose window touches the time from one
// instant to another, by start. In the hour an autumn change repeats, a shift
// starts with the first of the two and ends with the second; a start or end
// that a spring change skips is at the change.
func (m Mill) ShiftsBetween(from, until time.Time) ([]ShiftTime, error) {
	w, err := m.wall()
	if err != nil {
		return nil, err
	}
	var found []ShiftTime
	y, mo, d := w.date(from)
	// A window reaches from the day before a start to two days after it.
	days := int(until.Sub(from)/(24*time.Hour)) + 3
	for step := -3; step <= days; step++ {
		weekday := time.Date(y, mo, d+step, 12, 0, 0, 0, time.UTC).Weekday()
		for _, s := range m.Shifts {
			if !s.startsInDay() || !s.endsInDay() || !slices.Contains(s.Days, weekday) {
				continue
			}
			end := s.End
			if end <= s.Start {
				end += minutesADay
			}
			starts, _ := w.moments(y, mo, d+step, s.Start)
			_, ends := w.moments(y, mo, d+step, end)
			one := ShiftTime{Name: strings.TrimSpace(s.Name), People: s.People, Opens: starts.Add(-WindowBefore), Starts: starts, Ends: ends}
			if m.closed(one.Starts) == nil && one.Ends.After(one.Starts) && one.Opens.Before(until) && one.Ends.After(from) {
				found = append(found, one)
			}
		}
	}
	slices.SortStableFunc(found, func(a, b ShiftTime) int { return a.Starts.Compare(b.Starts) })
	return found, nil
}

// ShiftEnded returns when the newest shift ended that is over at now, looking a
// fortnight back; the zero time when there was none.
func (m Mill) ShiftEnded(now time.Time) (ended time.Time, err error) {
	shifts, err := m.ShiftsBetween(now.AddDate(0, 0, -14), now)
	for _, s := range shifts {
		if !s.Ends.After(now) && s.Ends.After(ended) {
			ended = s.Ends
		}
	}
	return ended, err
}
