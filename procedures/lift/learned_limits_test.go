package lift

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// Past the table the expansion of Abramowitz and Stegun 26.7.5 is good to its next
// term, 3.3e-5 at 31 degrees of freedom.
func TestStudentPastItsTableAgreesWithGonumToTheNextTerm(t *testing.T) {
	for n := 31; n <= 200; n++ {
		require.InDelta(t, distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n)}.Quantile(.95), student95(n), 4e-5*math.Pow(31/float64(n), 3)+1e-9, "%d", n)
	}
	for n := 1; n <= 30; n++ { // the table is printed to three places
		require.InDelta(t, distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n)}.Quantile(.95), student95(n), 5.1e-4, "%d", n)
	}
	require.True(t, math.IsInf(student95(0), 1) && math.IsInf(student95(-1), 1))
}

// made is a reading of a cubic metre of wood that is 500 kg by what is published.
func made(ratio float64, n int, lifted bool) Weighing {
	return Weighing{Lift: string(rune('a' + n)), Kind: "x", Condition: Green, Predicted: 500, Weighed: 500 * ratio, Volume: 1, Length: 2 + float64(n)/10, Lifted: lifted, At: time.Date(2026, 3, 2+n, 9, 0, 0, 0, time.UTC)}
}

// plainKind has a published upper density a third over its mean: (1.1645 × 2 − 1 …)
// comes to its own spread by the wettest moisture.
var plainKind = Species{Common: "made up", Scientific: "x", Gravity: 0.25, HeartMoisture: 1, SapMoisture: 1.2, MeanMoisture: 1}

// By hand: n readings of mean m, drawn to the published mean of four readings;
// with one or two the published spread, from three on their own.
func TestLearnedFiguresByHand(t *testing.T) {
	spread := (1000*0.25*1.1645*2.2/500 - 1) / 1.645
	require.InDelta(t, spread, plainKind.publishedSpread(Green), 1e-12)
	require.InDelta(t, spread, plainKind.publishedSpread(PartDry), 1e-12)
	for _, c := range []Condition{AirDry, MeasuredMoisture, Soaked} {
		require.InDelta(t, 0.1, plainKind.publishedSpread(c), 1e-12)
	}
	even := Species{Scientific: "x", Gravity: 0.5, MeanMoisture: 0.1}
	require.InDelta(t, (1.2-1)/1.645, even.publishedSpread(Green), 1e-12) // a fifth over, by Technical Note 218
	for _, tc := range []struct {
		ratios                 []float64
		mean, spread, heaviest float64
		factor, by             float64
	}{
		{[]float64{1.1}, 1.1, 0, 1.1, 1.645, spread * 1.1},
		{[]float64{1.2, 1.0}, 1.1, math.Sqrt(0.02), 1.2, 1.645, spread * 1.1},
		{[]float64{1.2, 1.0, 1.1}, 1.1, 0.1, 1.2, 2.920, 0.1},
		{[]float64{1.2, 1.0, 1.1, 1.1, 1.1}, 1.1, math.Sqrt(0.02 / 4), 1.2, 2.132, math.Sqrt(0.02 / 4)},
	} {
		l := learnFrom(tc.ratios, plainKind, Green)
		n := float64(len(tc.ratios))
		require.Equal(t, len(tc.ratios), l.N)
		require.InDelta(t, tc.mean, l.Mean, 1e-12)
		require.InDelta(t, tc.spread, l.Spread, 1e-12)
		require.InDelta(t, tc.heaviest, l.Heaviest, 0)
		require.InDelta(t, tc.mean+tc.factor*tc.by*math.Sqrt(1+1/n), l.Bound, 1e-12)
		require.InDelta(t, (n*tc.mean+4)/(n+4), l.Shrunk, 1e-12)
		require.Equal(t, "x", l.Kind)
		require.Equal(t, Green, l.Condition)
	}
	require.Equal(t, Learned{}, learnFrom(nil, plainKind, Green))
}

// A reading says nothing unless both of its masses are above nought.
func TestRatioOfNothingIsNothing(t *testing.T) {
	for pair, want := range map[[2]float64]float64{{500, 550}: 1.1, {0, 550}: 0, {500, 0}: 0, {-1, 550}: 0, {500, -1}: 0} {
		require.InDelta(t, want, Weighing{Predicted: pair[0], Weighed: pair[1]}.Ratio(), 1e-12)
	}
	require.Zero(t, Weighing{Predicted: math.NaN(), Weighed: 1}.Ratio())
}

