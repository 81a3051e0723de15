package lift

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// evenLegs is the angle and height of two legs alike; -1 where they don't reach.
func evenLegs(span, yoke, leg float64) (degrees, height float64) {
	g := Legs{Span: span, Yoke: yoke, First: leg, Second: leg}
	out, height, ok := g.Level()
	if !ok {
		return -1, -1
	}
	return math.Acos(out[0]/leg) / degree, height
}

// pullsUnder are the pulls of a piece plumb under the point both legs hang from.
func pullsUnder(weight, first, second, rise float64) (one, two float64) {
	g := Legs{Span: first + second, First: math.Hypot(first, rise), Second: math.Hypot(second, rise), Balance: first}
	p := g.Rest(weight)
	return p.Pull[0], p.Pull[1]
}

// tilted is a piece on two legs alike whose balance point lies off toward the second.
func tilted(weight, span, leg, off, below float64) Posture {
	g := Legs{Span: span, First: leg, Second: leg, Balance: span/2 + off, Below: below}
	return g.Rest(weight)
}

// randomLegs is any rig a person could hang a piece on, plus some that can't hold.
func randomLegs(random *rand.Rand) Legs {
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	g := Legs{Span: between(0.4, 3)}
	if random.IntN(2) == 0 {
		g.Yoke, g.YokeDepth = g.Span*between(0.2, 0.9), between(0, 0.5)
	}
	g.First = (g.Span - g.Yoke) / 2 / math.Cos(between(30, 75)*degree)
	g.Second = g.First
	if random.IntN(3) > 0 {
		g.Second *= between(0.9, 1.1)
	}
	g.Balance, g.Below = g.Span*between(0.42, 0.58), between(0, 0.3)
	return g
}

// The independent solve knows the six equations of balance of the two bodies and
// where their parts lie in the posture; it knows nothing of how that was found.
// Four unknowns: both pulls and what the hoist hook bears, level and plumb.
func balanceOf(g Legs, p Posture, weight float64) (solved []float64, left float64, span float64) {
	turn := func(x, y, degrees float64) (float64, float64) { // to the right and downward
		s, c := math.Sincos(degrees * degree)
		return x*c - y*s, x*s + y*c
	}
	up1x, up1y := turn(-g.Yoke/2, g.YokeDepth, p.Bar)
	up2x, up2y := turn(g.Yoke/2, g.YokeDepth, p.Bar)
	if g.Yoke == 0 {
		up1x, up1y, up2x, up2y = 0, 0, 0, 0
	}
	d1x, d1y := -math.Cos(p.Angle[0]*degree), math.Sin(p.Angle[0]*degree)
	d2x, d2y := math.Cos(p.Angle[1]*degree), math.Sin(p.Angle[1]*degree)
	k1x, k1y := up1x+g.First*d1x, up1y+g.First*d1y
	k2x, k2y := up2x+g.Second*d2x, up2y+g.Second*d2y
	gx, gy := turn(g.Balance, g.Below, p.Tilt)
	gx, gy = gx+k1x, gy+k1y
	a := mat.NewDense(6, 4, []float64{
		-d1x, -d2x, 0, 0, // piece, level
		-d1y, -d2y, 0, 0, // piece, plumb
		(k1x-gx)*-d1y - (k1y-gy)*-d1x, (k2x-gx)*-d2y - (k2y-gy)*-d2x, 0, 0, // about its balance point
		d1x, d2x, 1, 0, // yoke, level
		d1y, d2y, 0, 1, // yoke, plumb
		up1x*d1y - up1y*d1x, up2x*d2y - up2y*d2x, 0, 0, // about the hook
	})
	b := mat.NewVecDense(6, []float64{0, -weight, 0, 0, 0, 0})
	var x, back mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return nil, math.Inf(1), 0
	}
	back.MulVec(a, &x)
	back.SubVec(&back, b)
	return x.RawVector().Data, mat.Norm(&back, 2), math.Hypot(k2x-k1x, k2y-k1y)
}

