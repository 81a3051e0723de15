package lift

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"stillsaw/procedures/plain"
)

// randomPiece is a piece of every shape, as a person measures it: over bark or
// under, by girth or across, with one to four faces sawn.
func randomPiece(random *rand.Rand) Piece {
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	oak, _ := FindSpecies("northern red oak")
	p := Piece{Length: between(0.3, 5), Species: oak, Condition: Green, Bark: random.IntN(2) == 0, Girths: random.IntN(3) == 0}
	p.OverBark = p.Bark && random.IntN(2) == 0
	p.Small = between(0.1, 0.8)
	p.Large = p.Small * between(1, 1.4)
	switch p.Shape = Shape(1 + random.IntN(3)); p.Shape {
	case Round:
		switch random.IntN(3) {
		case 0:
			p.Middle = between(0.9*p.Small, 1.1*p.Large)
		case 1:
			p.Middle, p.Small, p.Large = p.Large, 0, 0
		}
	case Slabbed:
		for i := range 1 + random.IntN(4) {
			p.Slabs[[]int{0, 2, 1, 3}[i]] = p.Small * between(0.02, 0.45)
		}
	case Squared:
		p.Width, p.Height, p.Girths, p.OverBark = between(0.05, 0.8), between(0.05, 0.8), false, false
	}
	return p
}

// summed is the wood of a piece and its moment by summing sections along it,
// grow thicker and longer longer than read; a face lies grow/2 nearer the bark
// than its half of that. It knows the piece's fields and no closed form.
func (n *integrator) summed(p *Piece, thicker, thinner, longer float64) (volume, moment float64) {
	length, bare := p.Length+longer, 1.0
	if p.OverBark {
		bare = 1 / math.Sqrt(1+p.Species.BarkVolume)
	}
	along := func(area func(share float64) float64) {
		for k, t := range n.down.at {
			part := n.down.weight[k] * length * area(t)
			volume, moment = volume+part, moment+part*t*length
		}
	}
	disc := func(d float64) float64 { d = (d + thicker) * bare; return math.Pi / 4 * d * d }
	switch {
	case p.Shape == Squared:
		along(func(float64) float64 { return (p.Width + thicker) * (p.Height + thicker) })
	case p.Shape == Round && p.Small == 0:
		along(func(float64) float64 { return disc(p.Middle) })
	case p.Shape == Round && p.Middle > 0: // the parabola through three areas, by Lagrange
		along(func(t float64) float64 {
			return disc(p.Small)*(1-t)*(1-2*t) + disc(p.Middle)*4*t*(1-t) + disc(p.Large)*t*(2*t-1)
		})
	case p.Shape == Round:
		along(func(t float64) float64 { return disc(p.Small + (p.Large-p.Small)*t) })
	default:
		c := cut{small: (p.Small + thicker) * bare / 2, large: (p.Large + thicker) * bare / 2, length: length}
		for i, depth := range p.Slabs {
			c.side[i] = math.Inf(1)
			if depth > thicker/2+thinner {
				c.side[i] = p.Small/2 - depth + thicker/2 + thinner
			}
		}
		return n.volume(&c)
	}
	return volume, moment
}

// Areas and volumes as pieces have them, each shape and number of faces, as read
// and half a step of the ruler larger, against quad's points.
func TestEveryShapeAgreesWithNumericIntegration(t *testing.T) {
	pieces := 10_000
	if testing.Short() {
		pieces = 500
	}
	random := rand.New(rand.NewPCG(31, 32))
	numeric := newIntegrator()
	faces, shapes, girths, worst := [5]int{}, [5]int{}, 0, 0.0
	for range pieces {
		p := randomPiece(random)
		require.NoError(t, p.Validate())
		sawn := 0
		for _, depth := range p.Slabs {
			if depth > 0 {
				sawn++
			}
		}
		faces[sawn]++
		shapes[p.Shape]++
		if p.Girths {
			girths++
		}
		whole := math.Pi / 4 * math.Pow(math.Max(p.Large, p.Middle), 2) * p.Length
		if p.Shape == Squared {
			whole = p.Width * p.Height * p.Length
		}
		found := p.wood()
		volume, moment := numeric.summed(&p, 0, 0, 0)
		off := math.Max(math.Abs(found.volume-volume)/whole, math.Abs(found.moment-moment)/whole/p.Length/100)
		// The upper volume is the fuller of two rules where only the ends were
		// measured; the summed one is then no more than it.
		step := Reading{Section: 0.006, Length: 0.02}
		thicker := step.Section / 2
		if p.Girths {
			thicker /= math.Pi
		}
		upper, _ := numeric.summed(&p, thicker, step.Section/2, step.Length/2)
		most := p.woodWith(step, true).volume
		if p.Shape != Round {
			off = math.Max(off, math.Abs(most-upper)/whole)
		} else if most < upper*(1-1e-12) {
			t.Fatalf("upper volume %v less than %v: %+v", most, upper, p)
		}
		if off > 1e-9 {
			t.Fatalf("off by %.2g: %+v", off, p)
		}
		worst = math.Max(worst, off)
	}
	for i, n := range faces {
		require.Greater(t, n, pieces/50, "%d faces", i)
	}
	t.Logf("%d pieces, round %d, slabbed %d, squared %d; one to four faces %v; %d by girth; largest difference %.2g of the round volume",
		pieces, shapes[Round], shapes[Slabbed], shapes[Squared], faces[1:], girths, worst)
}

