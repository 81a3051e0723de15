package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// Part is one reason why the upper weight differs from the expected one. The
// parts of a weight add up to the difference.
type Part struct {
	Said plain.Sentence
	Mass plain.Kilograms
}

// Weight is what a piece weighs as it hangs, bark, snow and ice with it.
type Weight struct {
	Volume          plain.CubicMetres // of wood, and bark where it is on
	Expected, Upper plain.Kilograms
	Parts           []Part
	Notes           []plain.Sentence // what was assumed
}

// Weigh works out the expected weight and the upper one that a verdict is
// given on. The error is a [plain.Problems].
//
// Upper: dimensions half a ruler step larger, gravity at the 95th percentile,
// the wettest published moisture; or a fifth over the mean green weight if that
// is more; never more than the same wood full of water. Sources: FPL-GTR-282
// chapter 4 and Table 5-6; Forest Products Laboratory Technical Note 218.
func Weigh(p Piece) (Weight, error) {
	var w Weight
	if _, err := p.weighInto(&w); err != nil {
		return Weight{}, err
	}
	return w, nil
}

// weighInto is Weigh into a Weight whose slices are used again. It returns the
// wood it found, so that nobody works it out twice.
func (p *Piece) weighInto(w *Weight) (found solid, err error) {
	w.Parts, w.Notes = w.Parts[:0], w.Notes[:0]
	w.Volume, w.Expected, w.Upper = 0, 0, 0
	if err := p.Validate(); err != nil {
		return found, err
	}
	found = p.wood()
	wood, most := found.volume, p.woodWith(p.Reading.step(), true).volume
	if !(wood > 0) {
		return found, plain.Problems{{Field: "slab-1", Want: plain.Say("less; nothing is left of the wood under the bark")}}
	}
	d := p.densities(w)
	expected, upper := wood*d.expected, most*d.weighed
	bark, barkMost := 0.0, 0.0
	if p.Bark {
		s, _ := p.kind()
		barked := p.barked(wood, Reading{})
		bark, barkMost = p.barkOn(barked), p.barkOn(p.barked(most, p.Reading.step()))
		w.note("bark is counted on the whole piece, also where slabs took it off")
		w.Volume = plain.CubicMetres(wood + barked*s.BarkVolume)
	} else {
		w.Volume = plain.CubicMetres(wood)
	}
	film := 0.0
	if p.Weather.Wet {
		film = waterFilm
	}
	on := p.Extra + p.onIt()
	w.Expected = plain.Kilograms(expected*(1+film) + bark + on)
	w.Upper = plain.Kilograms(math.Max(upper, expected)*(1+film) + barkMost + on)
	w.part("each dimension may be half a step of the ruler more than was read", (most-wood)*d.expected+barkMost-bark)
	w.part("one piece in twenty is denser than this", most*(d.dense-d.expected))
	w.part("the wood may be wetter than the mean", most*(d.wet-d.dense))
	w.part("green wood is now and then a fifth over its mean", most*(d.excess-d.wet))
	w.part("but no wood is heavier than when it is full of water", most*(d.upper-d.excess))
	if p.Density > 0 {
		w.part("counted no lighter than the published mean of such wood", most*(d.weighed-d.upper))
	} else {
		w.part("this mill's own readings of the scale", most*(d.weighed-d.upper))
	}
	w.part("the film of water on it grows with the wood", film*(upper-expected))
	if p.Girths {
		w.note("girths were measured: of an oval log they make too much, never too little")
	}
	if p.middleOnly() {
		w.note("only the middle was measured: a butt that flares weighs more, so measure both ends of one")
	}
	return found, nil
}

func (w *Weight) note(said string) { w.Notes = append(w.Notes, plain.Say(said)) }

func (w *Weight) part(said string, mass float64) {
	if math.Abs(mass) > 1e-9 {
		w.Parts = append(w.Parts, Part{plain.Say(said), plain.Kilograms(mass)})
	}
}

