package checklists

import (
	"math"
	"slices"
	"time"

	"stillsaw/procedures"
)

// Measurement is one number measured in a signed inspection.
type Measurement struct {
	At         time.Time
	Value      float64 // in the unit of its series
	By         procedures.PersonID
	Inspection InspectionID
	Out        bool // outside the limits as they are now
}

// Series is what was measured at one item over time. An item is its list's, so
// the same item of another list is another series.
type Series struct {
	List      ListID
	Item      Item // as it stands in the newest version
	Equipment procedures.EquipmentID
	// Run is what was measured since the equipment was last renewed ([Renewed]),
	// oldest first; Earlier what was before, in runs of its own.
	Run     []Measurement
	Earlier [][]Measurement
}

// Versions are the versions of a list, by number.
type Versions map[int]List

// newest is the last version in force by now.
func (v Versions) newest(now time.Time) List {
	var last List
	for _, l := range v {
		if l.Version > last.Version && !l.InForce.After(now) {
			last = l
		}
	}
	return last
}

// Measured collects what was measured in signed inspections and their
// amendments, one series for each item of kind Number of the newest version in
// force of each list, in the order of the lists' items. A number in another unit than
// the newest version's is left out, as are items without a limit; what a meter
// shows is no measurement of wear and has no limit.
//
// renewed ends runs: from each such time the series of the equipment's items
// begin anew.
func Measured(lists []Versions, inspections []Inspection, amendments []Amendment, renewed Renewals, now time.Time) []Series {
	var all []Series
	for _, versions := range lists {
		newest := versions.newest(now)
		taken := map[ItemID][]Measurement{}
		take := func(version int, in InspectionID, answers []Answer) {
			for _, a := range answers {
				was, known := versions[version].Item(a.Item)
				is, still := newest.Item(a.Item)
				if a.Number == nil || a.Result == NotChecked || !known || !still || was.Kind != Number || is.Kind != Number || was.Limits.Unit != is.Limits.Unit || was.Equipment != is.Equipment {
					continue
				}
				taken[a.Item] = append(taken[a.Item], Measurement{At: a.At, Value: *a.Number, By: a.By, Inspection: in, Out: !is.Limits.Within(*a.Number)})
			}
		}
		for _, in := range inspections {
			if in.List == newest.ID {
				take(in.Version, in.ID, in.Answers)
			}
		}
		for _, a := range amendments {
			if a.List == newest.ID {
				take(a.Version, a.Inspection, a.Answers)
			}
		}
		all = append(all, seriesOf(newest, taken, renewed)...)
	}
	return all
}

// seriesOf puts the measurements of one list into series, in the order of its items.
func seriesOf(newest List, taken map[ItemID][]Measurement, renewed Renewals) []Series {
	var all []Series
	for _, item := range newest.Asks() {
		readings := taken[item.ID]
		if len(readings) == 0 || item.Limits.Low == nil && item.Limits.High == nil {
			continue
		}
		slices.SortStableFunc(readings, func(a, b Measurement) int { return a.At.Compare(b.At) })
		s := Series{List: newest.ID, Item: item, Equipment: item.Equipment}
		s.cut(readings, renewed[item.Equipment])
		all = append(all, s)
	}
	return all
}

// Renewals are the times equipment became another thing to measure, oldest first.
type Renewals map[procedures.EquipmentID][]time.Time

// Renewed collects the returns to service of each equipment, and for every head
// saw the fittings of a blade: what wore before is not what wears now.
func Renewed(plant procedures.Plant, defects []Defect, blades []BladeStanding) Renewals {
	renewed := Renewals{}
	for _, d := range defects {
		if !d.Open() {
			renewed[d.Equipment] = append(renewed[d.Equipment], d.ReturnedAt)
		}
	}
	for _, e := range plant {
		if e.Kind != procedures.HeadSaw {
			continue
		}
		for _, b := range blades {
			for _, a := range b.Acts {
				if a.Work == BladeFitted {
					renewed[e.ID] = append(renewed[e.ID], a.On)
				}
			}
		}
	}
	for _, times := range renewed {
		slices.SortFunc(times, time.Time.Compare)
	}
	return renewed
}

// cut sorts readings, oldest first, into runs that end at the given times.
func (s *Series) cut(readings []Measurement, ends []time.Time) {
	for _, end := range ends {
		n := 0
		for n < len(readings) && !readings[n].At.After(end) {
			n++
		}
		if n > 0 {
			s.Earlier = append(s.Earlier, readings[:n:n])
			readings = readings[n:]
		}
	}
	s.Run = readings
}

