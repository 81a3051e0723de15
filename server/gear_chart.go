package server

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// wearChart is one kind of measurement of a part over time.
type wearChart struct {
	Name     string
	Alt      string
	W, H     px
	Line     string // corners of the line through the measurements
	Points   []spot
	Days     []wearDay // of the first and the last measurement
	Limit    *stroke
	LimitY   px
	LimitIs  string
	Now      lift.Judged // of the last
	Bad      bool
	Forecast plain.Sentence
	Row      wearRow   // the newest
	Older    []wearRow // the others, newest first
}

// wearDay is a date below the plot.
type wearDay struct {
	spot
	Text, Anchor string
}

type wearRow struct {
	At    time.Time
	By    string
	Value string
	Said  plain.Sentence
	Bad   bool
	Note  string
}

// wearRows are measurements as a table shows them.
type wearRows struct {
	*views.Frame
	Rows []wearRow
}

// Newest is the table of the newest measurement of a chart.
func (p partPage) Newest(c wearChart) wearRows { return wearRows{p.Frame, []wearRow{c.Row}} }

// Older is the table of the others.
func (p partPage) Older(c wearChart) wearRows { return wearRows{p.Frame, c.Older} }

const (
	wearWide, wearHigh = 340.0, 150.0
	wearEdge           = 20.0
	wearFoot           = 24.0   // where the dates stand
	gaugeStep          = 0.0001 // m, what calipers tell
)

func wearCharts(f *views.Frame, rig string, l *lift.Link, all []store.GearMeasurement, names map[procedures.PersonID]string) []wearChart {
	var charts []wearChart
	taken := make([]lift.Taken, len(all))
	for i, m := range all {
		taken[i] = m.Taken()
		taken[i].Elsewhere = m.Rig != rig || m.Link != l.ID
		taken[i].Link = l.ID
	}
	taken = lift.InOrder(taken)
	for _, what := range l.Measures() {
		chart := wearChart{Name: measureText(f, what)}
		var samples []lift.Sample
		for i, m := range all {
			if m.What != what {
				continue
			}
			j, err := l.Judge(taken[i])
			if err != nil {
				j = lift.Judged{Wear: lift.Discard, Said: plain.Say("can't be judged any more: the part was entered otherwise since; measure it again")}
			}
			row := wearRow{At: m.At, By: names[m.By], Value: f.T("%s", plain.Gauged(m.Value)), Said: j.Said, Bad: j.Wear == lift.Discard, Note: m.Note}
			if what == "twist" {
				row.Value = f.T("%s", plain.Degrees(m.Value))
			}
			if len(samples) > 0 {
				chart.Older = append([]wearRow{chart.Row}, chart.Older...)
			}
			chart.Row = row
			chart.Now, chart.Bad = j, row.Bad
			samples = append(samples, lift.Sample{At: m.At, Value: m.Value})
		}
		if len(samples) == 0 {
			continue
		}
		chart.plot(f, samples)
		chart.foresee(f, samples)
		charts = append(charts, chart)
	}
	return charts
}

func (c *wearChart) foresee(f *views.Frame, samples []lift.Sample) {
	forecast := lift.Foresee(samples, c.Now.Limit, c.Now.Least, gaugeStep)
	switch {
	case c.Bad || !(c.Now.Limit > 0):
	case forecast.Known() && !forecast.Soonest.IsZero():
		c.Forecast = plain.Say("If it goes on as it did it reaches its limit about %[1]s, perhaps as soon as %[2]s. Order the spare; inspect it all the same.", f.Day(forecast.At), f.Day(forecast.Soonest))
	case len(samples) < 3 || sameDay(samples):
		c.Forecast = plain.Say("With three measurements or more on different days a forecast is made.")
	default:
		c.Forecast = plain.Say("The measurements show no wear toward the limit.")
	}
}

// sameDay tells whether all lie too close together for a line to be drawn.
func sameDay(samples []lift.Sample) bool {
	first, last := samples[0].At, samples[0].At
	for _, s := range samples {
		if s.At.Before(first) {
			first = s.At
		}
		if s.At.After(last) {
			last = s.At
		}
	}
	return last.Sub(first) < 24*time.Hour
}

// plot draws the measurements over time with the limit as a dashed line.
func (c *wearChart) plot(f *views.Frame, samples []lift.Sample) {
	c.W, c.H = wearWide+2*wearEdge, wearHigh+2*wearEdge+wearFoot
	low, high := samples[0].Value, samples[0].Value
	first, last := samples[0].At, samples[0].At
	for _, s := range samples {
		low, high = min(low, s.Value), max(high, s.Value)
		if s.At.After(last) {
			last = s.At
		}
	}
	if c.Now.Limit > 0 {
		low, high = min(low, c.Now.Limit), max(high, c.Now.Limit)
	}
	room := max(0.1*(high-low), 1e-4)
	low, high = low-room, high+room
	y := func(value float64) px { return px(wearEdge + wearHigh*(high-value)/(high-low)) }
	x := func(at time.Time) px {
		if !last.After(first) {
			return wearEdge + wearWide/2
		}
		return px(wearEdge + wearWide*float64(at.Sub(first))/float64(last.Sub(first)))
	}
	for _, s := range samples {
		point := spot{x(s.At), y(s.Value)}
		c.Points = append(c.Points, point)
		c.Line += point.X.String() + "," + point.Y.String() + " "
	}
	foot := px(wearEdge + wearHigh + wearEdge + wearFoot - 8)
	if from, to := f.Date(first), f.Date(last); from == to {
		c.Days = []wearDay{{spot{wearEdge + wearWide/2, foot}, from, "middle"}}
	} else {
		c.Days = []wearDay{{spot{wearEdge, foot}, from, "start"}, {spot{wearEdge + wearWide, foot}, to, "end"}}
	}
	if c.Now.Limit > 0 {
		at := y(c.Now.Limit)
		c.Limit, c.LimitY, c.LimitIs = &stroke{wearEdge, at, wearEdge + wearWide, at}, at-6, f.T("limit %s", plain.Gauged(c.Now.Limit))
		if c.LimitY < wearEdge {
			c.LimitY = at + 18
		}
	}
	c.Alt = f.T("%s over time; the table below has the same numbers.", c.Name)
}
