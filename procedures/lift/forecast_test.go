package lift

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

var day0 = time.Date(2026, 1, 5, 7, 0, 0, 0, time.UTC)

func onDays(values map[int]float64) (list []Sample) {
	for day, x := range values {
		list = append(list, Sample{day0.AddDate(0, 0, day), x})
	}
	return list
}

func TestStraightWearReachesItsLimitOnTheDay(t *testing.T) {
	f := Foresee(onDays(map[int]float64{0: .010, 100: .0098, 200: .0096}), .0090, true, 0)
	require.True(t, f.Known())
	require.WithinDuration(t, day0.AddDate(0, 0, 500), f.At, time.Minute)
	require.WithinDuration(t, f.At, f.Soonest, time.Hour) // a perfect line
	require.InDelta(t, -2e-6, f.PerDay, 1e-15)
	opening := Foresee(onDays(map[int]float64{0: .0254, 30: .0256, 60: .0258}), .02667, false, .0001)
	require.True(t, opening.Soonest.Before(opening.At))
	require.True(t, opening.At.Before(opening.Latest))
}

// Line, band and quantile from gonum; at the day foretold its own band must
// stand at the limit.
func TestForecastAgreesWithGonum(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	checked := 0
	for range 200 {
		n := 3 + random.IntN(12)
		days, values := make([]float64, n), make([]float64, n)
		var samples []Sample
		for i := range n {
			days[i] = 20 * float64(i)
			values[i] = 0.012 - 2e-6*days[i] + 1e-5*random.NormFloat64()
			samples = append(samples, Sample{day0.AddDate(0, 0, 20*i), values[i]})
		}
		const limit = 0.0105
		f := Foresee(samples, limit, true, 0)
		alpha, beta := stat.LinearRegression(days, values, nil, false)
		require.InDelta(t, beta, f.PerDay, 1e-15)
		mean, variance := stat.MeanVariance(days, nil)
		left := 0.0
		for i := range days {
			left += math.Pow(values[i]-alpha-beta*days[i], 2)
		}
		width := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 2)}.Quantile(.95) * math.Sqrt(left/float64(n-2))
		band := func(at time.Time, sign float64) float64 {
			x := at.Sub(day0).Hours() / 24
			return alpha + beta*x + sign*width*math.Sqrt(1/float64(n)+(x-mean)*(x-mean)/(variance*float64(n-1)))
		}
		if f.Known() {
			require.InDelta(t, limit, band(f.At, 0), 1e-8)
		}
		require.False(t, f.Soonest.IsZero())
		require.InDelta(t, limit, band(f.Soonest, -1), 1e-6)
		if !f.Latest.IsZero() {
			checked++
			require.InDelta(t, limit, band(f.Latest, 1), 1e-6)
		}
	}
	require.Greater(t, checked, 100)
}

func TestNothingIsForetoldFromTooLittle(t *testing.T) {
	require.False(t, Foresee(nil, .01, true, 0).Known())
	require.False(t, Foresee(onDays(map[int]float64{0: .01, 90: .0098}), .009, true, 0).Known())
	require.False(t, Foresee(onDays(map[int]float64{0: .01, 90: .0098, 180: .0096}), 0, true, 0).Known())
	require.False(t, Foresee(onDays(map[int]float64{0: .0096, 90: .0098, 180: .0100}), .009, true, 0).Known(), "it grows")
	oneDay := []Sample{{day0, .01}, {day0, .011}, {day0.Add(time.Hour), .009}}
	require.False(t, Foresee(oneDay, .005, true, 0).Known())
	require.False(t, Foresee(onDays(map[int]float64{0: .01, 90: math.NaN(), 180: .0096}), .009, true, 0).Known())
	past := Foresee(onDays(map[int]float64{0: .01, 90: .0095, 180: .0089}), .009, true, 0)
	require.Equal(t, day0.AddDate(0, 0, 180), past.Soonest)
}

func TestACoarseGaugeIsBelievedLess(t *testing.T) {
	samples := onDays(map[int]float64{0: .010, 100: .0098, 200: .0096})
	fine, coarse := Foresee(samples, .009, true, .00005), Foresee(samples, .009, true, .0002)
	require.True(t, coarse.Soonest.Before(fine.Soonest))
}