// Outlook is what a series says of the days to come. The zero value says nothing.
type Outlook int

const (
	TooFew   Outlook = iota // fewer than [FewestReadings], or too close together
	Unsteady                // its slope can't be told from none
	Away                    // it moves away from its limits, or into the middle
	TooFar                  // reached in more than [FarthestForecast]
	Reaching                // a date can be told
	IsOut                   // the last reading is outside the limits already
)

// What a forecast needs, and how sure it is. Common practice, no source: three
// points are the fewest a line can be wrong about.
const (
	FewestReadings     = 3
	FarthestForecast   = 5 * 365 * 24 * time.Hour
	ForecastConfidence = 0.95
	leastSpan          = 24 * time.Hour // of one day's readings no line is drawn
)

// Forecast is when a measurement will reach its limit if it goes on as it did:
// an aid to ordering the spare, never a reason to leave a check out.
type Forecast struct {
	Outlook Outlook
	Limit   float64 // the bound it moves toward
	PerDay  float64 // in the unit of the series
	// At is where the line reaches the limit, Soonest and Latest between which
	// dates a reading at the limit lies with [ForecastConfidence]. Soonest is no
	// earlier than the last reading. Latest is zero where that is farther off
	// than [FarthestForecast].
	At, Soonest, Latest time.Time
	// From and Until are the line's own ends, at the first reading and where it
	// reaches the limit or at the last reading.
	From, Until LinePoint
}

// LinePoint is a point of a forecast's line.
type LinePoint struct {
	At    time.Time
	Value float64
}

// Foresee draws a least-squares line through the run and says when it reaches
// the limit it moves toward, with the interval [trendLine.crossing] gives.
func (s Series) Foresee() Forecast {
	n := len(s.Run)
	if n == 0 {
		return Forecast{}
	}
	first, last := s.Run[0], s.Run[n-1]
	var f Forecast
	x, y := make([]float64, n), make([]float64, n)
	for i, m := range s.Run {
		x[i], y[i] = m.At.Sub(first.At).Hours()/24, m.Value
	}
	line, ok := fitLine(x, y, readTo(y))
	if n >= FewestReadings && last.At.Sub(first.At) >= leastSpan && ok {
		f = line.toward(s.Item.Limits, first.At, last.At)
	}
	if last.Out {
		f.Outlook = IsOut
	}
	return f
}

// toward is the forecast of the line, drawn over days from first.
func (l trendLine) toward(limits Limits, first, last time.Time) Forecast {
	day := func(x float64) time.Time { return first.Add(time.Duration(x * 24 * float64(time.Hour))) }
	end := last.Sub(first).Hours() / 24
	f := Forecast{Outlook: Unsteady, PerDay: l.slope, From: LinePoint{first, l.at(0)}, Until: LinePoint{last, l.at(end)}}
	bound := limits.High
	if l.slope < 0 {
		bound = limits.Low
	}
	if bound != nil {
		f.Limit = *bound
	}
	limit := f.Limit
	at, from, until, steady := l.crossing(limit, ForecastConfidence)
	farthest := end + FarthestForecast.Hours()/24
	switch {
	case !steady:
		return f
	case bound == nil:
		f.Outlook = Away
		return f
	case at > farthest:
		f.Outlook = TooFar
		return f
	}
	f.Outlook, f.At, f.Soonest = Reaching, day(math.Max(at, end)), day(math.Max(from, end))
	if until <= farthest {
		f.Latest = day(math.Max(until, end))
	}
	f.Until = LinePoint{f.At, l.at(math.Max(at, end))}
	return f
}

// gaugeSteps are the steps people read gauges and rules to, the coarsest first.
func gaugeSteps() []float64 {
	return []float64{1, 0.5, 0.25, 0.2, 0.125, 0.1, 0.0625, 0.05, 1.0 / 32, 0.02, 1.0 / 64, 0.01, 0.005, 0.002, 0.001}
}

// readTo is the coarsest step of a gauge that all readings are whole multiples
// of: what they were rounded to. 0 where they are finer than any.
func readTo(y []float64) float64 {
	for _, step := range gaugeSteps() {
		if !slices.ContainsFunc(y, func(v float64) bool { return math.Abs(v/step-math.Round(v/step)) > 1e-6 }) {
			return step
		}
	}
	return 0
}
