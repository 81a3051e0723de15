package lift

import "math"

// Huber is the volume of a log from the area of its middle, exact where the
// taper is that of a paraboloid and low by π·L·(D−d)²/48 where it is that of a
// cone. Lengths and diameters in metres. Source: forest-mensuration notes,
// Universities of Missouri and Montana.
func Huber(middle, length float64) float64 { return math.Pi / 4 * middle * middle * length }

// Newton is the volume of a log from the areas of both ends and of the middle,
// exact for cylinder, cone, paraboloid and neiloid. Diameters and length in
// metres. Source: as [Huber].
func Newton(small, middle, large, length float64) float64 {
	return newton(small, middle, large, length).volume
}

// Neiloid is the volume of a log that flares like a butt, the least of the
// rules for two ends. Diameters and length in metres. Source: as [Huber].
func Neiloid(small, large, length float64) float64 {
	a, b := math.Pi/4*small*small, math.Pi/4*large*large
	return length / 4 * (a + math.Cbrt(a*a*b) + math.Cbrt(a*b*b) + b)
}

// DiameterOfGirth is the diameter of the circle with this girth. Of all shapes
// with one girth the circle holds most, so an oval log comes out too heavy,
// never too light. Geometry.
func DiameterOfGirth(girth float64) float64 { return girth / math.Pi }

// OvalDiameter is the diameter of the circle as large as an ellipse with these
// two axes at right angles. Geometry.
func OvalDiameter(one, other float64) float64 { return math.Sqrt(one * other) }

// middleTaper is the taper a log is given for its upper weight when only its
// middle was measured: an inch in 4 ft, twice what log scaling commonly takes.
// Own choice.
const middleTaper = 1.0 / 48

// middleOnly tells whether a round log was measured at half its length alone.
func (p *Piece) middleOnly() bool {
	return p.Shape == Round && p.Middle > 0 && p.Small == 0 && p.Large == 0
}

// balanceUnknown tells whether nothing says where along its length the piece
// balances.
func (p *Piece) balanceUnknown() bool {
	return p.Balance == 0 && (p.Shape == Measured || p.middleOnly())
}

// thicker is how much a diameter may be more than was read.
func (p *Piece) thicker(step Reading) float64 {
	if p.Girths {
		return DiameterOfGirth(step.Section / 2)
	}
	return step.Section / 2
}

// log is the wood of a round log. A middle that was measured gives Newton's
// rule; the upper volume takes the fuller of it and Smalian's, which is low
// where the middle is fatter than the mean of the ends. Without a middle the
// volume is the cone's, the upper one Smalian's.
func (p *Piece) log(step Reading, upper bool) solid {
	grow, length, bare := p.thicker(step), p.Length+step.Length/2, p.underBark()
	small, large, middle := (p.Small+grow)*bare, (p.Large+grow)*bare, (p.Middle+grow)*bare
	var s solid
	switch {
	case p.middleOnly():
		v := Huber(middle, length)
		s = solid{v, v * length / 2}
		if upper {
			taper := middleTaper * length
			s.volume += math.Pi / 48 * length * taper * taper
		}
		return s
	case p.Middle > 0:
		s = newton(small, middle, large, length)
	default:
		s = frustum(small, large, length)
	}
	if upper {
		s.volume = math.Max(s.volume, Smalian(small, large, length))
	}
	return s
}
