package server

import (
	"math"
	"slices"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/views"
)

// trendPlot is a series over time against its limits.
type trendPlot struct {
	W, H   px
	Alt    string
	Points []spot // since the last return to service
	Hollow []spot // before it
	Limits []trendLimit
	Line   *stroke // the fitted line
	Sure   []stroke
	Days   []wearDay
}

type trendLimit struct {
	At   stroke
	Text string
	Y    px
}

const (
	trendWide, trendHigh = 300.0, 150.0
	trendEdge            = 24.0
	trendFoot            = 26.0 // where the dates stand
	farAhead             = 3    // times the readings' own span the plot goes on at most
)

func plotTrend(f *views.Frame, s checklists.Series, forecast checklists.Forecast) trendPlot {
	readings := slices.Concat(append(slices.Clone(s.Earlier), s.Run)...)
	plot := trendPlot{W: trendWide + 2*trendEdge, H: trendHigh + 2*trendEdge + trendFoot}
	if len(readings) == 0 {
		return plot
	}
	first, last := readings[0].At, readings[len(readings)-1].At
	end := plotEnd(forecast, last, last.Add(max(24*time.Hour, farAhead*last.Sub(first))))
	low, high := readings[0].Value, readings[0].Value
	for _, m := range readings {
		low, high = min(low, m.Value), max(high, m.Value)
	}
	for _, bound := range []*float64{s.Item.Limits.Low, s.Item.Limits.High} {
		if bound != nil {
			low, high = min(low, *bound), max(high, *bound)
		}
	}
	room := max(0.1*(high-low), 1e-6*math.Abs(high), 1e-9)
	low, high = low-room, high+room
	x := func(at time.Time) px {
		if !end.After(first) {
			return trendEdge + trendWide/2
		}
		return px(trendEdge + trendWide*min(1, float64(at.Sub(first))/float64(end.Sub(first))))
	}
	y := func(value float64) px { return px(trendEdge + trendHigh*(high-value)/(high-low)) }
	for _, run := range s.Earlier {
		for _, m := range run {
			plot.Hollow = append(plot.Hollow, spot{x(m.At), y(m.Value)})
		}
	}
	for _, m := range s.Run {
		plot.Points = append(plot.Points, spot{x(m.At), y(m.Value)})
	}
	plot.limits(f, s, y)
	plot.foretold(forecast, end, x, y)
	foot := px(trendEdge + trendHigh + trendEdge + trendFoot - 8)
	plot.Days = []wearDay{{spot{trendEdge, foot}, f.Date(first), "start"}, {spot{trendEdge + trendWide, foot}, f.Date(end), "end"}}
	plot.Alt = f.T("%s over time; the table below has the same numbers.", s.Item.Prompt)
	return plot
}

// plotEnd is where the time of a plot ends: with the latest date foretold, but
// no later than farthest.
func plotEnd(f checklists.Forecast, last, farthest time.Time) time.Time {
	end := last
	for _, at := range []time.Time{f.At, f.Latest} {
		if at.After(end) {
			end = at
		}
	}
	if end.After(farthest) {
		return farthest
	}
	return end
}

func (p *trendPlot) limits(f *views.Frame, s checklists.Series, y func(float64) px) {
	add := func(bound *float64, text string) {
		if bound == nil {
			return
		}
		at := y(*bound)
		limit := trendLimit{At: stroke{trendEdge, at, trendEdge + trendWide, at}, Text: text, Y: at - 6}
		if limit.Y < trendEdge-4 {
			limit.Y = at + 18
		}
		p.Limits = append(p.Limits, limit)
	}
	unit := s.Item.Limits.Unit
	if high := s.Item.Limits.High; high != nil {
		add(high, f.T("limit %s", f.Number(*high)+" "+unit))
	}
	if low := s.Item.Limits.Low; low != nil {
		add(low, f.T("limit %s", f.Number(*low)+" "+unit))
	}
}

// foretold draws the fitted line as far as the plot goes, and on the limit
// between which dates it is reached.
func (p *trendPlot) foretold(f checklists.Forecast, end time.Time, x func(time.Time) px, y func(float64) px) {
	if f.Outlook == checklists.TooFew || f.From.At.IsZero() {
		return
	}
	until := f.Until
	if until.At.After(end) { // cut where the plot ends
		share := float64(end.Sub(f.From.At)) / float64(until.At.Sub(f.From.At))
		until = checklists.LinePoint{At: end, Value: f.From.Value + share*(until.Value-f.From.Value)}
	}
	p.Line = &stroke{x(f.From.At), y(f.From.Value), x(until.At), y(until.Value)}
	if f.Outlook != checklists.Reaching || f.Soonest.After(end) {
		return
	}
	latest := f.Latest
	if latest.IsZero() || latest.After(end) {
		latest = end
	}
	at := y(f.Limit)
	p.Sure = []stroke{{x(f.Soonest), at, x(latest), at}, {x(f.Soonest), at - 7, x(f.Soonest), at + 7}}
	if latest.Equal(f.Latest) {
		p.Sure = append(p.Sure, stroke{x(latest), at - 7, x(latest), at + 7})
	}
}

// monthPlot is how many defects were found by month, a row of bars for each
// piece of equipment, with its table.
type monthPlot struct {
	W, H   px
	Alt    string
	Names  []plotName
	Bars   []monthBar
	Base   []stroke
	Feet   []plotName // the months, under the last row
	Months []string
	Rows   []monthRow
}

type plotName struct {
	spot
	Text string
}

type monthBar struct {
	X, Y, W, H px
	Text       string // how many
	At         spot
}

type monthRow struct {
	Name   string
	Counts []int
	Total  int
}

const (
	monthWide  = 27.0
	monthHigh  = 60.0 // of the highest bar
	monthName  = 28.0 // for the name over a row
	monthCount = 18.0 // for the number over a bar
)

func plotMonths(f *views.Frame, starts []time.Time, rows []checklists.MonthRow, plant procedures.Plant) monthPlot {
	plot := monthPlot{Alt: f.T("Defects found by machine and month; the table below has the same numbers.")}
	most := 1
	for _, row := range rows {
		plot.Rows = append(plot.Rows, monthRow{Name: nameIn(plant, row.Equipment), Counts: row.Counts, Total: row.Total})
		most = max(most, slices.Max(row.Counts))
	}
	for _, start := range starts {
		plot.Months = append(plot.Months, start.Format("2006-01"))
	}
	plot.W = px(monthWide*float64(len(starts)) + 2*wearEdge)
	top := 0.0
	for _, row := range plot.Rows {
		base := px(top + monthName + monthCount + monthHigh)
		plot.Names = append(plot.Names, plotName{spot{wearEdge, px(top + 20)}, row.Name})
		plot.Base = append(plot.Base, stroke{wearEdge, base, plot.W - wearEdge, base})
		for i, n := range row.Counts {
			if n == 0 {
				continue
			}
			high := px(monthHigh * float64(n) / float64(most))
			left := px(wearEdge + monthWide*float64(i))
			plot.Bars = append(plot.Bars, monthBar{X: left + 4, Y: base - high, W: monthWide - 8, H: high, Text: strconv.Itoa(n), At: spot{left + monthWide/2, base - high - 4}})
		}
		top = float64(base)
	}
	for i, start := range starts {
		plot.Feet = append(plot.Feet, plotName{spot{px(wearEdge + monthWide*(float64(i)+0.5)), px(top + 20)}, start.Format("1")})
	}
	plot.H = px(top + 30)
	return plot
}