// densities climbs from the expected density to the upper one, each step with
// one reason more; kg/m³ of wood. upper is the published one, weighed the same
// moved by the mill's own scale, or by a density that was typed in. That one is
// nobody's signed word, so that it never takes the upper below the published
// mean of such wood.
type densities struct{ expected, dense, wet, excess, upper, weighed float64 }

func (p *Piece) densities(w *Weight) densities {
	if p.Density > 0 {
		up := p.Density * upperGravity
		return densities{p.Density, up, up, up, up, math.Max(up, p.published(w).expected)}
	}
	d := p.published(w)
	d.weighed = d.upper
	if p.Learned.N == 0 {
		return d
	}
	w.note("the mill's own scale is counted in")
	s, _ := p.kind()
	return p.Learned.apply(d, s.Gravity)
}

// published are the densities by the published figures alone.
func (p *Piece) published(w *Weight) densities {
	s, standsIn := p.kind()
	switch {
	case standsIn && p.Fallback != (Species{}):
		w.Notes = append(w.Notes, plain.Say("kind of wood not known: taken as %s, the heaviest this mill saws", Wood(s.Common)))
	case standsIn:
		w.note("kind of wood not known: taken as the heaviest in the published table")
	}
	switch p.Condition {
	case Soaked:
		full, upper := soaked(s.Gravity), soaked(s.Gravity*upperGravity)
		return densities{expected: full, dense: upper, wet: upper, excess: upper, upper: upper}
	case MeasuredMoisture:
		return dryDensities(s, p.Moisture, p.Moisture+math.Max(0.05, 0.2*p.Moisture))
	case AirDry:
		if p.thickness() <= thickAirDry {
			return dryDensities(s, airDryMoisture, airDryUpper)
		}
		w.note("air-dry, but thicker than 4 in: the core may still be wet, so the upper weight is that of green wood")
		return p.greenDensities(w, s, airDryMoisture)
	case PartDry:
		green, _ := s.greenMoisture()
		return p.greenDensities(w, s, (math.Max(green, fibreSaturation)+fibreSaturation)/2)
	}
	return p.greenDensities(w, s, p.likelyMoisture(s))
}

// likelyMoisture is the green moisture by heart and sap where their share is
// known, else the published mean.
func (p *Piece) likelyMoisture(s Species) float64 {
	mean, _ := s.greenMoisture()
	if !p.HeartKnown {
		return mean
	}
	heart, sap := s.HeartMoisture, s.SapMoisture
	if heart == 0 {
		heart = sap
	}
	if sap == 0 {
		sap = heart
	}
	if heart == 0 {
		return mean
	}
	return p.HeartShare*heart + (1-p.HeartShare)*sap
}

func (p *Piece) greenDensities(w *Weight, s Species, moisture float64) densities {
	if _, known := s.greenMoisture(); !known {
		w.note("no green moisture is published for this kind: taken as 100 %")
	} else if p.HeartKnown && (s.HeartMoisture == 0 || s.SapMoisture == 0) {
		w.note("heart and sap moisture are not both published for this kind: one figure is used for both")
	}
	upper := s.Gravity * upperGravity
	d := densities{expected: Density(s.Gravity, moisture)}
	d.dense = d.expected * upperGravity
	d.wet = math.Max(d.dense, waterDensity*upper*(1+s.wettest()))
	d.excess = math.Max(d.wet, greenExcess*s.GreenDensity())
	d.upper = math.Min(d.excess, soaked(upper))
	return d
}

// dryDensities are those of wood whose moisture was read, or that is thin
// enough to be dry through. Technical Note 218: near 12 % a piece rarely
// differs by more than a tenth, which the spread of gravity covers.
func dryDensities(s Species, likely, most float64) densities {
	d := densities{expected: s.Density(likely)}
	d.dense = d.expected * upperGravity
	d.wet = math.Max(d.dense, upperGravity*waterDensity*s.GravityAt(most)*(1+most))
	d.excess = d.wet
	d.upper = math.Min(d.excess, soaked(s.Gravity*upperGravity))
	return d
}
