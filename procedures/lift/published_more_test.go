package lift

import (
	"math"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

func (r row) size() ChainSize {
	size, err := ParseChainSize(r.text[0])
	require.NoError(r.t, err, r.id)
	return size
}

// more is ours for the rows about volumes, bark, allowances and wear.
func (r row) more(rule string) (ours float64, ok bool) {
	switch rule {
	case "oven-dry gravity":
		return Density(basicOf(r.n(0), 0), r.n(1)) * bookWater / poundPerFt, true
	case "species gravity at 12 %":
		return r.kind(0).GravityAt(0.12), true
	case "density in pounds":
		return Density(basicOf(r.n(0), r.n(1)), r.n(1)) * bookWater / poundPerFt, true
	case "sinking moisture":
		return SinkingMoisture(r.n(0)), true
	case "wood alone":
		s := Species{Gravity: r.n(0), MeanMoisture: r.n(1)}
		return s.GreenDensity() * bookWater / poundPerFt, true
	case "outside bark":
		return r.outsideBark(), true
	case "neiloid":
		return Neiloid(r.n(0)*inch, r.n(1)*inch, r.n(2)*foot) / cubicFoot, true
	case "neiloid cm m":
		return Neiloid(r.n(0)/100, r.n(1)/100, r.n(2)), true
	case "huber":
		p := Piece{Shape: Round, Middle: r.n(0) * inch, Length: r.n(1) * foot}
		return p.wood().volume / cubicFoot, true
	case "upper over cone":
		p := r.log()
		return (p.woodWith(Reading{}, true).volume - p.wood().volume) / cubicFoot, true
	case "cant area":
		p := r.cant()
		c := p.cut(p.Small, p.Large, p.Length, 0)
		return c.area(c.small) / inch / inch, true
	case "cant by three areas", "cant by two areas":
		p := r.cant()
		c := p.cut(p.Small, p.Large, p.Length, 0)
		ends, middle := c.area(c.small)+c.area(c.large), c.area((c.small+c.large)/2)
		if rule == "cant by two areas" {
			return p.Length * ends / 2 / cubicFoot, true
		}
		return p.Length * (ends + 4*middle) / 6 / cubicFoot, true
	case "shrinkage at 12 %":
		s := r.kind(0)
		return 1 - s.Gravity/s.GravityAt(0.12), true
	case "slab area":
		return segment(r.n(0)/2, r.n(0)/2-r.n(1)), true
	case "squared heart weight":
		p := r.beam()
		p.HeartKnown, p.HeartShare = true, 1
		w, err := Weigh(p)
		require.NoError(r.t, err, r.id)
		return float64(w.Expected) / pound, true
	case "ceiling weight":
		return r.n(0) * r.n(1) * inch * inch * r.n(2) * foot * soaked(r.n(3)) * bookWater / pound, true
	case "fifth over mean":
		return greenExcess * float64(r.weight().Expected) / pound, true
	case "paraboloid balance":
		p := r.log()
		p.Middle = math.Sqrt((p.Small*p.Small + p.Large*p.Large) / 2)
		return p.BalancePoint() / foot, true
	case "slab shift", "slab centre":
		shift, slab := SlabShift(r.n(0), r.n(1))
		if rule == "slab centre" {
			return slab, true
		}
		return shift, true
	}
	if ours, ok := r.entered(rule); ok {
		return ours, true
	}
	return r.worn(rule)
}

func (r row) outsideBark() float64 {
	s := Species{Gravity: r.n(0), MeanMoisture: r.n(1), BarkGravity: r.n(2), BarkMoisture: r.n(3), BarkVolume: r.n(4)}
	w, err := Weigh(Piece{Shape: Squared, Width: .3, Height: .3, Length: 2, Species: s, Condition: Green, Bark: true})
	require.NoError(r.t, err, r.id)
	return float64(w.Expected) / float64(w.Volume) * bookWater / poundPerFt
}

// entered is ours for the rows that hold the embedded tables against a second
// reading of their sources.
func (r row) entered(rule string) (ours float64, ok bool) {
	switch rule {
	case "kind gravity":
		return r.kind(0).Gravity, true
	case "kind heart moisture":
		return 100 * r.kind(0).HeartMoisture, true
	case "kind sap moisture":
		return 100 * r.kind(0).SapMoisture, true
	case "kind shrinkage":
		return 100 * r.kind(0).Shrinkage, true
	case "twist federal":
		return JudgeHook(HookMeasures{})[1].Other, true
	}
	return 0, false
}

// worn is ours for the rows about wear, weather and spread.
func (r row) worn(rule string) (ours float64, ok bool) {
	switch rule {
	case "federal least link":
		federal, _ := leastLinks(r.size())
		return federal / inch, true
	case "least link":
		least, known := LeastLink(r.size())
		require.True(r.t, known, r.id)
		return least / inch, true
	case "stretch limit":
		return JudgeChain(ChainMeasures{Pitch: r.n(0) * inch})[2].Limit / inch, true
	case "throat limit":
		return JudgeHook(HookMeasures{NewThroat: r.n(0) * inch})[0].Limit / inch, true
	case "throat federal":
		return JudgeHook(HookMeasures{NewThroat: r.n(0) * inch})[0].Other / inch, true
	case "section limit":
		return JudgeHook(HookMeasures{NewSection: r.n(0)})[2].Limit, true
	case "reaches outward":
		g := Legs{Span: r.n(1), Yoke: r.n(0), First: r.n(2), Second: r.n(2), Balance: r.n(1) / 2}
		_, _, reaches := g.Level()
		return map[bool]float64{true: 1}[reaches], true
	case "half on each leg":
		return r.n(0) / 2 * AngleFactor(math.Atan2(r.n(2), r.n(1))/degree), true
	case "beam impact":
		return BeamImpact(r.n(0)*foot/60, false), true
	case "beam impact by hand":
		return BeamImpact(r.n(0)*foot/60, true), true
	case "inward pull", "grip ratio":
		g := Legs{Span: r.n(1), Yoke: r.n(2), First: r.n(3), Second: r.n(3), Balance: r.n(1) / 2}
		p := g.Rest(r.n(0))
		inward := p.Pull[0] * math.Cos(p.Angle[0]*degree)
		if rule == "grip ratio" {
			return inward / r.n(0), true
		}
		return inward, true
	case "first angle", "second angle", "first inward", "second inward":
		first, second, rise := r.n(1), r.n(2), r.n(3)
		g := Legs{Span: first + second, First: math.Hypot(first, rise), Second: math.Hypot(second, rise), Balance: first}
		p := g.Rest(r.n(0))
		return map[string]float64{"first angle": p.Angle[0], "second angle": p.Angle[1],
			"first inward": p.Pull[0] * math.Cos(p.Angle[0]*degree), "second inward": p.Pull[1] * math.Cos(p.Angle[1]*degree)}[rule], true
	case "tilted angle away", "tilted angle toward":
		p := tilted(r.n(0), r.n(1), r.n(2), r.n(3), r.n(4))
		return map[string]float64{"tilted angle away": p.Angle[0], "tilted angle toward": p.Angle[1]}[rule], true
	case "ice on a square foot":
		p := Piece{Weather: Weather{Ice: r.n(0) * inch, IceArea: foot * foot}}
		return p.onIt() / pound, true
	case "settled snow on a square foot":
		p := Piece{Weather: Weather{Snow: r.n(0) * inch, SnowArea: foot * foot, SnowKind: SettledSnow}}
		return p.onIt() / pound, true
	case "normal 99":
		return 1 + gravitySpread*distuv.UnitNormal.Quantile(0.99), true
	case "snatch":
		return Snatch(r.n(0)*inch, r.n(1)*inch), true
	case "student 95":
		return student95(int(r.n(0))), true
	case "gravity spread":
		return gravitySpread * r.n(0), true
	}
	return 0, false
}
