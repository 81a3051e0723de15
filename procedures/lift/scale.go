package lift

import (
	"math"
	"time"

	"stillsaw/procedures/plain"
)

// Weighing is one reading of a scale or load cell beside what the published
// figures gave for the very same piece: both kg of wood alone.
type Weighing struct {
	Lift               string // id of the lift it was kept with
	Kind               string // scientific name
	Condition          Condition
	Predicted, Weighed float64
	Volume, Length     float64 // m³ of wood; m
	At                 time.Time
	Lifted             bool // the check of the lift allowed it
	Aside              bool // a supervisor put it aside, with a reason kept elsewhere
}

// Ratio is the weighed mass over the predicted one, 0 where that says nothing.
func (w Weighing) Ratio() float64 {
	if !(w.Predicted > 0 && w.Weighed > 0) {
		return 0
	}
	return w.Weighed / w.Predicted
}

// CompareScale sets a reading against the piece as entered: reading is what the
// scale showed, gear the mass of all that hung on it besides the piece, both
// kg. Bark, snow, ice, water and mud are taken off as reckoned. The error is a
// [plain.Problems]; a reading that can be no such piece is no error here, it is
// flagged by [Learn].
func CompareScale(p Piece, reading, gear float64) (Weighing, error) {
	p.Density, p.Learned = 0, Learned{}
	var bad plain.Problems
	bad.Unless(reading > 0 && reading <= maxRated, "scale", "more than 0, at most %s", plain.Kilograms(maxRated))
	bad.Unless(gear >= 0 && gear < reading, "scale-gear", "less than the scale showed")
	bad.Unless(p.Species.known(), "species", "the kind of wood; a reading of an unknown kind teaches nothing")
	bad.Add("", p.Validate())
	if err := bad.Err(); err != nil {
		return Weighing{}, err
	}
	wood := p.wood().volume
	d := p.densities(&Weight{})
	predicted := wood * d.expected
	other := p.Extra + p.onIt() + gear
	if p.Bark {
		other += p.barkOn(p.barked(wood, Reading{}))
	}
	weighed := reading - other
	if p.Weather.Wet {
		weighed /= 1 + waterFilm
	}
	return Weighing{Kind: p.Species.Scientific, Condition: p.Condition, Predicted: predicted,
		Weighed: math.Max(0, weighed), Volume: wood, Length: p.Length}, nil
}

// Learned is what the mill's own scale has shown of one kind of wood in one
// condition. Mean, Shrunk, Bound and Heaviest are masses over the published
// expected mass, so 1.06 is six percent heavier. The zero value is nothing
// learned: the published figures stand.
type Learned struct {
	Kind      string // scientific name
	Condition Condition
	N         int // readings counted
	Mean      float64
	Spread    float64 // standard deviation of one reading, 0 of a single one
	Shrunk    float64 // drawn toward the published mean: what is expected now
	Bound     float64 // what 95 of 100 further pieces stay under, by the readings alone
	Heaviest  float64 // the heaviest reading counted
	// Signed: a supervisor signed that the upper weight may lie below the
	// published mean.
	Signed bool
	// Heavy is how many of N came from lifts that were never allowed: they count
	// toward heavier wood alone.
	Heavy int `json:",omitzero"`
}

// Odd is a reading to be looked into: a wrong piece, a scale off its zero, a
// piece still caught, or wood that really is so. Said tells which way it lies
// and whether it was counted all the same.
type Odd struct {
	Lift    string
	Ratio   plain.Fraction
	Counted bool
	Said    plain.Sentence
}

const (
	// The published mean counts as this many readings. Own choice.
	priorReadings = 4.0
	// So many readings are wanted before they make the upper weight less; a
	// heavier mean makes it more from the first. Own choice.
	lighterFrom = 5
	// So many readings before their own spread is believed. Own choice.
	spreadFrom = 3
	// Modified z-score from which a reading is odd, and the normal curve's
	// standard deviation over the median deviation; Iglewicz and Hoaglin, How to
	// Detect and Handle Outliers (1993), as quoted on public pages.
	oddScore   = 3.5
	medianToSD = 1.4826
	// A scale and a tape differ by this much between them whatever the wood. Own
	// choice.
	leastScatter = 0.03
	// No wood hangs lighter or heavier: the limits of Piece.Density; kg/m³.
	lightestWood, heaviestWood = 200.0, 1500.0
)

