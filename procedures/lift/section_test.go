package lift

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// summed is the integral of f by the midpoint rule.
func summed(from, to float64, f func(float64) float64) (total float64) {
	const parts = 1500
	step := (to - from) / parts
	for i := range parts {
		total += f(from+(float64(i)+0.5)*step) * step
	}
	return total
}

// chordsBeyond is the area of the disc beyond two lines at right angles, chord by
// chord.
func chordsBeyond(r, a, b float64) float64 {
	if a >= r {
		return 0
	}
	start := math.Asin(math.Max(a, -r) / r)
	return summed(start, math.Pi/2, func(u float64) float64 {
		half := r * math.Cos(u)
		return math.Max(0, half-math.Max(b, -half)) * half
	})
}

// Known from any table of segments: half the disc, none, all, and a third of the
// turn; corners of a quarter.
func TestSegmentsAndCornersOfTheUnitDisc(t *testing.T) {
	for p, want := range map[float64]float64{0: math.Pi / 2, 1: 0, 1.5: 0, -1: math.Pi, -1.5: math.Pi, 0.5: math.Pi/3 - math.Sqrt(3)/4, -0.5: 2*math.Pi/3 + math.Sqrt(3)/4} {
		require.InDelta(t, want, segment(1, p), 1e-12, p)
	}
	for _, tc := range []struct{ a, b, want float64 }{
		{0, 0, math.Pi / 4}, {1, 0, 0}, {0, 1, 0}, {1.2, -2, 0}, {-2, 1.2, 0}, {0.8, 0.8, 0}, {0.8, 0, segment(1, 0.8) / 2}, {0, 0.8, segment(1, 0.8) / 2},
		{-0.9, 0.9, segment(1, 0.9)}, {0.9, -0.9, segment(1, 0.9)}, {-0.9, -0.9, math.Pi - 2*segment(1, 0.9)}, {-2, -2, math.Pi}, {-2, 0.3, segment(1, 0.3)},
		{-1, -0.5, segment(1, -0.5)}, {0.6, 0.8, 0}, {0.8, -0.6, segment(1, 0.8)}, {-0.6, 0.8, segment(1, 0.8)}, {0, -1, math.Pi / 2}, {-1, 0, math.Pi / 2},
	} {
		require.InDelta(t, tc.want, corner(1, tc.a, tc.b), 1e-12, "%+v", tc)
	}
}

// Areas against chords that are summed, their integrals along the taper against
// sums of the areas: lines on both sides of the middle, met within, before and
// after the stretch.
func TestIntegralsOfTheSectionAreThoseOfItsSums(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 9))
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	for range 25 {
		r, a, b := between(0.5, 1.5), between(-1.6, 1.6), between(-1.6, 1.6)
		require.InDelta(t, chordsBeyond(r, a, b), corner(r, a, b), 2e-5, "%v %v %v", r, a, b)
		require.InDelta(t, chordsBeyond(r, a, -r), segment(r, a), 2e-5, "%v %v", r, a)
	}
	for i := range 60 {
		from := between(0.3, 1)
		to := from + between(0.05, 1)
		a, b := between(-1.6, 1.6), between(-1.6, 1.6)
		if i%6 == 0 {
			a, b = between(-0.2, 0.2)*from, between(-0.2, 0.2)*from // met before the stretch
		}
		for name, one := range map[string]struct {
			closed sum
			area   func(r float64) float64
		}{
			"disc":    {discUnder(to).plus(-1, discUnder(from)), func(r float64) float64 { return math.Pi * r * r }},
			"segment": {segmentOver(from, to, a), func(r float64) float64 { return segment(r, a) }},
			"corner":  {cornerOver(from, to, a, b), func(r float64) float64 { return corner(r, a, b) }},
		} {
			zero := summed(from, to, one.area)
			first := summed(from, to, func(r float64) float64 { return r * one.area(r) })
			require.InDelta(t, zero, one.closed.zero, 2e-5, "%s %v to %v, %v %v", name, from, to, a, b)
			require.InDelta(t, first, one.closed.one, 2e-5, "%s %v to %v, %v %v", name, from, to, a, b)
		}
	}
}

