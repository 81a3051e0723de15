package server

import (
	"math"

	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// markOf is the letter that stands for a kind in the plot; the table says which.
func markOf(place int) string { return string(rune('A' + place%26)) }

// weighedPlot is predicted against weighed, both axes alike, so that a piece
// that weighed what was predicted lies on the diagonal.
type weighedPlot struct {
	W, H   px
	Level  stroke // diagonal
	Frame  []stroke
	Points []plotPoint
	Ticks  []plotTick
	Alt    string
}

// plotPoint is one reading as a dot. Letter has its kind's sign where there is room
// for it beside the dot, so that letters never run together.
type plotPoint struct {
	spot
	Mark   string // "" where there was no room
	Letter spot
	Odd    bool
}

type plotTick struct {
	At   stroke
	Text string
	X, Y px
	End  bool // text ends at X
}

const (
	plotSide = 300.0
	plotLeft = 92.0
	plotTop  = 10.0
)

// tickEvery is the round number of the mill's unit, 1, 2 or 5 and noughts, of
// which there are two to five up to most.
func tickEvery(most, unit plain.Kilograms) plain.Kilograms {
	step := math.Pow(10, math.Floor(math.Log10(float64(most/unit))))
	for _, part := range []float64{0.2, 0.5, 1} {
		if float64(most/unit)/(step*part) <= 5+1e-9 {
			return plain.Kilograms(step*part) * unit
		}
	}
	return plain.Kilograms(2*step) * unit
}

func plotWeighed(f *views.Frame, lines []weighedLine) weighedPlot {
	plot := weighedPlot{W: plotLeft + plotSide + 20, H: plotTop + plotSide + 50}
	most := plain.Kilograms(0)
	for _, l := range lines {
		most = max(most, l.Predicted, l.Weighed)
	}
	if most == 0 {
		return plot
	}
	scale := plotSide / (1.1 * float64(most))
	x := func(kg plain.Kilograms) px { return px(plotLeft + float64(kg)*scale) }
	y := func(kg plain.Kilograms) px { return px(plotTop + plotSide - float64(kg)*scale) }
	end := most * 1.1
	plot.Level = stroke{x(0), y(0), x(end), y(end)}
	plot.Frame = []stroke{{x(0), y(0), x(end), y(0)}, {x(0), y(0), x(0), y(end)}}
	step := tickEvery(most, plain.Kilograms(newReader(measures{units: f.Units}).weightSize))
	for at := step; at <= end; at += step {
		text := f.T("%s", at)
		plot.Ticks = append(plot.Ticks, plotTick{At: stroke{x(at), y(0), x(at), y(0) + 6}, Text: text, X: x(at), Y: y(0) + 24},
			plotTick{At: stroke{x(0), y(at), x(0) - 6, y(at)}, Text: text, X: x(0) - 9, Y: y(at) + 5, End: true})
	}
	for _, l := range lines {
		plot.Points = append(plot.Points, plotPoint{spot: spot{x(l.Predicted), y(l.Weighed)}, Mark: markOf(l.mark), Odd: !l.Odd.Empty() || l.Aside})
	}
	plot.letter()
	plot.Alt = f.T("Predicted weight to the right, weighed upward. Above the line a piece weighed more than predicted. The table below has the same numbers.")
	return plot
}

const (
	letterOff  = 14.0 // from the dot to the middle of its letter
	letterHalf = 8.0  // half of what a letter takes up, each way
)

// letter puts each letter where it touches no other and no dot, or leaves it out.
func (p *weighedPlot) letter() {
	var taken []spot
	for i := range p.Points {
		one := &p.Points[i]
		free := false
		for _, way := range [][2]px{{1, 0}, {-1, 0}, {0, -1}, {0, 1}} {
			at := spot{one.X + letterOff*way[0], one.Y + letterOff*way[1]}
			if free = p.free(at, taken); free {
				taken = append(taken, at)
				one.Letter = spot{at.X, at.Y + 5} // the middle of a capital stands so much over its line
				break
			}
		}
		if !free {
			one.Mark = ""
		}
	}
}

func (p *weighedPlot) free(at spot, taken []spot) bool {
	apart := func(o spot, least float64) bool {
		return math.Abs(float64(at.X-o.X)) >= least || math.Abs(float64(at.Y-o.Y)) >= least
	}
	for _, o := range taken {
		if !apart(o, 2*letterHalf) {
			return false
		}
	}
	for i := range p.Points {
		if !apart(p.Points[i].spot, letterHalf+3) {
			return false
		}
	}
	return float64(at.X) >= plotLeft+letterHalf && float64(at.Y) <= plotTop+plotSide-letterHalf && float64(at.Y) >= letterHalf
}