// levelPulls solves the forces of a piece that hangs level with gonum: from one
// point both legs meet over the balance point; under a yoke each bears what the
// moments about the other hook leave it.
func levelPulls(t *testing.T, g *Legs, meet bool) [2]float64 {
	out, height, ok := g.Level()
	require.True(t, ok)
	a := mat.NewDense(2, 2, []float64{out[0] / g.First, -out[1] / g.Second, height / g.First, height / g.Second}) // level and plumb
	b := mat.NewVecDense(2, []float64{0, 1})
	if !meet {
		a = mat.NewDense(2, 2, []float64{1, 1, 0, g.Span})
		b = mat.NewVecDense(2, []float64{1, g.Balance})
	}
	var x mat.VecDense
	require.NoError(t, x.SolveVec(a, b))
	if meet {
		return [2]float64{x.AtVec(0), x.AtVec(1)}
	}
	return [2]float64{x.AtVec(0) * g.First / height, x.AtVec(1) * g.Second / height}
}

// The tensions of a verdict, for every hitch and placing, one point or a yoke
// that swings, legs of one length or two: the larger of the level pull and the
// pull at rest, each by an independent solve, times all that hangs on the legs.
func TestTensionsOfAVerdictAgreeWithForcesAndMoments(t *testing.T) {
	const rigs = 10_000
	random := rand.New(rand.NewPCG(33, 34))
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	hitches, yokes, unequal, tilted := [5]int{}, 0, 0, 0
	for judged := 0; judged < rigs; {
		g := randomLegs(random)
		g.YokeDepth, g.Below = 0, 0
		hitch := Hitch(1 + random.IntN(4))
		legs := Link{Kind: Leg, Pair: true, RatedLoad: 900, MarkedFor: OneLeg, Grade: NotChain, OwnMass: between(1, 20)}
		l := Lift{Span: g.Span, Placing: Placing(1 + random.IntN(2)), Piece: Piece{Shape: Measured, Length: g.Span + 0.3, Volume: 0.1, Density: 700},
			Rig: Rig{Hitch: hitch, YokeWidth: g.Yoke, LegLength: g.First, Links: []Link{{Kind: Hoist, OwnMass: 30}, legs}}}
		if g.Second != g.First {
			l.Rig.SecondLeg = g.Second
		}
		if hitch == EndHooks {
			l.Placing = AtEnds
			l.Rig.Links = append(l.Rig.Links, Link{Kind: EndHook, Pair: true, RatedLoad: 900, OwnMass: between(1, 9)})
		}
		l.Piece.Balance = l.Piece.Length/2 + g.Balance - g.Span/2
		if l.Placing == OverBalance {
			g.Balance = g.Span / 2
		}
		v := Check(l)
		if len(v.LegTension) == 0 {
			continue // tips over, or doesn't fit: said by a finding
		}
		judged++
		hitches[hitch]++
		rest := g.Rest(1)
		require.True(t, rest.Settled)
		solved, left, _ := balanceOf(g, rest, 1)
		require.Less(t, left, 1e-6)
		level := levelPulls(t, &g, g.Yoke == 0)
		hangs := float64(v.Weight.Upper)
		for _, k := range l.Rig.Links[1:] {
			hangs += k.OwnMass
		}
		for i, tension := range v.LegTension {
			want := math.Max(level[i], solved[i]) * hangs * plain.StandardGravity
			if math.Abs(float64(tension)-want) > 1e-6*want {
				t.Fatalf("leg %d: %v, by forces and moments %v: %+v", i+1, tension, want, g)
			}
		}
		if g.Yoke > 0 {
			yokes++
		}
		if g.First != g.Second {
			unequal++
		}
		if v.Tilt > 0.1 {
			tilted++
		}
	}
	for hitch, n := range hitches[1:] {
		require.Greater(t, n, rigs/20, "hitch %d", hitch+1)
	}
	t.Logf("%d rigs by hitch %v, %d under a yoke, %d on legs of two lengths, %d out of level", rigs, hitches[1:], yokes, unequal, tilted)
}