// No wood hangs lighter than 200 or heavier than 1500 kg/m³; those limits are wood.
func TestReadingNoWoodCanGiveIsOdd(t *testing.T) {
	for density, counts := range map[float64]bool{200: true, 199.9: false, 1500: true, 1500.1: false, 0: false} {
		w := made(1, 0, true)
		w.Weighed, w.Predicted = density, density
		counted, odd := sift([]Weighing{w}, 0.1)
		require.Equal(t, counts, len(counted) == 1, density)
		require.Equal(t, counts, len(odd) == 0, density)
		if !counts {
			require.False(t, odd[0].Counted)
			require.Contains(t, odd[0].Said.String(), "no wood weighs this")
		}
	}
}

// Iglewicz and Hoaglin: 3.5 deviations from the middle. With fewer than five
// readings the middle and spread are the published ones, from five on their own
// median and 1.4826 times the median deviation.
func TestReadingIsOddPastThreeAndAHalfDeviations(t *testing.T) {
	for ratio, counted := range map[float64]bool{1.349: true, 1.351: true, 0.651: true, 0.649: false} {
		kept, odd := sift([]Weighing{made(ratio, 0, true)}, 0.1)
		require.Equal(t, counted, len(kept) == 1, ratio)
		require.Equal(t, ratio < 0.65 || ratio > 1.35, len(odd) == 1, ratio)
		if len(odd) == 1 {
			require.Equal(t, ratio > 1, odd[0].Counted)
			require.InDelta(t, ratio, float64(odd[0].Ratio), 1e-12)
		}
	}
	// 1.0, 1.1, 1.2, 1.3 and the one tried: median 1.2 and the deviations from it
	// 0.2, 0.1, 0, 0.1 and its own, of which the middle one is 0.1.
	for ratio, odd := range map[float64]bool{1.2 + 3.5*0.14826 - 1e-6: false, 1.2 + 3.5*0.14826 + 1e-6: true} {
		_, found := sift([]Weighing{made(1.0, 0, true), made(1.1, 1, true), made(1.2, 2, true), made(1.3, 3, true), made(ratio, 4, true)}, 9)
		require.Equal(t, odd, len(found) == 1, ratio)
	}
	// Readings all but alike: a scatter of 3 % of their middle is always allowed.
	for ratio, odd := range map[float64]bool{1 + 3.5*0.03 - 1e-6: false, 1 + 3.5*0.03 + 1e-6: true, 1 - 3.5*0.03 + 1e-6: false, 1 - 3.5*0.03 - 1e-6: true} {
		list := []Weighing{made(1, 0, true), made(1, 1, true), made(1, 2, true), made(1, 3, true), made(ratio, 4, true)}
		_, found := sift(list, 9)
		require.Equal(t, odd, len(found) == 1, ratio)
		_, found = sift(list[1:], 9)
		require.Empty(t, found, "of four the published spread holds")
	}
}

// One piece weighed twice counts once: sizes as near as half a hundredth, within a
// day; the heaviest, or the first of two alike.
func TestSamePieceIsOneReading(t *testing.T) {
	first := made(1, 0, true)
	for name, tc := range map[string]struct {
		change func(w *Weighing)
		again  bool
	}{
		"the same":      {func(*Weighing) {}, true},
		"longer":        {func(w *Weighing) { w.Length *= 1.0051 }, false},
		"nearly":        {func(w *Weighing) { w.Length *= 1.0049; w.Volume *= 1.0049 }, true},
		"more wood":     {func(w *Weighing) { w.Volume *= 1.0051 }, false},
		"less wood":     {func(w *Weighing) { w.Volume *= 0.9949 }, false},
		"a day later":   {func(w *Weighing) { w.At = w.At.Add(24 * time.Hour) }, false},
		"a day before":  {func(w *Weighing) { w.At = w.At.Add(-24 * time.Hour) }, false},
		"within a day":  {func(w *Weighing) { w.At = w.At.Add(24*time.Hour - 1) }, true},
		"before in day": {func(w *Weighing) { w.At = w.At.Add(1 - 24*time.Hour) }, true},
	} {
		second := first
		tc.change(&second)
		require.Equal(t, tc.again, weighedAgain([]Weighing{first, second}, 1), name)
		require.False(t, weighedAgain([]Weighing{first, second}, 0), name)
		second.Weighed *= 1.001
		require.Equal(t, tc.again, weighedAgain([]Weighing{first, second}, 0), name)
		require.False(t, weighedAgain([]Weighing{first, second}, 1), name)
	}
	require.True(t, near(1, 0.9951) && near(0.9951, 1) && !near(1, 0.9949) && !near(0.9949, 1))
}