// Rigs that find no rest say nothing, so most of them must.
func TestPullsAgreeWithForcesAndMomentsOnTenThousandRigs(t *testing.T) {
	const rigs, least = 10000, 9000
	random := rand.New(rand.NewPCG(5, 6))
	settled, yokes, unequal := 0, 0, 0
	for range rigs {
		g, weight := randomLegs(random), 10+900*random.Float64()
		p := g.Rest(weight)
		if !p.Settled {
			continue
		}
		settled++
		solved, left, span := balanceOf(g, p, weight)
		if g.Yoke > 0 {
			yokes++
		}
		if g.First != g.Second {
			unequal++
		}
		if left > 1e-6*weight || math.Abs(solved[0]-p.Pull[0])+math.Abs(solved[1]-p.Pull[1])+math.Abs(solved[2]) > 1e-6*weight ||
			math.Abs(solved[3]+weight) > 1e-6*weight || math.Abs(span-g.Span) > 1e-8 {
			t.Fatalf("%+v\n%+v\nsolved %v, left over %v, span %v", g, p, solved, left, span)
		}
	}
	require.Greater(t, settled, least)
	t.Logf("%d settled, %d under a yoke, %d on legs of two lengths", settled, yokes, unequal)
}

// Taking half the weight for each leg is what a hurried person does; the same
// independent solve finds it out. Worked example L8.
func TestEqualHalvesOnUnequalLegsAreFoundWrong(t *testing.T) {
	g := Legs{Span: 6, First: math.Sqrt(13), Second: 5, Balance: 2}
	right := g.Rest(900)
	wrong := right
	wrong.Pull = [2]float64{450 * g.First / 3, 450 * g.Second / 3}
	require.InDelta(t, 540.8, wrong.Pull[0], 0.1)
	require.InDelta(t, 750.0, wrong.Pull[1], 0.1)
	solved, left, _ := balanceOf(g, right, 900)
	require.Less(t, left, 1e-9)
	require.Greater(t, math.Abs(solved[0]-wrong.Pull[0]), 100.0)
	require.InDelta(t, 0.75, wrong.Pull[0]/right.Pull[0], 0.001) // 25 % too low
}

// Worked examples L7 and L9: own arithmetic, angles to 0.01°, pulls to 0.1 lb.
func TestUnequalLegsAndOffCentrePicks(t *testing.T) {
	g := Legs{Span: 6, First: math.Sqrt(13), Second: 5, Balance: 2}
	p := g.Rest(900)
	require.InDelta(t, 721.1, p.Pull[0], 0.1)
	require.InDelta(t, 500.0, p.Pull[1], 0.1)
	require.InDelta(t, 56.31, p.Angle[0], 0.01)
	require.InDelta(t, 36.87, p.Angle[1], 0.01)
	require.InDelta(t, 0, p.Tilt, 1e-9)
	require.InDelta(t, 400.0, p.Pull[0]*math.Cos(p.Angle[0]*degree), 0.1)

	p = tilted(1000, 6, 5, 0.5, 0.7)
	require.InDelta(t, 6.07, p.Tilt, 0.01)
	require.InDelta(t, 533.3, p.Pull[0], 0.1)
	require.InDelta(t, 709.6, p.Pull[1], 0.1)
	require.InDelta(t, 47.06, p.Angle[0], 0.01)
	require.InDelta(t, 59.20, p.Angle[1], 0.01)
}

// A deeper balance point and a deeper yoke right the piece; the verdict counts
// on neither unless it was measured.
func TestDepthOnlyRightsThePiece(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	for range 500 {
		g := randomLegs(random)
		g.Second, g.Below = g.First, 0
		flat := g.Rest(1)
		if !flat.Settled {
			continue
		}
		deeper := g
		deeper.Below = 0.1
		require.LessOrEqual(t, math.Abs(deeper.Rest(1).Tilt), math.Abs(flat.Tilt)+1e-7, "%+v", g)
		if g.Yoke > 0 {
			deeper = g
			deeper.YokeDepth += 0.1
			require.LessOrEqual(t, math.Abs(deeper.Rest(1).Tilt), math.Abs(flat.Tilt)+1e-7, "%+v", g)
		}
	}
}

func TestLegsThatCannotHoldDoNotSettle(t *testing.T) {
	for _, g := range []Legs{
		{}, {Span: 1, Yoke: 1, First: 1, Second: 1, Balance: .5}, {Span: 1, Yoke: 1.2, First: 1, Second: 1, Balance: .5},
		{Span: 2, First: .9, Second: .9, Balance: 1}, {Span: 2, First: .5, Second: 2.5, Balance: 1},
		{Span: 1, First: 1, Second: 1, Balance: 0}, {Span: 1, First: 1, Second: 1, Balance: math.NaN()},
		{Span: math.Inf(1), First: 1, Second: 1, Balance: 1}, {Span: 1, First: math.Inf(1), Second: 1, Balance: .5},
		{Span: 2, Yoke: 1.8, First: .4, Second: .4, Balance: 1.1}, // the yoke turns over
	} {
		require.False(t, g.Rest(1).Settled, "%+v", g)
	}
}
