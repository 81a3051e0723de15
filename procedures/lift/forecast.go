package lift

import (
	"math"
	"time"
)

// Sample is one measurement of a part, in metres.
type Sample struct {
	At    time.Time
	Value float64
}

// Forecast is when a measurement will reach its limit if it goes on as it did:
// an aid to ordering the spare, never a reason to leave an inspection out.
type Forecast struct {
	N      int
	PerDay float64 // m a day, by the straight line
	// At is where the line reaches the limit; zero where the part doesn't wear
	// toward it, or not within fifty years.
	At time.Time
	// Soonest is where the upper 95 % bound of the line reaches it, and Latest
	// where the lower one does; zero likewise.
	Soonest, Latest time.Time
}

// Known tells whether the measurements show wear toward the limit.
func (f Forecast) Known() bool { return !f.At.IsZero() }

const (
	fewestSamples = 3
	farthest      = 50 * 365.25 // days
)

// Foresee draws a least-squares line through the measurements and says when it
// reaches the limit, the least allowed or else the most. step is what the gauge
// can tell: no line is believed finer than that. With fewer than three
// measurements, or all on one day, nothing is foretold.
//
// Source: textbook confidence band of a fitted line, one-sided 95 % with n−2
// degrees of freedom.
func Foresee(samples []Sample, limit float64, least bool, step float64) Forecast {
	f := Forecast{N: len(samples)}
	if f.N < fewestSamples || !(limit > 0) {
		return f
	}
	days, values, start, last := daysOf(samples)
	line, ok := fit(days, values, step)
	if !ok {
		return f
	}
	f.PerDay = line.slope
	toward := line
	if least { // turned over, so that wear grows toward the limit
		toward.middleValue, toward.slope, limit = -line.middleValue, -line.slope, -limit
	}
	date := func(sign float64) time.Time {
		x, ok := toward.reaches(limit, last, sign)
		if !ok {
			return time.Time{}
		}
		return start.Add(time.Duration(x * 24 * float64(time.Hour)))
	}
	f.At, f.Soonest, f.Latest = date(0), date(1), date(-1)
	return f
}

func daysOf(samples []Sample) (days, values []float64, start time.Time, last float64) {
	start = samples[0].At
	for _, s := range samples {
		if s.At.Before(start) {
			start = s.At
		}
	}
	for _, s := range samples {
		x := s.At.Sub(start).Hours() / 24
		days, values = append(days, x), append(values, s.Value)
		last = math.Max(last, x)
	}
	return days, values, start, last
}

// line is a fitted straight line, with what its bound widens by.
type line struct {
	middleDay, middleValue, slope float64
	n, spreadOfDays, bound        float64 // bound: t times the residual deviation
}

func fit(days, values []float64, step float64) (l line, ok bool) {
	l.n = float64(len(days))
	for i := range days {
		l.middleDay += days[i] / l.n
		l.middleValue += values[i] / l.n
	}
	product := 0.0
	for i := range days {
		l.spreadOfDays += (days[i] - l.middleDay) * (days[i] - l.middleDay)
		product += (days[i] - l.middleDay) * (values[i] - l.middleValue)
	}
	if !(l.spreadOfDays >= 1) {
		return l, false
	}
	l.slope = product / l.spreadOfDays
	left := 0.0
	for i := range days {
		off := values[i] - l.at(days[i])
		left += off * off
	}
	deviation := math.Sqrt(left / (l.n - 2))
	deviation = math.Max(deviation, step/math.Sqrt(12)) // rounding to the step by itself
	l.bound = student95(len(days)-2) * deviation
	return l, !math.IsNaN(l.bound) && !math.IsInf(l.bound, 0)
}

func (l *line) at(day float64) float64 { return l.middleValue + l.slope*(day-l.middleDay) }

// side is the line plus its bound times sign.
func (l *line) side(day, sign float64) float64 {
	off := day - l.middleDay
	return l.at(day) + sign*l.bound*math.Sqrt(1/l.n+off*off/l.spreadOfDays)
}

// reaches is the first day from the last measurement on at which the line's
// side reaches the limit from below. The side is convex or concave, so halving
// the time finds the crossing where the far end lies beyond it.
func (l *line) reaches(limit, last, sign float64) (day float64, ok bool) {
	if l.side(last, sign) >= limit {
		return last, true
	}
	near, far := last, last+farthest
	if l.side(far, sign) < limit {
		return 0, false
	}
	for range 60 {
		middle := (near + far) / 2
		if l.side(middle, sign) < limit {
			near = middle
		} else {
			far = middle
		}
	}
	return far, true
}
