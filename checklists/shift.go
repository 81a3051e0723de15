package checklists

import (
	"fmt"
	"slices"
	"strings"
	"time"

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

// Location is the mill's time zone, from the name in Zone. A mill without one, or with a name this machine
// doesn't know, is a [plain.Problems] for the field "zone": UTC or the server's
// own zone is never put in its place.
func (m Mill) Location() (*time.Location, error) {
	var bad plain.Problems
	loc, err := time.LoadLocation(m.Zone)
	known := err == nil && m.Zone != "" && m.Zone != "Local"
	bad.Unless(known, "zone", "the name of a time zone, such as America/New_York")
	if !known {
		return nil, bad.Err()
	}
	return loc, nil
}

// Validate returns nil or a [plain.Problems] with everything the rules can't
// use: name, zone, units, each shift under "shifts.n.name", and the kinds of wood
// under "kinds".
func (m Mill) Validate() error {
	var bad plain.Problems
	bad.Unless(worded(m.Name, LongestText), "name", "the mill's name, at most %d letters", LongestText)
	_, err := m.Location()
	bad.Add("", err)
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
}

// window is from Opens up to Ends.
func (s ShiftTime) window() span { return span{s.Opens, s.Ends} }

// ShiftsBetween returns every shift whose window touches the time from one
// instant to another, by start. In the hour an autumn change repeats, a shift
// starts with the first of the two and ends with the second; a start or end
// that a spring change skips is at the change.
func (m Mill) ShiftsBetween(from, until time.Time) ([]ShiftTime, error) {
	loc, err := m.Location()
	if err != nil {
		return nil, err
	}
	var found []ShiftTime
	y, mo, d := from.In(loc).Date()
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
			starts, _ := moments(y, mo, d+step, s.Start, loc)
			_, ends := moments(y, mo, d+step, end, loc)
			one := ShiftTime{Name: strings.TrimSpace(s.Name), Opens: starts.Add(-WindowBefore), Starts: starts, Ends: ends}
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