// Readings of lifts never allowed bring none of the figures down, even where they
// are lighter than the rest.
func TestHeavyReadingsOfLiftsNeverAllowedBringNothingDown(t *testing.T) {
	own := []Weighing{made(1.30, 0, true), made(1.31, 1, true), made(1.32, 2, true)}
	allowed, _ := Learn(own, plainKind, Green)
	both, odd := Learn(append(own, made(1.01, 3, false)), plainKind, Green)
	require.Empty(t, odd)
	require.Equal(t, []int{4, 1}, []int{both.N, both.Heavy})
	require.InDelta(t, allowed.Mean, both.Mean, 1e-12)
	require.Equal(t, math.Max(allowed.Shrunk, (1.30+1.31+1.32+1.01+4)/8), both.Shrunk)
	require.GreaterOrEqual(t, both.Bound, allowed.Bound)
	_, odd = Learn(append(own, made(9, 4, false), made(0.01, 5, true)), plainKind, Green)
	require.Len(t, odd, 2)
}

// Told of each: what doesn't count, what counts toward heavier alone, what counts.
func TestEachReadingIsToldWhetherItCounts(t *testing.T) {
	list := []Weighing{made(0.99, 0, false), made(1, 1, false), made(1.01, 2, true), made(1.01, 2, true), made(9, 3, true), made(1.5, 4, true)}
	other, aside := made(1, 5, true), made(1, 6, true)
	other.Kind, aside.Aside = "y", true
	dry := made(1, 7, true)
	dry.Condition = AirDry
	told := Tell(append(list, other, aside, dry), plainKind, Green)
	by := map[string]Told{}
	for _, one := range told {
		by[one.Lift] = one
	}
	require.Len(t, told, 6)
	require.Contains(t, by["a"].Why.String(), "only a lift that was allowed teaches lighter wood")
	require.False(t, by["a"].Counts)
	require.True(t, by["b"].Counts)
	require.Contains(t, by["b"].Why.String(), "counted toward heavier wood alone")
	require.Contains(t, by["d"].Why.String(), "no wood weighs this")
	require.False(t, by["d"].Counts)
	require.True(t, by["e"].Counts)
	again := 0
	for _, one := range told {
		if one.Lift == "c" && !one.Counts {
			again++
			require.Contains(t, one.Why.String(), "one piece counts once")
		}
	}
	require.Equal(t, 1, again)
	require.Empty(t, Tell(list, Species{Scientific: "x"}, Green), "a kind with no figures teaches nothing")
}

// What was learned is refused unless it is of this wood and its figures can be.
func TestLearnedFiguresHaveLimits(t *testing.T) {
	good := Learned{Kind: "x", Condition: Green, N: 1, Mean: 1, Shrunk: 1, Heaviest: 1, Bound: 1}
	for name, tc := range map[string]struct {
		change func(l *Learned)
		ok     bool
	}{
		"good": {func(*Learned) {}, true}, "none": {func(l *Learned) { l.N = 0 }, false}, "other kind": {func(l *Learned) { l.Kind = "y" }, false}, "other condition": {func(l *Learned) { l.Condition = Soaked }, false},
		"mean 0": {func(l *Learned) { l.Mean = 0 }, false}, "mean 10": {func(l *Learned) { l.Mean, l.Bound = 10, 11 }, false}, "mean 9.9": {func(l *Learned) { l.Mean, l.Bound = 9.9, 9.9 }, true},
		"shrunk 0": {func(l *Learned) { l.Shrunk = 0 }, false}, "shrunk 10": {func(l *Learned) { l.Shrunk = 10 }, false}, "heaviest 0": {func(l *Learned) { l.Heaviest = 0 }, false}, "heaviest 10": {func(l *Learned) { l.Heaviest = 10 }, false},
		"bound below": {func(l *Learned) { l.Bound = 0.99 }, false}, "bound 99": {func(l *Learned) { l.Bound = 99 }, true}, "bound 100": {func(l *Learned) { l.Bound = 100 }, false},
	} {
		p := boxed()
		p.Species, p.Learned = plainKind, good
		tc.change(&p.Learned)
		require.Equal(t, tc.ok, p.Validate() == nil, "%s: %v", name, p.Validate())
	}
}

