package lift

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
)

// chord is the section's area by summing chords: nothing of the closed form is
// used. x runs across the first pair of faces. Split where a chord changes from
// face to arc; x = R sin u takes the root out of the ends.
func chordArea(c *cut, r float64) float64 {
	clamp := func(x float64) float64 { return math.Max(-r, math.Min(r, x)) }
	left, right := clamp(-c.side[1]), clamp(c.side[0])
	height := func(x float64) float64 {
		arc := math.Sqrt(math.Max(0, r*r-x*x))
		return math.Max(0, math.Min(arc, c.side[2])+math.Min(arc, c.side[3]))
	}
	splits := []float64{left, right}
	for _, face := range c.side[2:] {
		if math.Abs(face) < r {
			at := math.Sqrt(r*r - face*face)
			splits = append(splits, at, -at)
		}
	}
	slices.Sort(splits)
	area := 0.0
	for i := 1; i < len(splits); i++ {
		from, to := math.Max(left, splits[i-1]), math.Min(right, splits[i])
		if to > from {
			area += quad.Fixed(func(u float64) float64 { return height(r*math.Sin(u)) * r * math.Cos(u) },
				math.Asin(from/r), math.Asin(to/r), 24, nil, 0)
		}
	}
	return area
}

func along(c *cut, f func(z, area float64) float64) float64 {
	slope := (c.large - c.small) / c.length
	splits := []float64{0, c.length}
	note := func(r float64) {
		if r > c.small && r < c.large {
			splits = append(splits, (r-c.small)/slope)
		}
	}
	for i, a := range c.side {
		note(math.Abs(a))
		for _, b := range c.side[i+1:] {
			note(math.Hypot(a, b))
		}
	}
	slices.Sort(splits)
	total := 0.0
	for i := 1; i < len(splits); i++ {
		from, wide := splits[i-1], splits[i]-splits[i-1]
		if wide <= 0 {
			continue
		}
		// z = from + wide·t²(3−2t) takes the roots of a slab's first touch out of both ends.
		total += quad.Fixed(func(t float64) float64 {
			z := from + wide*t*t*(3-2*t)
			return f(z, chordArea(c, c.small+slope*z)) * wide * 6 * t * (1 - t)
		}, 0, 1, 32, nil, 0)
	}
	return total
}

func randomCut(random *rand.Rand) cut {
	c := cut{small: 0.05 + 0.5*random.Float64(), length: 0.3 + 5*random.Float64()}
	c.large = c.small * (1 + 0.6*random.Float64()*random.Float64())
	if random.IntN(10) == 0 {
		c.large = c.small
	}
	for i := range c.side {
		c.side[i] = math.Inf(1)
		if random.IntN(4) > 0 {
			c.side[i] = c.small * (1.15 - 1.1*random.Float64()) // some touch only further along the taper
		}
	}
	if random.IntN(8) == 0 {
		c.side[0], c.side[1] = -0.3*c.small*random.Float64(), math.Inf(1) // less than half the log left
	}
	return c
}

func TestCantVolumeAgreesWithNumericIntegration(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	worst := 0.0
	for range 400 {
		c := randomCut(random)
		volume, moment := c.volume()
		whole := math.Pi * c.large * c.large * c.length
		numeric := along(&c, func(_, area float64) float64 { return area })
		lever := along(&c, func(z, area float64) float64 { return z * area })
		require.InDelta(t, numeric/whole, volume/whole, 1e-9, "%+v", c)
		require.InDelta(t, lever/whole/c.length, moment/whole/c.length, 1e-7, "%+v", c)
		require.InDelta(t, chordArea(&c, c.large), c.area(c.large), 1e-9*c.large*c.large, "%+v", c)
		worst = math.Max(worst, math.Abs(numeric-volume)/whole)
	}
	t.Logf("largest difference %.2g of the round volume", worst)
}

// Taking both slabs of a corner away whole would weigh too little.
func TestOverlappingSlabsAreTakenAwayOnce(t *testing.T) {
	p := Piece{Shape: Slabbed, Length: 1, Small: 16 * inch, Large: 16 * inch, Slabs: [4]float64{3 * inch, 3 * inch, 3 * inch, 3 * inch}}
	require.InDelta(t, 100*inch*inch, p.wood().volume, 1e-12) // a 10 in square, corners inside the log
}

func TestSmalianIsNeverLessThanTheCone(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		small := 0.05 + random.Float64()
		large, length := small+random.Float64(), 0.2+5*random.Float64()
		excess := Smalian(small, large, length) - frustum(small, large, length).volume
		require.InDelta(t, math.Pi*length*(large-small)*(large-small)/24, excess, 1e-12)
	}
}
