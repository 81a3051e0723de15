package checklists

import "time"

// span is a stretch of time from From up to, not including, Until.
type span struct{ From, Until time.Time }

func (s span) holds(t time.Time) bool { return !t.Before(s.From) && t.Before(s.Until) }

// wall is the clock on the wall of a mill through all its zones.
type wall struct {
	zones []zoneSpan // each from its instant on; the first holds before it too
}

type zoneSpan struct {
	from time.Time // the zero time for the first
	loc  *time.Location
}

// in is the zone in use at that instant.
func (w wall) in(t time.Time) *time.Location {
	loc := w.zones[0].loc
	for _, z := range w.zones[1:] {
		if !t.Before(z.from) {
			loc = z.loc
		}
	}
	return loc
}

// date is the date the wall shows at that instant.
func (w wall) date(t time.Time) (year int, month time.Month, day int) { return t.In(w.in(t)).Date() }

// stretch is a time during which the wall stands at one offset from UTC.
type stretch struct {
	from   time.Time
	offset time.Duration
}

// stretches are those that touch the time from one instant to another, in order.
func (w wall) stretches(from, until time.Time) []stretch {
	var all []stretch
	for at := from; at.Before(until); {
		loc := w.in(at)
		_, seconds := at.In(loc).Zone()
		all = append(all, stretch{at, time.Duration(seconds) * time.Second})
		next := until
		if _, ends := at.In(loc).ZoneBounds(); !ends.IsZero() && ends.Before(next) {
			next = ends
		}
		for _, z := range w.zones[1:] {
			if z.from.After(at) && z.from.Before(next) {
				next = z.from
			}
		}
		at = next
	}
	return all
}

// moments returns the first and the last instant at which the wall shows that
// date and minute of the day. They are one except in the hours that an autumn
// change, or a change to a zone further west, repeats. A time that a change
// skips is the instant of the change. Minutes run on past 1440 into the next days.
func (w wall) moments(year int, month time.Month, day, minute int) (first, last time.Time) {
	shown := time.Date(year, month, day, 0, minute, 0, 0, time.UTC)
	const reach = 38 * time.Hour // past the widest offsets, and a change by a day at the date line
	var skipped time.Time
	all := w.stretches(shown.Add(-reach), shown.Add(reach))
	for i, s := range all {
		instant := shown.Add(-s.offset)
		ends := shown.Add(reach)
		if i+1 < len(all) {
			ends = all[i+1].from
		}
		if (span{s.from, ends}).holds(instant) {
			if first.IsZero() {
				first = instant
			}
			last = instant
		}
		if skipped.IsZero() && s.from.Add(s.offset).After(shown) {
			skipped = s.from // the wall went from before it to after it
		}
	}
	if first.IsZero() {
		first, last = skipped, skipped
	}
	return first.In(w.in(first)), last.In(w.in(last))
}

// midnight is the first instant of a date; days may over- or underflow the month.
func (w wall) midnight(year int, month time.Month, day int) time.Time {
	first, _ := w.moments(year, month, day, 0)
	return first
}

// period returns the calendar period around now, moved by steps periods. It is
// empty for an unknown kind, and for a date a zone skipped altogether.
func (w wall) period(every Period, now time.Time, steps int) span {
	y, m, d := w.date(now)
	switch every {
	case EachDay:
		return w.days(y, m, d+steps, 1)
	case EachWeek:
		weekday := time.Date(y, m, d, 12, 0, 0, 0, time.UTC).Weekday()
		sinceMonday := (int(weekday) + 6) % 7
		return w.days(y, m, d-sinceMonday+7*steps, 7)
	case EachMonth:
		return w.months(y, m, 1, steps)
	case EachQuarter:
		return w.months(y, m-(m-1)%3, 3, steps)
	case EachYear:
		return w.months(y, time.January, 12, steps)
	}
	return span{}
}

func (w wall) days(year int, month time.Month, first, length int) span {
	return span{w.midnight(year, month, first), w.midnight(year, month, first+length)}
}

func (w wall) months(year int, from time.Month, length, steps int) span {
	first := from + time.Month(length*steps)
	return span{w.midnight(year, first, 1), w.midnight(year, first+time.Month(length), 1)}
}

// later is the first instant of the date that many days after the one shown at t.
func (w wall) later(t time.Time, days int) time.Time {
	y, m, d := w.date(t)
	return w.midnight(y, m, d+days)
}
