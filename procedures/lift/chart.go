package lift

import (
	"math"
	"time"

	"stillsaw/procedures/plain"
)

// ChartOf is what a chart is worked out for: a rig as it stands, and pieces
// without taper of one shape and condition, hung with the balance point midway
// between the hook points.
type ChartOf struct {
	Rig       Rig
	Shape     Shape     // Round, or Squared with both sides as the diameter
	Condition Condition // Green unless the mill knows better
	Kinds     []Species
	Diameters []float64 // m, rising
	Bark      bool      // still on, of round pieces; the wood under it is counted as thick as the diameter
	// Span is the distance of the hook points, metres. With end hooks it is how
	// much shorter than the piece their span is instead.
	Span     float64
	Learned  []Learned // what the mill's own scale has shown, of whatever kinds; nothing of a kind: the published figures
	Step     float64   // m that lengths are printed in; 0 = an inch
	Unsigned bool      // stop at the house margin, so that no supervisor has to sign
	Now      time.Time
	Holds    []plain.Sentence // what the caller knows that forbids every lift with this rig
}

// Limits are the shortest and the longest piece, in whole steps; both 0 where
// none of any length may be lifted.
type Limits struct {
	Shortest, Longest plain.Metres
}

// Chart is a table of limits. Each holds for a lift whose questions are all
// answered with yes and that nothing else in the mill forbids; unless the chart
// is of unsigned lifts, a supervisor still signs above the house margin.
type Chart struct {
	Step   plain.Metres
	Cells  [][]Limits // by kind, then diameter
	Faults []Finding  // what makes every lift with this rig a NO-GO
}

// Chart runs [Verdict.Check] for each limit and one step to either side of it.
func (c ChartOf) Chart() Chart {
	if !(c.Step > 0) {
		c.Step = float64(plain.Inch)
	}
	chart := Chart{Step: plain.Metres(c.Step), Cells: make([][]Limits, len(c.Kinds)), Faults: c.Rig.Faults(c.Now)}
	for _, hold := range c.Holds {
		chart.Faults = append(chart.Faults, Finding{Rule: HoldRule, Said: hold, Blocks: true})
	}
	tab := table{most: int(maxLength / c.Step), of: c, lift: Lift{Rig: c.Rig, Placing: OverBalance, Now: c.Now,
		Questions: Questions{Yes, Yes, Yes, Yes, Yes, Yes}}}
	first := make([]int, len(c.Diameters))
	for k, kind := range c.Kinds {
		chart.Cells[k] = make([]Limits, len(c.Diameters))
		if len(chart.Faults) > 0 {
			continue
		}
		guess := tab.most
		for d, diameter := range c.Diameters {
			tab.take(kind, diameter)
			if k == 0 {
				first[d] = tab.shortest(tab.most / 2)
			} else if c.Rig.Headroom > 0 { // how deep it hangs depends on the kind's bark
				first[d] = tab.shortest(first[d])
			}
			low := first[d]
			if d > 0 {
				guess = int(float64(guess) * math.Pow(c.Diameters[d-1]/diameter, 2))
			}
			guess = tab.longest(low, guess)
			if guess >= low {
				chart.Cells[k][d] = Limits{plain.Metres(float64(low) * c.Step), plain.Metres(float64(guess) * c.Step)}
			}
		}
	}
	return chart
}

// At is the lift one cell of the chart stands for at a length, metres.
func (c ChartOf) At(kind Species, diameter, length float64) Lift {
	l := Lift{Rig: c.Rig, Placing: OverBalance, Now: c.Now, Questions: Questions{Yes, Yes, Yes, Yes, Yes, Yes}}
	l.Piece = Piece{Shape: c.Shape, Species: kind, Condition: c.Condition, Small: diameter, Large: diameter,
		Width: diameter, Height: diameter, Length: length, Bark: c.Bark && c.Shape == Round, Learned: c.learned(kind)}
	l.Span = c.span(length)
	return l
}

// learned is what the scale has shown of such wood, the zero value for nothing.
func (c *ChartOf) learned(kind Species) Learned {
	for _, l := range c.Learned {
		if l.Kind == kind.Scientific && l.Condition == c.Condition {
			return l
		}
	}
	return Learned{}
}

func (c *ChartOf) span(length float64) float64 {
	if c.Rig.grips() {
		return length - c.Span
	}
	return c.Span
}

// table is the lift under judgement and the verdict whose slices are used again.
type table struct {
	of      ChartOf
	lift    Lift
	verdict Verdict
	most    int // steps
}

func (t *table) take(kind Species, diameter float64) {
	t.lift.Piece = t.of.At(kind, diameter, 1).Piece
}

func (t *table) goes(steps int) bool {
	if steps < 1 || steps > t.most {
		return false
	}
	length := float64(steps) * t.of.Step
	t.lift.Piece.Length, t.lift.Span = length, t.of.span(length)
	t.verdict.Check(&t.lift)
	return t.verdict.Allowed(!t.of.Unsigned)
}

// tooShort tells whether the length last judged is refused for something that
// a longer piece cures, whatever it weighs.
func (t *table) tooShort() bool {
	for i := range t.verdict.Findings {
		switch f := &t.verdict.Findings[i]; f.Rule {
		case OutwardRule, HeadroomRule, BalanceRule:
			return true
		case SpanRule: // not: legs that no longer reach
			return !(t.lift.Span > 0 && t.lift.Span <= t.lift.Piece.Length)
		case GripRule:
			return float64(t.verdict.Angle) > t.of.Rig.EndHookBand.High
		}
	}
	return false
}

// shortest is the first length that isn't too short, or one past the most.
func (t *table) shortest(guess int) int {
	return 1 + last(0, t.most, min(guess, t.most), func(steps int) bool {
		t.goes(steps)
		return t.tooShort()
	})
}

// longest is the last length from low on that is a GO, or low − 1.
func (t *table) longest(low, guess int) int {
	return last(low-1, t.most, max(low, min(guess, t.most)), t.goes)
}

// last is the last number above none and up to most that holds, or none. All up
// to it hold and none after it does. It starts at a guess and strides away from
// it in growing steps.
func last(none, most, guess int, holds func(int) bool) int {
	good, bad := none, most+1
	for stride := 1; guess > good && guess < bad; stride *= 2 {
		if holds(guess) {
			good = guess
			guess += stride
		} else {
			bad = guess
			guess -= stride
		}
	}
	for bad-good > 1 {
		if middle := (good + bad) / 2; holds(middle) {
			good = middle
		} else {
			bad = middle
		}
	}
	return good
}
