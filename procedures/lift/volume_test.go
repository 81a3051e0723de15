package lift

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
)

// gauss is a Gauss–Legendre rule on 0 to 1; gonum finds its points once, as ten
// thousand pieces ask for them millions of times.
type gauss struct{ at, weight []float64 }

func gaussOf(points int) gauss {
	g := gauss{make([]float64, points), make([]float64, points)}
	quad.Legendre{}.FixedLocations(g.at, g.weight, 0, 1)
	return g
}

// integrator works areas and volumes out by summing; of the closed forms it
// uses nothing.
type integrator struct {
	across, down gauss
	splits       []float64
}

func newIntegrator() *integrator {
	return &integrator{across: gaussOf(12), down: gaussOf(16)}
}

// area is the section's area by summing chords. x runs across the first pair of
// faces. Split where a chord changes from face to arc; x = R sin u takes the
// root out of the ends.
func (n *integrator) area(c *cut, r float64) float64 {
	clamp := func(x float64) float64 { return math.Max(-r, math.Min(r, x)) }
	left, right := clamp(-c.side[1]), clamp(c.side[0])
	splits := [6]float64{left, right, left, left, left, left}
	for i, face := range c.side[2:] {
		if math.Abs(face) < r {
			at := math.Sqrt(r*r - face*face)
			splits[2+2*i], splits[3+2*i] = at, -at
		}
	}
	slices.Sort(splits[:])
	area := 0.0
	for i := 1; i < len(splits); i++ {
		from, to := math.Max(left, splits[i-1]), math.Min(right, splits[i])
		if !(to > from) {
			continue
		}
		start, wide := math.Asin(from/r), math.Asin(to/r)-math.Asin(from/r)
		for k, t := range n.across.at {
			cos := math.Cos(start + wide*t)
			arc := r * cos // half the chord at x = r sin
			height := math.Max(0, math.Min(arc, c.side[2])+math.Min(arc, c.side[3]))
			area += n.across.weight[k] * wide * height * r * cos
		}
	}
	return area
}

// volume is the sum of the areas along the piece, and of area times distance.
func (n *integrator) volume(c *cut) (volume, moment float64) {
	slope := (c.large - c.small) / c.length
	n.splits = append(n.splits[:0], 0, c.length)
	note := func(r float64) {
		if r > c.small && r < c.large {
			n.splits = append(n.splits, (r-c.small)/slope)
		}
	}
	for i, a := range c.side {
		note(math.Abs(a))
		for _, b := range c.side[i+1:] {
			note(math.Hypot(a, b))
		}
	}
	slices.Sort(n.splits)
	for i := 1; i < len(n.splits); i++ {
		from, wide := n.splits[i-1], n.splits[i]-n.splits[i-1]
		if wide <= 0 {
			continue
		}
		for k, t := range n.down.at {
			// z = from + wide·t²(3−2t) takes the roots of a slab's first touch out of
			// both ends.
			z := from + wide*t*t*(3-2*t)
			part := n.down.weight[k] * wide * 6 * t * (1 - t) * n.area(c, c.small+slope*z)
			volume += part
			moment += part * z
		}
	}
	return volume, moment
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
	if random.IntN(8) == 0 { // nearly all of it gone, past the axis both ways, or all of it at the small end
		c.side[0], c.side[1] = c.small*(0.6-1.7*random.Float64()), math.Inf(1)
		c.side[2], c.side[3] = c.small*(0.6-1.7*random.Float64()), math.Inf(1)
	}
	return c
}

func TestCantVolumeAgreesWithNumericIntegration(t *testing.T) {
	pieces := 10_000
	if testing.Short() {
		pieces = 500
	}
	random := rand.New(rand.NewPCG(1, 2))
	numeric := newIntegrator()
	worst, worstMoment, worstArea := 0.0, 0.0, 0.0
	for range pieces {
		c := randomCut(random)
		volume, moment := c.volume()
		whole := math.Pi * c.large * c.large * c.length
		summed, lever := numeric.volume(&c)
		r := c.small + (c.large-c.small)*random.Float64()
		off := math.Abs(summed-volume) / whole
		offMoment := math.Abs(lever-moment) / whole / c.length
		offArea := math.Abs(numeric.area(&c, r)-c.area(r)) / (math.Pi * r * r)
		// At a taper of a few thousandths of a millimetre the moment is the rest of two
		// large numbers; 3e-7 of the length is two thousandths of a millimetre at the most.
		if off > 1e-9 || offMoment > 3e-7 || offArea > 1e-9 {
			t.Fatalf("volume off by %.2g, moment by %.2g, area by %.2g: %+v", off, offMoment, offArea, c)
		}
		worst, worstMoment, worstArea = math.Max(worst, off), math.Max(worstMoment, offMoment), math.Max(worstArea, offArea)
	}
	t.Logf("%d pieces, largest difference: volume %.2g of the round volume, moment %.2g, area %.2g of the disc", pieces, worst, worstMoment, worstArea)
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
