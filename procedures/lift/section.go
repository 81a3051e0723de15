package lift

import "math"

// A cant's section is the disc of the log less the slabs. Two slabs at right
// angles overlap in a corner once the log is fatter than that corner is far,
// so taking both away would take the corner twice and weigh too little.
// Inclusion and exclusion over four half-planes is exact as long as opposite
// slabs don't meet. Geometry, own derivation.

// cut is a log with its faces: the radius grows from small to large over the
// length; side holds the distance of each face from the log's axis, first and
// opposite, then the two at right angles. An unsawn face lies at +Inf.
type cut struct {
	small, large, length float64
	side                 [4]float64
}

// sum is an area, or a volume under construction: ∫A dR and ∫R·A dR.
type sum struct{ zero, one float64 }

func (s sum) plus(f float64, o sum) sum { return sum{s.zero + f*o.zero, s.one + f*o.one} }

// segment is the area of the disc of radius r beyond a line p from its centre.
func segment(r, p float64) float64 {
	switch {
	case p >= r:
		return 0
	case p <= -r:
		return math.Pi * r * r
	}
	q := math.Sqrt(r*r - p*p)
	return r*r*math.Atan2(q, p) - p*q
}

// corner is the area of the disc beyond both of two lines at right angles.
func corner(r, a, b float64) float64 {
	if a >= r || b >= r {
		return 0
	}
	if a*a+b*b < r*r {
		return (segment(r, a)+segment(r, b))/2 - math.Pi*r*r/4 + a*b
	}
	switch {
	case a >= 0 && b >= 0:
		return 0
	case b >= 0:
		return segment(r, b)
	case a >= 0:
		return segment(r, a)
	}
	return math.Max(0, segment(r, a)+segment(r, b)-math.Pi*r*r)
}

// area is the section left at radius r.
func (c *cut) area(r float64) float64 {
	left := math.Pi * r * r
	for i, a := range c.side {
		left -= segment(r, a)
		if i < 2 {
			left += corner(r, a, c.side[2]) + corner(r, a, c.side[3])
		}
	}
	return math.Max(0, left)
}

// leaves tells whether any wood is left at the small end. Where no face comes
// near the log's axis there is, and nothing needs working out.
func (c *cut) leaves() bool {
	near := min(c.side[0], c.side[1], c.side[2], c.side[3])
	return near > 0.01*c.small || c.area(c.small) > 1e-6*c.small*c.small
}

// discUnder is the antiderivative of the disc's area at r.
func discUnder(r float64) sum { return sum{math.Pi * r * r * r / 3, math.Pi * r * r * r * r / 4} }

// segmentUnder is the antiderivative of segment at r ≥ |p|.
func segmentUnder(r, p float64) sum {
	q := math.Sqrt(math.Max(0, r*r-p*p))
	angle := math.Atan2(q, p)
	return sum{
		r*r*r/3*angle - 2./3*p*r*q + p*p*p/3*math.Log(r+q),
		r*r*r*r/4*angle - p/4*(q*q*q/3+p*p*q) - p*q*q*q/3,
	}
}

// segmentOver is ∫ segment dR between two radii.
func segmentOver(from, to, p float64) sum {
	if p >= to {
		return sum{}
	}
	if p <= -from { // the whole disc until it is wider than the line is far
		whole := math.Min(to, -p)
		return discUnder(whole).plus(-1, discUnder(from)).plus(1, segmentPart(whole, to, p))
	}
	return segmentPart(math.Max(from, p), to, p)
}

func segmentPart(from, to, p float64) sum {
	if to <= from {
		return sum{}
	}
	return segmentUnder(to, p).plus(-1, segmentUnder(from, p))
}

// cornerOver is ∫ corner dR between two radii.
func cornerOver(from, to, a, b float64) sum {
	if a >= to || b >= to {
		return sum{}
	}
	var s sum
	if meet := math.Hypot(a, b); from < meet { // the corner lies outside the log there
		until := math.Min(meet, to)
		switch {
		case a >= 0 && b >= 0:
		case b >= 0:
			s = segmentOver(from, until, b)
		case a >= 0:
			s = segmentOver(from, until, a)
		default:
			s = segmentOver(from, until, a).plus(1, segmentOver(from, until, b)).
				plus(-1, discUnder(until)).plus(1, discUnder(from))
		}
		from = until
	}
	if from >= to {
		return s
	}
	s = s.plus(.5, segmentOver(from, to, a)).plus(.5, segmentOver(from, to, b))
	s = s.plus(-.25, discUnder(to)).plus(.25, discUnder(from))
	return s.plus(a*b, sum{to - from, (to*to - from*from) / 2})
}

// volume returns the wood left and its first moment about the small end, in m³
// and m⁴. Faces run parallel to the log's axis.
func (c *cut) volume() (volume, moment float64) {
	spread := c.large - c.small
	if spread <= 1e-5*c.large {
		// Too little taper for a difference of antiderivatives; the section is all
		// but constant, so Simpson's three areas are good to 1e-10 of the disc.
		first, middle, last := c.area(c.small), c.area((c.small+c.large)/2), c.area(c.large)
		return c.length / 6 * (first + 4*middle + last), c.length * c.length / 6 * (2*middle + last)
	}
	s := discUnder(c.large).plus(-1, discUnder(c.small))
	for i, a := range c.side {
		s = s.plus(-1, segmentOver(c.small, c.large, a))
		if i < 2 {
			s = s.plus(1, cornerOver(c.small, c.large, a, c.side[2])).
				plus(1, cornerOver(c.small, c.large, a, c.side[3]))
		}
	}
	slope := spread / c.length
	volume = s.zero / slope
	moment = (s.one - c.small*s.zero) / (slope * slope)
	return math.Max(0, volume), math.Max(0, moment)
}