// The upper density moves with the mean; with fewer than five readings of lifts
// that were allowed it never comes down; unsigned it stays at the published mean.
func TestUpperDensityMovesByWhatWasLearned(t *testing.T) {
	published := densities{expected: 500, dense: 550, wet: 600, excess: 600, upper: 640}
	of := func(n, heavy int, mean, bound, heaviest float64, signed bool) float64 {
		l := Learned{N: n, Heavy: heavy, Mean: mean, Shrunk: mean, Bound: bound, Heaviest: heaviest, Signed: signed}
		return l.apply(published, 0.25).weighed
	}
	require.InDelta(t, 640, of(4, 0, 0.9, 0.95, 0.9, false), 1e-9)
	require.InDelta(t, 590, of(5, 0, 0.9, 0.95, 0.9, false), 1e-9)
	require.InDelta(t, 640, of(9, 5, 0.9, 0.95, 0.9, false), 1e-9)
	require.InDelta(t, 590, of(9, 4, 0.9, 0.95, 0.9, false), 1e-9)
	require.InDelta(t, 700, of(1, 0, 1.1, 1.4, 1.1, false), 1e-9)
	require.InDelta(t, 500, of(9, 0, 0.6, 0.7, 0.6, false), 1e-9)
	require.InDelta(t, 440, of(9, 0, 0.6, 0.7, 0.6, true), 1e-9)
	full := soaked(0.25 * upperGravity)
	require.InDelta(t, full, of(9, 0, 1.5, 4, 1.6, false), 1e-9)
	require.InDelta(t, 500*3, of(9, 0, 1.5, 4, 3, false), 1e-9, "the heaviest weighed is no guess")
}

// By hand: 30 kg of gear, ice and bark off what the scale showed.
func TestScaleIsReadLessAllThatHangsBesides(t *testing.T) {
	p := boxed()
	p.Species = plainKind
	p.Bark, p.Extra = true, 5
	w, err := CompareScale(p, 150, 30)
	require.NoError(t, err)
	require.InDelta(t, 0.12*500, w.Predicted, 1e-9)
	require.InDelta(t, 150-30-5-0.12*300, w.Weighed, 1e-9)
	require.InDelta(t, 0.12, w.Volume, 1e-12)
	require.InDelta(t, 2, w.Length, 0)
	p.Bark, p.Extra, p.Weather.Wet = false, 0, true
	w, err = CompareScale(p, 132, 30)
	require.NoError(t, err)
	require.InDelta(t, 100, w.Weighed, 1e-9)
	p.Weather, p.Extra = Weather{Ice: 0.01, IceArea: 1}, 500
	w, err = CompareScale(p, 100, 0)
	require.NoError(t, err)
	require.Zero(t, w.Weighed)
	for name, tc := range map[string]struct {
		reading, gear float64
		ok            bool
	}{"all gear": {100, 100, false}, "nothing": {0, 0, false}, "most": {1e5, 0, true}, "more": {1e5 + 1, 0, false}, "less than nothing": {100, -1, false}, "no gear": {100, 0, true}, "nearly all": {100, 99.9, true}} {
		_, err := CompareScale(boxed(), tc.reading, tc.gear)
		require.Equal(t, tc.ok, err == nil, name)
	}
	bad := boxed()
	bad.Width = -1
	_, err = CompareScale(bad, 100, 0)
	require.ErrorContains(t, err, "width")
	unknown := boxed()
	unknown.Species = Species{}
	_, err = CompareScale(unknown, 100, 0)
	require.EqualError(t, err, "species: the kind of wood; a reading of an unknown kind teaches nothing")
}
