package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// Longest, thickest and heaviest a piece may be typed in; past them somebody
// mistook a unit. Own choice, for a mill that lifts cants of 2 to 8 ft.
const (
	maxLength   = 6.0  // m
	maxDiameter = 1.5  // m
	maxVolume   = 11.0 // m³, the cylinder of both
	maxExtra    = 5000 // kg
)

// Reading is the step of the ruler: each dimension may be half a step more than
// was read. Zero means a quarter inch on the section, an inch on the length.
type Reading struct {
	Section, Length float64 // m
}

// Piece is a stick of timber as it will hang. Lengths are in metres, moisture
// is water over oven-dry mass, so 1.2 is 120 percent. Which fields count
// depends on the shape:
//
//   - Round: Length, Small, Large, and Middle where it was measured; or Middle
//     alone, for Huber's rule.
//   - Slabbed: Length, Small, Large of the log, and Slabs.
//   - Squared: Length, Width, Height.
//   - Measured: Length, Volume of the wood without bark; and Large, how thick it
//     is at the most, where the headroom matters.
type Piece struct {
	Shape        Shape
	Length       float64
	Small, Large float64 // end diameters
	Middle       float64 // diameter at half length, 0 = not measured
	// Slabs are the depths sawn off, measured at the small end in line with the
	// log's axis: the first face, the one opposite, and the two at right angles.
	// 0 is a face not sawn.
	Slabs         [4]float64
	Width, Height float64
	Volume        float64 // m³
	OverBark      bool    // the diameters were taken outside the bark
	// Girths: the diameters were worked out from girths, by [DiameterOfGirth].
	Girths bool `json:",omitzero"`
	Bark   bool // the bark is still on

	Species    Species // zero: nobody knows
	Fallback   Species // stands in for an unknown kind: [Piece.WithHeaviestOf]; zero: the heaviest published
	HeartKnown bool
	HeartShare float64 // heartwood by volume, 0 to 1, when HeartKnown

	Condition Condition
	Moisture  float64 // read at depth, with MeasuredMoisture
	Density   float64 // kg/m³ of such wood as it hangs, weighed; 0 = not weighed. Outranks species and moisture, which it is held against.
	Extra     float64 // kg of snow, ice, water or mud on it
	Balance   float64 // balance point from the small end, found by trial; 0 = work it out
	Reading   Reading

	Weather Weather `json:",omitzero"`
	// Learned is what the mill's own scale has shown of such wood; zero: nothing.
	Learned Learned `json:",omitzero"`
}

// Validate returns nil or a [plain.Problems] with every field that [Weigh]
// can't use, so that a form marks them all at once.
func (p *Piece) Validate() error {
	var bad plain.Problems
	above(&bad, p.Length, maxLength, "length")
	switch p.Shape {
	case Round, Slabbed:
		p.validateLog(&bad)
	case Squared:
		above(&bad, p.Width, maxDiameter, "width")
		above(&bad, p.Height, maxDiameter, "height")
	case Measured:
		if !(p.Volume > 0 && p.Volume <= maxVolume) {
			bad.Unless(false, "volume", "more than 0, at most %s", plain.CubicMetres(maxVolume))
		}
		upTo(&bad, p.Large, maxDiameter, "thick")
	default:
		bad.Unless(false, "shape", "round, slabbed, squared, or measured")
	}
	p.validateWood(&bad)
	if !(p.Extra >= 0 && p.Extra <= maxExtra) {
		bad.Unless(false, "extra", "0 to %s of snow, ice, water or mud", plain.Kilograms(maxExtra))
	}
	bad.Unless(p.Balance >= 0 && p.Balance <= p.Length, "balance", "between the ends of the piece, or left empty")
	p.validateWeather(&bad)
	p.validateLearned(&bad)
	upTo(&bad, p.Reading.Section, 0.1, "reading-section")
	upTo(&bad, p.Reading.Length, 0.5, "reading-length")
	p.validateNumbers(&bad)
	return bad.Err()
}

// validateNumbers notes what is no number and was not noted yet, also where this
// shape has no use for it: nobody meant it.
func (p *Piece) validateNumbers(bad *plain.Problems) {
	for _, one := range [...]struct {
		field string
		x     float64
	}{
		{"small", p.Small}, {"large", p.Large}, {"middle", p.Middle},
		{"slab-1", p.Slabs[0]}, {"slab-2", p.Slabs[1]}, {"slab-3", p.Slabs[2]}, {"slab-4", p.Slabs[3]},
		{"width", p.Width}, {"height", p.Height}, {"volume", p.Volume},
		{"heart-share", p.HeartShare}, {"moisture", p.Moisture}, {"learned", p.Learned.Spread},
	} {
		if one.x-one.x != 0 && bad.For(one.field) == nil { // of NaN and infinities the difference is NaN
			bad.Unless(false, one.field, "a number")
		}
	}
}

// above notes a length that is not more than 0 and at most most. It and upTo
// put nothing together for a length that is right.
func above(bad *plain.Problems, x, most float64, field string) {
	if !(x > 0 && x <= most) {
		bad.Unless(false, field, "more than 0, at most %s", plain.Metres(most))
	}
}

// upTo notes a length that is not between 0 and most.
func upTo(bad *plain.Problems, x, most float64, field string) {
	if !(x >= 0 && x <= most) {
		bad.Unless(false, field, "at most %s, or left empty", plain.Metres(most))
	}
}

