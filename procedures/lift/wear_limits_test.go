package lift

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// Wear by hand, the limit itself still within save where the rule says so. Sources
// as in the table of each limit.
func TestWearIsJudgedAtTheLimitItself(t *testing.T) {
	inches := func(x float64) float64 { return x * 0.0254 }
	for size, want := range map[ChainSize][2]float64{Chain7_32: {0, 0.189}, Chain9_32: {0, 0.239}, Chain5_16: {0, 0.273}, Chain3_8: {19. / 64, 0.342}, Chain1_2: {25. / 64, 0.443},
		Chain5_8: {31. / 64, 0.546}, Chain3_4: {19. / 32, 0.687}, Chain7_8: {45. / 64, 0.750}, Chain1: {13. / 16, 0.887}, Chain1_1_4: {1, 1.091}, SizeUnknown: {}} {
		federal, standard := leastLinks(size)
		require.InDelta(t, inches(want[0]), federal, 1e-12, size.String())
		require.InDelta(t, inches(want[1]), standard, 1e-12, size.String())
	}
	for _, tc := range []struct {
		measured, limit float64
		least           bool
		wear            Wear
		said            string
	}{
		{1, 1, true, Within, "measures 1000.00 mm; out of use below 1000.00 mm"}, {1 - 2e-9, 1, true, Discard, "measures 1000.00 mm, the limit is 1000.00 mm: out of use for good"},
		{1, 1, false, Within, "measures 1000.00 mm; out of use above 1000.00 mm"}, {1 + 2e-9, 1, false, Discard, "measures 1000.00 mm, the limit is 1000.00 mm: out of use for good"},
		{2, 1, true, Within, "measures 2000.00 mm; out of use below 1000.00 mm"}, {0.5, 1, false, Within, "measures 500.00 mm; out of use above 1000.00 mm"},
		{0, 1, true, WearUnknown, "not measured"}, {-1, 1, true, WearUnknown, "not measured"}, {math.Inf(1), 1, true, WearUnknown, "not measured"},
		{1, 0, true, WearUnknown, "its size as new is not known, so nothing can be judged: find it on the tag or ask the maker"},
		{1, math.Inf(1), true, WearUnknown, "its size as new is not known, so nothing can be judged: find it on the tag or ask the maker"},
	} {
		j := judge("link", tc.measured, tc.limit, tc.least)
		require.Equal(t, tc.wear, j.Wear, "%+v", tc)
		require.Equal(t, tc.said, j.Said.String(), "%+v", tc)
		if tc.wear == WearUnknown {
			require.Zero(t, j.Limit*j.Measured, "%+v", tc)
		}
	}
	// Sizes a hair past their limits, as the same sum of them is rounded.
	one, slack := 1.0, hair
	require.Equal(t, Within, judge("link", one-slack, one, true).Wear)
	require.Equal(t, Within, judge("throat", one+slack, one, false).Wear)
	pitch := inches(3)
	require.Equal(t, Discard, JudgeChain(ChainMeasures{Yard: yard + pitch/3 - slack, Pitch: pitch})[2].Wear)
	// 3 ft of chain: a third of a link of 3 in makes 37 in, and that is too much.
	chain := func(yard, pitch float64) Judged {
		return JudgeChain(ChainMeasures{Yard: inches(yard), Pitch: inches(pitch)})[2]
	}
	require.Equal(t, Discard, chain(37, 3).Wear)
	require.Equal(t, Within, chain(36.999, 3).Wear)
	require.Equal(t, Discard, chain(37.001, 3).Wear)
	require.InDelta(t, inches(37), chain(36, 3).Limit, 1e-12)
	require.Equal(t, WearUnknown, chain(36, 0).Wear)
	reach := func(pitch float64) Judged {
		return JudgeChain(ChainMeasures{Reach: 3, NewReach: 3, Pitch: inches(pitch)})[1]
	}
	require.InDelta(t, 3*(1+0.125/36), reach(3).Limit, 1e-12)
	require.InDelta(t, 3*37./36, reach(3).Other, 1e-12)
	require.InDelta(t, 3*(1+0.125/36), reach(0).Limit, 1e-12)
	require.Zero(t, reach(0).Other)
	require.InDelta(t, 3*(1+0.1/3/36), reach(0.1).Limit, 1e-12, "a short link's third is the less")
	require.InDelta(t, 3*(1+0.125/36), reach(0.1).Other, 1e-12)
	hook := JudgeHook(HookMeasures{NewThroat: inches(3), Throat: inches(3), NewSection: 2, Section: 2, NewPin: 3, Pin: 3})
	require.Len(t, hook, 4)
	require.InDelta(t, inches(3.15), hook[0].Limit, 1e-12)
	require.InDelta(t, inches(3.45), hook[0].Other, 1e-12)
	require.InDelta(t, 10, hook[1].Other, 0)
	require.InDelta(t, 1.8, hook[2].Limit, 1e-12)
	require.InDelta(t, 2.7, hook[3].Limit, 1e-12)
	require.True(t, hook[2].Least && hook[3].Least && !hook[0].Least)
	require.InDelta(t, inches(6.25), JudgeHook(HookMeasures{NewThroat: inches(6)})[0].Limit, 1e-12)
	require.Len(t, JudgeHook(HookMeasures{}), 3)
	require.Len(t, JudgeHook(HookMeasures{NewPin: 1}), 4)
	require.Len(t, JudgeHook(HookMeasures{Pin: 1}), 4)
	require.True(t, Clears([]Judged{{Wear: Within}}))
	require.False(t, Clears([]Judged{{Wear: Within}, {Wear: Discard}}) || Clears([]Judged{{Wear: WearUnknown}, {Wear: Within}}))
	leg, hooked, rope := Link{Kind: Leg, Grade: Grade80, Size: Chain3_8}, Link{Kind: HoistHook}, Link{Kind: Leg, Grade: NotChain}
	require.Empty(t, rope.Measures())
	for _, tc := range []struct {
		of         *Link
		what       string
		value, new float64
		bad        string
	}{
		{&leg, "link", 20, 0, ""}, {&leg, "link", 20.01, 0, "value"}, {&leg, "link", 0, 0, "value"}, {&leg, "reach", 1, 20, ""}, {&leg, "reach", 1, 20.01, "new"}, {&leg, "reach", 1, -0.01, "new"},
		{&hooked, "twist", 0, 0, ""}, {&hooked, "twist", 90, 0, ""}, {&hooked, "twist", 90.01, 0, "value"}, {&hooked, "twist", -0.01, 0, "value"}, {&hooked, "twist", 30, 90, ""}, {&hooked, "twist", 30, 90.1, "new"},
		{&hooked, "link", 1, 0, "what"}, {&leg, "throat", 1, 0, "what"}, {&rope, "link", 1, 0, "what"}, {&hooked, "length", 1, 0, "what"},
	} {
		_, err := tc.of.Judge(Taken{What: tc.what, Value: tc.value, New: tc.new})
		problems, _ := err.(plain.Problems)
		require.Equal(t, tc.bad == "", err == nil, "%+v: %v", tc, err)
		if tc.bad != "" {
			require.Len(t, problems, 1)
			require.Equal(t, tc.bad, problems[0].Field)
		}
	}
	for what, wear := range map[string]Wear{"link": Discard, "reach": Within, "yard": Within} {
		j, err := leg.Judge(Taken{What: what, Value: map[string]float64{"link": 0.005, "reach": 2, "yard": yard}[what], New: map[string]float64{"reach": 2, "yard": 0.03}[what]})
		require.NoError(t, err)
		require.Equal(t, what, j.Measure)
		require.Equal(t, wear, j.Wear, what)
	}
	for what, value := range map[string]float64{"throat": 1.2, "twist": 1, "section": 0.8, "pin": 0.8} {
		j, err := hooked.Judge(Taken{What: what, Value: value, New: 1})
		require.NoError(t, err)
		require.Equal(t, Discard, j.Wear, what)
		j, err = hooked.Judge(Taken{What: what, Value: map[string]float64{"throat": 1, "section": 1, "pin": 1}[what], New: 1})
		require.NoError(t, err)
		require.Equal(t, Within, j.Wear, what)
	}
}