// A face that only the thick end reaches, and one that lies outside of both.
func TestSegmentIsCountedFromWhereTheLineIsMet(t *testing.T) {
	require.Equal(t, sum{}, segmentOver(0.2, 0.3, 0.3))
	require.Equal(t, sum{}, segmentOver(0.2, 0.3, 0.4))
	require.Equal(t, sum{}, segmentPart(0.3, 0.3, 0.1))
	require.Equal(t, sum{}, segmentPart(0.4, 0.3, 0.1))
	whole := discUnder(0.3).plus(-1, discUnder(0.2))
	all := segmentOver(0.2, 0.3, -0.5)
	require.InDelta(t, whole.zero, all.zero, 1e-12)
	require.InDelta(t, whole.one, all.one, 1e-12)
	require.Equal(t, sum{}, cornerOver(0.2, 0.3, 0.3, 0))
	require.Equal(t, sum{}, cornerOver(0.2, 0.3, 0, 0.3))
	require.Equal(t, sum{}, cornerOver(0.2, 0.3, 0.25, 0.25))
}

// Wood is left while a piece of the small end's section, or a strip of a
// hundredth of its radius before the first face, is.
func TestSomethingHasToBeLeftAtTheSmallEnd(t *testing.T) {
	inf := math.Inf(1)
	for _, tc := range []struct {
		side   [4]float64
		leaves bool
	}{
		{[4]float64{inf, inf, inf, inf}, true},
		{[4]float64{0.1, inf, inf, inf}, true},
		{[4]float64{0, inf, inf, inf}, true},
		{[4]float64{-0.2, inf, inf, inf}, false},
		{[4]float64{inf, inf, inf, -0.2}, false},
		{[4]float64{0.1, -0.1, inf, inf}, false},
		{[4]float64{0.1, -0.099, inf, inf}, true},
		{[4]float64{0.1, -0.1 + 1e-6, inf, inf}, true},  // 0.35 mm², over a millionth of the radius squared
		{[4]float64{0.1, -0.1 + 5e-8, inf, inf}, false}, // 0.017 mm²
		{[4]float64{-0.15, 0.16, -0.15, 0.16}, false},
		{[4]float64{-0.1, 0.16, -0.1, 0.16}, true},
	} {
		c := cut{small: 0.2, large: 0.25, length: 1, side: tc.side}
		require.Equal(t, tc.leaves, c.leaves(), "%v", tc.side)
	}
	c := cut{small: 0.2, large: 0.25, length: 1, side: [4]float64{-0.3, inf, inf, inf}}
	require.Zero(t, c.area(0.2))
}

// A cylinder, whole and cut in half, and the same with next to no taper: the
// balance point of the cylinder is its middle, and of a cone's frustum, by the
// textbook, (R² + 2Rr + 3r²) / 4(R² + Rr + r²) of its length from the end of R.
func TestVolumesOfPlainCuts(t *testing.T) {
	inf := math.Inf(1)
	whole := cut{small: 0.2, large: 0.2, length: 3, side: [4]float64{inf, inf, inf, inf}}
	v, m := whole.volume()
	require.InDelta(t, math.Pi*0.04*3, v, 1e-12)
	require.InDelta(t, v*1.5, m, 1e-12)
	whole.side[3] = 0
	v, m = whole.volume()
	require.InDelta(t, math.Pi*0.04*3/2, v, 1e-12)
	require.InDelta(t, v*1.5, m, 1e-12)
	for _, large := range []float64{0.2 * (1 + 0.9e-5), 0.2 * (1 + 1.2e-5), 0.2001, 0.25, 0.4} {
		cone := cut{small: 0.2, large: large, length: 3, side: [4]float64{inf, inf, inf, inf}}
		v, m := cone.volume()
		require.InDelta(t, math.Pi*(0.04+0.2*large+large*large), v, 1e-7, large)
		require.InDelta(t, 3*(large*large+2*large*0.2+3*0.04)/(4*(large*large+large*0.2+0.04)), 3-m/v, 3e-5, large)
	}
	none := cut{small: 0.2, large: 0.3, length: 3, side: [4]float64{-0.4, inf, inf, inf}}
	v, m = none.volume()
	require.Zero(t, v)
	require.Zero(t, m)
}
