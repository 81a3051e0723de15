package lift

import (
	"math"
	"slices"
)

// cut is the cant with diameters and length as given and every sawn face
// nearer to the bark by less.
func (p *Piece) cut(small, large, length, less float64) cut {
	c := cut{small: small / 2, large: large / 2, length: length}
	for i, depth := range p.Slabs {
		c.side[i] = math.Inf(1)
		if depth > less {
			c.side[i] = p.Small/2 - depth + less
		}
	}
	return c
}

// solid is a volume and its first moment about the small end, m³ and m⁴.
type solid struct{ volume, moment float64 }

// frustum is the exact frustum of a cone between two diameters.
func frustum(small, large, length float64) solid {
	r, big := small/2, large/2
	return solid{
		math.Pi * length / 3 * (r*r + r*big + big*big),
		math.Pi * length * length / 12 * (r*r + 2*r*big + 3*big*big),
	}
}

// Smalian is the volume of a log from the areas of its two ends, never less
// than the cone between them. d and large are diameters in metres. Source:
// forest-mensuration notes, University of Missouri.
func Smalian(small, large, length float64) float64 {
	return math.Pi / 8 * length * (small*small + large*large)
}

// newton is the volume from the areas of ends and middle; Source as Smalian.
func newton(small, middle, large, length float64) solid {
	a, m, b := math.Pi/4*small*small, math.Pi/4*middle*middle, math.Pi/4*large*large
	return solid{length / 6 * (a + 4*m + b), length * length / 6 * (2*m + b)}
}

// wood is the piece's wood without bark, from the dimensions as read.
func (p *Piece) wood() solid { return p.woodWith(Reading{}, false) }

// woodWith is the wood when every dimension is half a step larger than read;
// upper takes the fuller of the rules for a log measured at its ends only.
func (p *Piece) woodWith(step Reading, upper bool) solid {
	grow, length := step.Section/2, p.Length+step.Length/2
	switch p.Shape {
	case Round:
		return p.log(step, upper)
	case Slabbed:
		bare := p.underBark()
		c := p.cut(p.Small*bare, p.Large*bare, length, 0)
		if upper {
			// The radius is half of what the diameter may be more, and each slab
			// half a step of the ruler thinner.
			thicker := p.thicker(step)
			c = p.cut((p.Small+thicker)*bare, (p.Large+thicker)*bare, length, thicker/2+grow)
		}
		v, m := c.volume()
		return solid{v, m}
	case Squared:
		v := (p.Width + grow) * (p.Height + grow) * length
		return solid{v, v * length / 2}
	case Measured:
		return solid{p.Volume, p.Volume * p.Length / 2}
	}
	return solid{}
}

// underBark turns a diameter as read into one of the wood alone. Where the
// bark's share isn't known the diameter is left as it is, which weighs more.
// Bark volume is published as a share of the wood's: d/√(1+b).
func (p *Piece) underBark() float64 {
	if !p.OverBark {
		return 1
	}
	s, standsIn := p.kind()
	if standsIn {
		return 1
	}
	return 1 / math.Sqrt(1+s.BarkVolume)
}

// barked is the wood that bark is counted on: all there is of the piece, and no
// less than half the log where a face went past its axis, since what is left
// then keeps more of the rim than of the disc. Each dimension may be half a step
// larger than read.
func (p *Piece) barked(wood float64, step Reading) float64 {
	if p.Shape != Slabbed || slices.Max(p.Slabs[:]) <= p.Small/2 {
		return wood
	}
	bare, thicker := p.underBark(), p.thicker(step)
	log := frustum((p.Small+thicker)*bare, (p.Large+thicker)*bare, p.Length+step.Length/2)
	return math.Max(wood, log.volume/2)
}

// BalancePoint is how far from the small end the piece balances, in metres:
// the point found by trial where there is one, else that of the wood's shape.
// Exact for straight taper; half the length of a measured volume is a guess.
func (p *Piece) BalancePoint() float64 { return p.balanceOf(p.wood()) }

func (p *Piece) balanceOf(s solid) float64 {
	switch {
	case p.Balance > 0:
		return p.Balance
	case !(s.volume > 0):
		return p.Length / 2
	}
	return s.moment / s.volume
}

// mostTrialOff is how far a balance point found by trial may lie from the one
// of the shape, as a share of the length. Heart, bark and a lean butt shift it a
// little; further off one of the two was measured wrong. Own choice.
const mostTrialOff = 0.03

// trialOff tells whether a balance point found by trial lies further from that
// of the shape than wood explains, and where the shape's is.
func (p *Piece) trialOff() (shape float64, off bool) {
	if p.Balance == 0 || p.Shape == Measured || p.middleOnly() {
		return 0, false
	}
	bare := *p
	bare.Balance = 0
	shape = bare.BalancePoint()
	return shape, math.Abs(shape-p.Balance) > mostTrialOff*p.Length
}
