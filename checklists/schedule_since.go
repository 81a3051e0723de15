package checklists

import (
	"math"
	"slices"
	"strconv"
	"time"

	"stillsaw/procedures/plain"
)

// MeterReadWithin is how old the newest reading of a meter may be before the
// running hours since are not known. Common practice, no source.
const MeterReadWithin = 7 * 24 * time.Hour

// always is every time up to now.
func always(now time.Time) span { return span{Until: now.Add(1)} }

// dueAfterDays: due all through the last day, late from its end and the grace
// on. A last day that falls in a closure is the first day open again. Never
// done, it is due from when it took force.
func (p past) dueAfterDays(state DueState, list List, mill Mill, signed []*Inspection, now time.Time, w wall) DueState {
	if list.Schedule.Days < 1 {
		state.Said = plain.Say("%s does not say how many days may pass.", list.Title)
		return state
	}
	last := newest(signed, always(now))
	base := p.begun(list)
	state.Opens, state.Starts = base, base
	if last != nil {
		base = last.At
		state.Opens, state.Starts = base, w.later(base, list.Schedule.Days)
	}
	limit := w.later(base, list.Schedule.Days+1+list.Schedule.Grace)
	late := mill.openDay(limit, w)
	if last != nil && now.Before(state.Starts) {
		state.Status, state.Done, state.Ends = IsDone, last, state.Starts
		state.Said = plain.Say("%s was done %s; next by %s.", list.Title, last.At, late)
		return state
	}
	state.Ends, state.over = late, !now.Before(limit)
	if !now.Before(late) {
		state.Status = IsLate
		state.Said = plain.Say("%s is late: it was to be done by %s.", list.Title, late)
		return p.reason(state, list)
	}
	if closed := mill.closed(now); closed != nil {
		return state.closedFor(closed)
	}
	state.Status = IsDue
	state.Said = plain.Say("%s is due until %s.", list.Title, late)
	return p.reason(state, list)
}

// reason puts a supervisor's excuse for what fell due at state.Starts.
func (p past) reason(state DueState, list List) DueState {
	if excuse := p.excuse(list.ID, state.Starts); excuse != nil {
		return state.excusedBy(excuse, list)
	}
	return state
}

// dueAfterHours reckons running hours by the meter. Without a reading from when
// it was last done, with none of late, or with the meter changed in between,
// nothing is known unless the readings alone show that it is due.
func (p past) dueAfterHours(state DueState, list List, mill Mill, signed []*Inspection, now time.Time) DueState {
	s := list.Schedule
	if !(s.Hours > 0) || s.Meter == "" {
		state.Said = plain.Say("%s does not say how many hours of which meter may pass.", list.Title)
		return state
	}
	last := newest(signed, always(now))
	base := p.begun(list)
	if last != nil {
		base = last.At
	}
	state.Opens, state.Starts = base, base
	run := meterRun(p.readings, s.Meter, base, now)
	state.Hours = run.hours
	stale := run.newest.IsZero() || now.Sub(run.newest) > MeterReadWithin
	known := run.known || last == nil && !run.first.IsZero() && run.first.Sub(base) <= MeterReadWithin
	state.over = stale || run.changed || !known || run.hours >= s.Hours+float64(s.Grace)
	switch {
	case run.hours >= s.Hours+float64(s.Grace):
		state.Status, state.Starts = IsLate, run.reached(s.Hours)
		state.Said = plain.Say("%s is late: %s running hours since it was last done, at most %s.", list.Title, hours(run.hours), hours(s.Hours))
		return p.reason(state, list)
	case run.hours >= s.Hours:
		state.Status, state.Starts = IsDue, run.reached(s.Hours)
		state.Said = plain.Say("%s is due: %s running hours since it was last done.", list.Title, hours(run.hours))
		return p.reason(state, list)
	case run.changed:
		state.Said = plain.Say("%s: the meter was changed or set back since it was last done, so the hours since are not known. Do it again.", list.Title)
		return state
	case run.newest.IsZero():
		state.Said = plain.Say("%s: the meter was never read, so the running hours are not known. Read the meter, and do it.", list.Title)
		return state
	case !known && last == nil:
		state.Said = plain.Say("%s: it was never done, and the meter was not read when it took force, so the hours since are not known. Do it.", list.Title)
		return state
	case !known:
		state.Said = plain.Say("%s: the meter was not read before it was last done, so the hours since are not known. Read the meter, and do it again.", list.Title)
		return state
	case stale && mill.closed(now) != nil:
		return state.closedFor(mill.closed(now))
	case stale:
		state.Said = plain.Say("%s: the meter was last read %s. Read it again.", list.Title, run.newest)
		return state
	case last == nil:
		state.Status = IsDue
		state.Said = plain.Say("%s is due: it was never done.", list.Title)
		return p.reason(state, list)
	}
	state.Status, state.Done = IsDone, last
	state.Said = plain.Say("%s was done %s; %s of %s running hours since.", list.Title, last.At, hours(run.hours), hours(s.Hours))
	return state
}

// hours of running, as they are said.
type hours float64

func (h hours) String() string { return strconv.FormatFloat(math.Round(10*float64(h))/10, 'f', -1, 64) }

// running is what a meter tells of the time since a moment.
type running struct {
	hours   float64
	known   bool      // it was read at or before that moment
	changed bool      // since that moment it was replaced or shows less: the sum is a guess
	first   time.Time // reading after that moment; zero for none
	newest  time.Time // reading; zero for none
	steps   []step
}

type step struct {
	at    time.Time
	hours float64
}

// reached is when the meter was first read to have run that long.
func (r running) reached(hours float64) time.Time {
	for _, s := range r.steps {
		if s.hours >= hours {
			return s.at
		}
	}
	return r.newest
}

// meterRun adds up what the meter went on since a moment: from its last reading
// at or before it, else from the first after it. A meter changed or set back is
// reckoned to have run from nought, and what the old one went on until then is
// not known.
func meterRun(readings []Reading, meter MeterID, since, now time.Time) running {
	var own []Reading
	for _, r := range readings {
		if r.Meter == meter && !r.At.After(now) {
			own = append(own, r)
		}
	}
	slices.SortStableFunc(own, func(a, b Reading) int { return a.At.Compare(b.At) })
	var run running
	for i, r := range own {
		run.newest = r.At
		if !r.At.After(since) {
			run.known = true
			continue
		}
		if run.first.IsZero() {
			run.first = r.At
		}
		if i == 0 {
			continue
		}
		more := r.Value - own[i-1].Value
		if r.Replaced || more < 0 {
			more, run.changed = r.Value, true
		}
		run.hours += more
		run.steps = append(run.steps, step{r.At, run.hours})
	}
	return run
}
