package checklists

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// NIST Statistical Reference Datasets, linear regression, Norris (calibration of
// ozone monitors, 36 observations) with its certified values:
// https://www.itl.nist.gov/div898/strd/lls/data/Norris.shtml
func norris() (x, y []float64) {
	return []float64{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
			0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
			0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5},
		[]float64{0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
			0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
			0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2}
}

func TestLineAgainstTheCertifiedValuesOfNISTNorris(t *testing.T) {
	x, y := norris()
	line, ok := fitLine(x, y, readTo(y))
	require.True(t, ok)
	require.InEpsilon(t, 1.00211681802045, line.slope, 1e-12)
	require.InEpsilon(t, -0.262323073774029, line.at(0), 1e-10)
	require.InEpsilon(t, 0.884796396144373, line.deviation, 1e-11)
	require.InEpsilon(t, 0.429796848199937e-03, line.deviation/math.Sqrt(line.spread), 1e-11, "standard deviation of the slope")
}

// F. A. Graybill and H. K. Iyer, Regression Analysis (1996), p. 431: readings of
// a thermostat, and the true temperature at which it reads 104 and 100.
func TestCrossingAgainstTheThermostatOfGraybillAndIyer(t *testing.T) {
	x := []float64{96, 98, 100, 102, 104, 106, 108, 110}
	y := []float64{95.71, 98.16, 99.52, 102.09, 103.79, 106.18, 108.14, 110.21}
	line, ok := fitLine(x, y, readTo(y))
	require.True(t, ok)
	at, from, until, ok := line.crossing(104, 0.95)
	require.True(t, ok)
	require.InDelta(t, 103.995, at, 0.0005)
	require.InDelta(t, 103.4, from, 0.05)
	require.InDelta(t, 104.6, until, 0.05)
	at, from, until, ok = line.crossing(100, 0.90)
	require.True(t, ok)
	require.InDelta(t, 100.1, at, 0.05)
	require.InDelta(t, 99.63, from, 0.005)
	require.InDelta(t, 100.59, until, 0.005)
}

func TestLineIsBelievedNoFinerThanItsReadingsTell(t *testing.T) {
	line, ok := fitLine([]float64{0, 10, 20}, []float64{1, 1.5, 2}, 0.5)
	require.True(t, ok)
	require.InDelta(t, 0.5/math.Sqrt(12), line.deviation, 1e-12, "rounding to the step, spread evenly")
	_, ok = fitLine([]float64{3, 3, 3}, []float64{1, 2, 3}, 0)
	require.False(t, ok, "all at one time")
	_, ok = fitLine([]float64{1, 2}, []float64{1, 2}, 0)
	require.False(t, ok)
	_, ok = fitLine([]float64{1, 2, 3}, []float64{1, math.NaN(), 3}, 0)
	require.False(t, ok)
}

// The line's own crossing lies between its bounds, and each bound is where the
// prediction band about the line reaches the limit.
func TestBoundsOfACrossingAreWhereThePredictionBandReachesIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 30).Draw(t, "n")
		x, y := make([]float64, n), make([]float64, n)
		slope := rapid.Float64Range(-2, 2).Draw(t, "slope")
		for i := range x {
			x[i] = float64(i) * rapid.Float64Range(0.9, 1.1).Draw(t, "step")
			y[i] = 5 + slope*x[i] + rapid.Float64Range(-1, 1).Draw(t, "noise")
		}
		line, ok := fitLine(x, y, 0)
		if !ok || line.deviation < 1e-6 {
			t.Skip("no line")
		}
		limit := rapid.Float64Range(-50, 50).Draw(t, "limit")
		at, from, until, ok := line.crossing(limit, 0.9)
		if !ok {
			return
		}
		require.LessOrEqual(t, from, at+1e-6)
		require.GreaterOrEqual(t, until, at-1e-6)
		_, wide, wider, ok := line.crossing(limit, 0.95)
		if ok {
			require.Less(t, wide, from)
			require.Greater(t, wider, until)
		}
		for _, bound := range []float64{from, until} {
			off := bound - line.middle
			band := math.Abs(line.at(bound)-limit) / (line.deviation * math.Sqrt(1+1/float64(n)+off*off/line.spread))
			require.InDelta(t, quantile(n-2, 0.9), band, 1e-5*(1+math.Abs(bound)))
		}
	})
}

func TestStepOfTheGaugeIsToldFromWhatWasRead(t *testing.T) {
	for want, y := range map[float64][]float64{
		1: {3, 88, 0}, 0.0625: {5.0 / 16, 7.0 / 8, 1}, 1.0 / 32: {3.0 / 32, 0.5}, 0.01: {95.71, 98.16}, 0.001: {0.017, 0.02}, 0: {math.Pi, 1}, 0.1: {0.7, 0.2, 0.3},
	} {
		require.Equal(t, want, readTo(y), y)
	}
}

// Percentage points of Student's t, two-sided, as tables have them to three decimals.
func TestQuantileAgainstTheTableOfStudentsT(t *testing.T) {
	for freedom, want := range map[int][2]float64{1: {12.706, 63.657}, 2: {4.303, 9.925}, 5: {2.571, 4.032}, 10: {2.228, 3.169}, 30: {2.042, 2.750}, 120: {1.980, 2.617}} {
		require.InDelta(t, want[0], quantile(freedom, 0.95), 0.0005, freedom)
		require.InDelta(t, want[1], quantile(freedom, 0.99), 0.0005, freedom)
	}
}
