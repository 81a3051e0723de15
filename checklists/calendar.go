package checklists

import "time"

// moments returns the first and the last instant at which a clock on the wall
// of loc shows that date and minute of the day. They are one except in the hour
// an autumn change repeats. A time that a change skips is the instant of the
// change. Minutes run on past 1440 into the next days.
func moments(year int, month time.Month, day, minute int, loc *time.Location) (first, last time.Time) {
	wall := time.Date(year, month, day, 0, minute, 0, 0, time.UTC)
	offsetAt := func(t time.Time) time.Duration {
		_, seconds := t.In(loc).Zone()
		return time.Duration(seconds) * time.Second
	}
	early, late := offsetAt(wall.Add(-36*time.Hour)), offsetAt(wall.Add(36*time.Hour))
	for _, offset := range []time.Duration{early, late} {
		instant := wall.Add(-offset)
		if offsetAt(instant) != offset {
			continue
		}
		if first.IsZero() || instant.Before(first) {
			first = instant
		}
		if last.IsZero() || instant.After(last) {
			last = instant
		}
	}
	if first.IsZero() { // skipped: the clock went from before it to after it
		change, _ := wall.Add(-early).In(loc).ZoneBounds()
		first, last = change, change
	}
	return first.In(loc), last.In(loc)
}

// midnight is the first instant of a date in loc; days may over- or underflow
// the month.
func midnight(year int, month time.Month, day int, loc *time.Location) time.Time {
	first, _ := moments(year, month, day, 0, loc)
	return first
}

// span is a stretch of time from From up to, not including, Until.
type span struct{ From, Until time.Time }

func (s span) holds(t time.Time) bool { return !t.Before(s.From) && t.Before(s.Until) }

// period returns the calendar period around now, moved by steps periods. It is
// empty for an unknown kind, and for a date a zone skipped altogether.
func period(every Period, now time.Time, steps int, loc *time.Location) span {
	y, m, d := now.In(loc).Date()
	switch every {
	case EachDay:
		return span{midnight(y, m, d+steps, loc), midnight(y, m, d+steps+1, loc)}
	case EachWeek:
		sinceMonday := (int(now.In(loc).Weekday()) + 6) % 7
		monday := d - sinceMonday + 7*steps
		return span{midnight(y, m, monday, loc), midnight(y, m, monday+7, loc)}
	case EachMonth:
		return months(y, m, 1, steps, loc)
	case EachQuarter:
		return months(y, m-(m-1)%3, 3, steps, loc)
	case EachYear:
		return months(y, time.January, 12, steps, loc)
	}
	return span{}
}

func months(year int, from time.Month, length, steps int, loc *time.Location) span {
	first := from + time.Month(length*steps)
	return span{midnight(year, first, 1, loc), midnight(year, first+time.Month(length), 1, loc)}
}