// Learn takes in the readings of this kind and condition and passes over all
// others, and those [Tell] says don't count. Readings far from the rest are
// returned as odd. One that is too light is not counted; one that is too heavy
// is, until a supervisor puts it aside; one that no wood can weigh never is.
// Without readings it is the zero Learned.
//
// The mean is drawn toward the published one, which counts as four readings.
// The bound is the mean and t(95 %, n−1) standard deviations times √(1 + 1/n),
// the textbook bound for one more observation; the published spread stands for
// that of the readings while there are less than three. Readings of lifts that
// were never allowed move none of these downward.
func Learn(weighings []Weighing, kind Species, condition Condition) (Learned, []Odd) {
	s := sortOut(weighings, kind, condition)
	own, odd := sift(s.own, kind.publishedSpread(condition))
	heavy, also := sift(s.heavy, kind.publishedSpread(condition))
	odd = append(odd, also...)
	l := learnFrom(own, kind, condition)
	if len(heavy) > 0 {
		all := learnFrom(append(heavy, own...), kind, condition)
		all.Heavy = len(heavy)
		all.Mean, all.Shrunk, all.Bound = math.Max(all.Mean, l.Mean), math.Max(all.Shrunk, l.Shrunk), math.Max(all.Bound, l.Bound)
		l = all
	}
	return l, odd
}

func learnFrom(ratios []float64, kind Species, condition Condition) Learned {
	l := Learned{Kind: kind.Scientific, Condition: condition, N: len(ratios)}
	if l.N == 0 {
		return Learned{}
	}
	n := float64(l.N)
	for _, x := range ratios {
		l.Mean += x / n
		l.Heaviest = math.Max(l.Heaviest, x)
	}
	for _, x := range ratios {
		l.Spread += (x - l.Mean) * (x - l.Mean)
	}
	factor, spread := oneSided95, kind.publishedSpread(condition)*l.Mean
	if l.N > 1 {
		l.Spread = math.Sqrt(l.Spread / (n - 1))
	}
	if l.N >= spreadFrom {
		factor, spread = student95(l.N-1), l.Spread
	}
	l.Bound = l.Mean + factor*spread*math.Sqrt(1+1/n)
	l.Shrunk = (n*l.Mean + priorReadings) / (n + priorReadings)
	return l
}

// publishedSpread is the standard deviation of one piece over the expected mass
// as the published figures have it: a tenth for the gravity, and for wood that
// may be wet what brings the 95th percentile to the published upper density.
func (s Species) publishedSpread(condition Condition) float64 {
	if condition != Green && condition != PartDry {
		return gravitySpread
	}
	return math.Max(gravitySpread, (s.upperGreenDensity()/s.GreenDensity()-1)/oneSided95)
}

// validateLearned refuses what was learned of other wood.
func (p *Piece) validateLearned(bad *plain.Problems) {
	l := &p.Learned
	if *l == (Learned{}) {
		return
	}
	kind, _ := p.kind()
	bad.Unless(l.N > 0 && l.Kind == kind.Scientific && l.Condition == p.Condition, "learned", "what was weighed of this kind and condition, or nothing")
	sane := func(x float64) bool { return x > 0 && x < 10 }
	bad.Unless(sane(l.Mean) && sane(l.Shrunk) && sane(l.Heaviest) && l.Bound >= l.Mean && l.Bound < 100, "learned", "figures worked out by the program")
}

// apply moves published densities by what was learned. The upper density keeps
// its distance from the expected one, and with few readings never comes down;
// it is no less than the readings' own bound, up to wood full of water or the
// heaviest weighed; and no less than the published mean unless a supervisor
// signed for that.
func (l *Learned) apply(d densities, gravity float64) densities {
	move := d.expected * (l.Shrunk - 1)
	upper := d.upper + move
	if l.N-l.Heavy < lighterFrom {
		upper = math.Max(upper, d.upper)
	}
	most := math.Max(soaked(gravity*upperGravity), d.expected*l.Heaviest)
	weighed := math.Min(most, math.Max(upper, d.expected*l.Bound))
	if !l.Signed {
		weighed = math.Max(weighed, d.expected)
	}
	d.expected += move
	d.dense += move
	d.wet += move
	d.excess += move
	d.upper += move
	d.weighed = math.Max(weighed, d.expected)
	return d
}