// A line that stands at its limit, or will in so many days; the unit is the day.
func TestForecastIsToldToTheDay(t *testing.T) {
	day := func(n float64) time.Time { return day0.Add(time.Duration(n * 24 * float64(time.Hour))) }
	samples := []Sample{{day(200), 0.012}, {day(0), 0.010}, {day(100), 0.011}} // in no order
	f := Foresee(samples, 0.0125, false, 0)
	require.Equal(t, 3, f.N)
	require.InDelta(t, 1e-5, f.PerDay, 1e-15)
	for _, at := range []time.Time{f.At, f.Soonest, f.Latest} {
		require.WithinDuration(t, day(250), at, time.Minute)
	}
	past := Foresee(samples, 0.0115, false, 0)
	require.Equal(t, day(200), past.At)
	require.Equal(t, day(200), past.Soonest)
	within := Foresee(samples, 0.012+1e-5*365.25*50-1e-6, false, 0)
	require.True(t, within.Known())
	require.False(t, Foresee(samples, 0.012+1e-5*365.25*50+1e-6, false, 0).Known(), "past fifty years nothing is told")
	require.False(t, Foresee(samples, -1, false, 0).Known())
	// Rounding to the step of the gauge is a deviation of step/√12 by itself: with
	// one degree of freedom 6.314 times that, in the middle of three days /√3.
	days, values, start, last := daysOf(samples)
	require.Equal(t, day0, start)
	require.InDelta(t, 200, last, 1e-9)
	l, ok := fit(days, values, 0.0012)
	require.True(t, ok)
	require.InDelta(t, 6.314*0.0012/math.Sqrt(12), l.bound, 1e-12)
	require.InDelta(t, 0.011+l.bound/math.Sqrt(3), l.side(100, 1), 1e-12)
	require.InDelta(t, 0.011-l.bound/math.Sqrt(3), l.side(100, -1), 1e-12)
	require.InDelta(t, 0.012+l.bound*math.Sqrt(1./3+1./2), l.side(200, 1), 1e-12)
	never, ok := (&line{n: 3, spreadOfDays: 1}).reaches(1, 0, 0)
	require.False(t, ok)
	require.Zero(t, never)
	_, ok = fit([]float64{0, 1, 2}, []float64{0, math.MaxFloat64, 0}, 0)
	require.False(t, ok)
	_, ok = fit([]float64{0, 0, 1, 1}, []float64{1, 2, 2, 3}, 0)
	require.True(t, ok, "a day apart, so that the squares add up to a day")
	_, ok = fit([]float64{0, 0, 0.99, 0.99}, []float64{1, 2, 2, 3}, 0)
	require.False(t, ok)
	_, ok = fit([]float64{0, 0, 0}, []float64{1, 2, 3}, 0)
	require.False(t, ok)
}