// across notes a diameter out of range, as the girth it was read as.
func (p *Piece) across(bad *plain.Problems, diameter float64, field string) {
	if !p.Girths {
		above(bad, diameter, maxDiameter, field)
	} else if !(diameter > 0 && diameter <= maxDiameter) {
		bad.Unless(false, field, "more than 0, at most %s round", plain.Metres(maxDiameter*math.Pi))
	}
}

func (p *Piece) validateLog(bad *plain.Problems) {
	if p.middleOnly() {
		p.across(bad, p.Middle, "middle")
		return
	}
	p.across(bad, p.Small, "small")
	p.across(bad, p.Large, "large")
	bad.Unless(!(p.Small > p.Large), "small", "no more than the large end; change the two round")
	if p.Shape == Round {
		if p.Middle != 0 {
			p.across(bad, p.Middle, "middle")
		}
		return
	}
	bad.Unless(p.Middle == 0, "middle", "left empty for a cant; it is used for round logs")
	fields := [4]string{"slab-1", "slab-2", "slab-3", "slab-4"}
	sawn, right := false, true
	for i, depth := range p.Slabs {
		ok := depth >= 0 && depth < p.Small
		bad.Unless(ok, fields[i], "0 or more, less than the small end is thick")
		sawn, right = sawn || depth > 0, right && ok
	}
	bad.Unless(sawn || !right, "slab-1", "the depth sawn off one face at least; a piece with nothing sawn off is a log")
	if right && sawn && p.Small > 0 && p.Small <= maxDiameter && p.Large >= p.Small {
		bad.Unless(p.Slabs[0]+p.Slabs[1] < p.Small, "slab-2", "less; with the opposite face it takes the whole small end")
		bad.Unless(p.Slabs[2]+p.Slabs[3] < p.Small, "slab-4", "less; with the opposite face it takes the whole small end")
		c := p.cut(p.Small, p.Large, p.Length, 0)
		bad.Unless(c.leaves(), "slab-1", "less; nothing is left at the small end")
	}
}

func (p *Piece) validateWood(bad *plain.Problems) {
	switch {
	case p.Density >= 200 && p.Density <= 1500:
		if dry := p.Species.Density(0); p.Species.known() && p.Density < dry {
			bad.Unless(false, "density", "at least %s: such wood weighs that much when it is bone dry", plain.KilogramsPerCubic(dry))
		}
	case p.Density != 0:
		bad.Unless(false, "density", "%s to %s, or left empty", plain.KilogramsPerCubic(200), plain.KilogramsPerCubic(1500))
	}
	switch p.Condition {
	case Green, PartDry, AirDry, Soaked:
	case MeasuredMoisture:
		p.validateMoisture(bad) // beside a density, too: the published mean it is held against goes by it
	default:
		weighed := p.Density != 0 && p.Condition == ConditionUnknown // held against green wood
		bad.Unless(weighed, "condition", "green, part-dry, air-dry, soaked, or a measured moisture")
	}
	bad.Unless(p.Species.known() || p.Species == (Species{}), "species", "a kind of the table, or none")
	bad.Unless(p.Fallback.known() || p.Fallback == (Species{}), "fallback", "a kind of the table, or none")
	if p.HeartKnown {
		bad.Unless(p.HeartShare >= 0 && p.HeartShare <= 1, "heart-share", "0 to 100 %, or left empty")
	}
}

// leastMoisture is drier than any wood out of doors gets; below it somebody typed
// a share for a percentage. Own choice.
const leastMoisture = 0.04

func (p *Piece) validateMoisture(bad *plain.Problems) {
	if !(p.Moisture >= leastMoisture && p.Moisture <= 3) {
		bad.Unless(false, "moisture", "%s to 300 %%, as percent: 80 for eighty percent", plain.Fraction(leastMoisture))
		return
	}
	kind, _ := p.kind()
	if kind.known() && p.Moisture > MaxMoisture(kind.Gravity) {
		bad.Unless(false, "moisture", "at most %s, all the water this wood can hold", plain.Fraction(MaxMoisture(kind.Gravity)))
	}
}

// known tells whether every figure of s is one the rules can use.
func (s Species) known() bool {
	part := func(x, most float64) bool { return x >= 0 && x <= most }
	return s.Gravity >= 0.1 && s.Gravity <= 1.2 &&
		part(s.HeartMoisture, 4) && part(s.SapMoisture, 4) && part(s.MeanMoisture, 4) &&
		part(s.BarkVolume, 0.6) && part(s.BarkGravity, 1.2) && part(s.BarkMoisture, 4) && part(s.Shrinkage, 0.4)
}

// kind is the species the weight is worked out with, and whether it stands in
// for one that nobody knows.
func (p *Piece) kind() (s Species, standsIn bool) {
	switch {
	case p.Species != (Species{}):
		return p.Species, false
	case p.Fallback != (Species{}):
		return p.Fallback, true
	}
	return heaviestOfTable(), true
}

// step is the ruler's step with its defaults.
func (r Reading) step() Reading {
	if r.Section == 0 {
		r.Section = 0.25 * 0.0254
	}
	if r.Length == 0 {
		r.Length = 0.0254
	}
	return r
}

// thickness is the thicker way across the section's thinner side, for how far
// the air has dried it; +Inf where it isn't known.
func (p *Piece) thickness() float64 {
	switch p.Shape {
	case Round:
		return math.Max(p.Large, p.Middle)
	case Squared:
		return math.Min(p.Width, p.Height)
	case Slabbed:
		return math.Min(p.Large-p.Slabs[0]-p.Slabs[1], p.Large-p.Slabs[2]-p.Slabs[3])
	}
	return math.Inf(1)
}
