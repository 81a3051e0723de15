package checklists

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// trendLine is a least-squares straight line with what tells how well it is known.
type trendLine struct {
	n                    int
	middle, value, slope float64 // through (middle, value)
	spread               float64 // sum of squares of x about its middle
	deviation            float64 // residual standard deviation, n−2 degrees of freedom
}

// fitLine draws the line through at least three points, not all at one x. step
// is the finest difference the readings can tell: the line is believed no finer
// than their rounding.
func fitLine(x, y []float64, step float64) (trendLine, bool) {
	l := trendLine{n: len(x)}
	if l.n < 3 {
		return l, false
	}
	l.middle, l.value = mean(x), mean(y)
	along := 0.0
	for i := range x {
		off := x[i] - l.middle
		l.spread += off * off
		along += off * (y[i] - l.value)
	}
	if !(l.spread > 0) {
		return l, false
	}
	l.slope = along / l.spread
	left := 0.0
	for i := range x {
		d := y[i] - l.at(x[i])
		left += d * d
	}
	l.deviation = math.Max(math.Sqrt(left/float64(l.n-2)), step/math.Sqrt(12))
	return l, finite(l.value) && finite(l.slope) && finite(l.deviation)
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, one := range x {
		sum += one
	}
	return sum / float64(len(x))
}

// at is the line at x.
func (l trendLine) at(x float64) float64 { return l.value + l.slope*(x-l.middle) }

// crossing is where the line reaches y, and between which two x a single
// further reading of y lies with that confidence, by inverting the prediction
// interval. ok is false where the slope can't be told from none at that
// confidence: then no two such x exist.
//
// Source: the calibration interval of F. A. Graybill and H. K. Iyer, Regression
// Analysis (1996), section 6.2; with E. C. Fieller's condition that the slope is
// told from none.
func (l trendLine) crossing(y, confidence float64) (at, from, until float64, ok bool) {
	ts := quantile(l.n-2, confidence) * l.deviation
	a := l.slope*l.slope - ts*ts/l.spread
	if !(a > 0) {
		return 0, 0, 0, false
	}
	up := y - l.value
	root := ts * math.Sqrt(a*(1+1/float64(l.n))+up*up/l.spread)
	one, two := l.middle+(l.slope*up-root)/a, l.middle+(l.slope*up+root)/a
	return l.middle + up/l.slope, math.Min(one, two), math.Max(one, two), true
}

// quantile is what Student's t with so many degrees of freedom stays within,
// either way, with that confidence: by the incomplete beta function.
//
// Source: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions
// (1964), 26.7.1.
func quantile(freedom int, confidence float64) float64 {
	nu := float64(freedom)
	x := mathext.InvRegIncBeta(nu/2, 0.5, 1-confidence) // ν/(t²+ν)
	return math.Sqrt(nu * (1 - x) / x)
}
