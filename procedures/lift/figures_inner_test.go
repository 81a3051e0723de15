package lift

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// 88 ft/min is 44 %: half a percent for each foot a minute, from 30 to 100 of them.
// Minnesota amendment to IBC 1607.13. A drop through as much slack as the gear
// stretches pulls 1 + √3 times; textbook energy balance.
func TestBeamsFeelHalfAPercentForEachFootAMinute(t *testing.T) {
	for feet, want := range map[float64]float64{10: 0.15, 30: 0.15, 31: 0.155, 88: 0.44, 99: 0.495, 100: 0.5, 300: 0.5} {
		require.InDelta(t, want, BeamImpact(feet*0.3048/60, false), 1e-12, feet)
	}
	require.InDelta(t, 1+math.Sqrt(3), Snatch(0.002, 0.002), 1e-12)
	require.InDelta(t, 3, Snatch(0.003, 0.002), 1e-12)
	require.True(t, math.IsInf(Snatch(0.1, -1), 1) && math.IsInf(Snatch(0.1, math.NaN()), 1))
	for _, depth := range []float64{0, 0.4, 0.5, -0.1} {
		shift, slab := SlabShift(0.2, depth)
		require.Equal(t, [2]float64{}, [2]float64{shift, slab}, depth)
	}
	// A slab half the radius deep: the segment beyond R/2, first moment
	// 2/3 (R sin 60°)³, area R²(π/3 − √3/4). Geometry.
	area, moment := 0.04*(math.Pi/3-math.Sqrt(3)/4), 2./3*math.Pow(0.2*math.Sqrt(3)/2, 3)
	shift, slab := SlabShift(0.2, 0.1)
	require.InDelta(t, moment/area, slab, 1e-12)
	require.InDelta(t, moment/(math.Pi*0.04-area), shift, 1e-12)
}

// Snow of 15, 30 and 50 % of water (American Meteorological Society) on the top of
// a piece; ice of 917 kg/m³ all round it.
func TestSnowAndIceWeighWhatTheyCover(t *testing.T) {
	for kind, want := range map[Snow]float64{FreshSnow: 150, SettledSnow: 300, LateSnow: 500, SnowUnknown: 500} {
		require.InDelta(t, want, kind.density(), 1e-9, kind)
	}
	p := logged()
	require.Zero(t, p.onIt())
	p.Weather = Weather{Snow: 0.1, SnowKind: FreshSnow}
	require.InDelta(t, 0.1*0.35*2*150, p.onIt(), 1e-9)
	p.Middle = 0.4
	require.InDelta(t, 0.1*0.4*2*150, p.onIt(), 1e-9)
	p.Weather = Weather{Ice: 0.01}
	require.InDelta(t, 0.01*917*math.Pi*(0.4*2+2*0.04), p.onIt(), 1e-9) // the bark and both ends
	p.Weather = Weather{Ice: 0.01, IceArea: 3, Snow: 0.1, SnowArea: 0.5}
	require.InDelta(t, 0.01*3*917+0.1*0.5*500, p.onIt(), 1e-9)
	b := boxed()
	require.InDelta(t, 0.3, b.widest(), 0)
	b.Height = 0.5
	require.InDelta(t, 0.5, b.widest(), 0)
	require.InDelta(t, 2*(0.3*0.5+0.3*2+0.5*2), b.surface(), 1e-12)
	for _, m := range []struct {
		w  Weather
		ok bool
	}{{Weather{Ice: 0.01}, false}, {Weather{Snow: 0.01}, false}, {Weather{Ice: 0.01, IceArea: 1}, true}, {Weather{Snow: 0.01, SnowArea: 1}, true}, {Weather{IceArea: 1}, true}, {Weather{Wet: true}, true}, {Weather{SnowKind: LateSnow}, true}, {Weather{SnowKind: LateSnow + 1}, false}} {
		p := measured()
		p.Weather = m.w
		require.Equal(t, m.ok, p.Validate() == nil, "%+v", m.w)
	}
}

// FPL-GTR-282 eq. 4-9 to 4-14 and 4-3 worked out by hand for each condition; a
// fifth over the mean by Technical Note 218.
func TestDensitiesOfEachConditionByHand(t *testing.T) {
	kind := Species{Common: "made up", Scientific: "x", Gravity: 0.5, HeartMoisture: 0.6, SapMoisture: 1.0, MeanMoisture: 0.8, Shrinkage: 0.12}
	const upper = 0.5 * (1 + 1.645*0.1)
	full := func(g float64) float64 { return 1000 * (1 + g*(1-1/1.54)) }
	at := func(m float64) float64 { return 1000 * 0.5 / (1 - 0.12*(1-m/0.3)) * (1 + m) } // under 30 %
	with := func(change func(p *Piece)) densities {
		p := boxed()
		p.Species = kind
		change(&p)
		return p.densities(&Weight{})
	}
	green := with(func(*Piece) {})
	require.InDelta(t, 900, green.expected, 1e-9)
	require.InDelta(t, 900*1.1645, green.dense, 1e-9)
	require.InDelta(t, 1000*upper*2, green.wet, 1e-9)
	require.InDelta(t, 1000*upper*2, green.excess, 1e-9) // more than 1080
	require.InDelta(t, math.Min(full(upper), 1000*upper*2), green.upper, 1e-9)
	require.InDelta(t, green.upper, green.weighed, 0)
	heart := with(func(p *Piece) { p.HeartKnown, p.HeartShare = true, 0.25 })
	require.InDelta(t, 500*(1+0.25*0.6+0.75*1.0), heart.expected, 1e-9)
	part := with(func(p *Piece) { p.Condition = PartDry })
	require.InDelta(t, 500*(1+(0.8+0.3)/2), part.expected, 1e-9)
	require.InDelta(t, green.wet, part.wet, 1e-9)
	soakedThrough := with(func(p *Piece) { p.Condition = Soaked })
	require.InDelta(t, full(0.5), soakedThrough.expected, 1e-9)
	require.Equal(t, [4]float64{full(upper), full(upper), full(upper), full(upper)}, [4]float64{soakedThrough.dense, soakedThrough.wet, soakedThrough.excess, soakedThrough.upper})
	for _, tc := range []struct{ read, most float64 }{{0.2, 0.25}, {0.26, 0.312}, {0.1, 0.15}} {
		d := with(func(p *Piece) { p.Condition, p.Moisture = MeasuredMoisture, tc.read })
		require.InDelta(t, at(tc.read), d.expected, 1e-9)
		require.InDelta(t, d.expected*1.1645, d.dense, 1e-9)
		wet := 1.1645 * at(tc.most)
		if tc.most > 0.3 {
			wet = 1.1645 * 500 * (1 + tc.most)
		}
		require.InDelta(t, math.Max(d.dense, wet), d.wet, 1e-9)
		require.Equal(t, d.wet, d.excess)
	}
	thin := with(func(p *Piece) { p.Condition, p.Height = AirDry, 4*0.0254 })
	require.InDelta(t, at(0.15), thin.expected, 1e-9)
	require.InDelta(t, 1.1645*at(0.20), thin.wet, 1e-9)
	thick := with(func(p *Piece) { p.Condition, p.Height = AirDry, 4*0.0254+1e-9 })
	require.InDelta(t, math.Max(thick.dense, green.wet), thick.wet, 1e-9)
	typed := with(func(p *Piece) { p.Density = 800 })
	require.Equal(t, densities{800, 800 * upperGravity, 800 * upperGravity, 800 * upperGravity, 800 * upperGravity, math.Max(800*upperGravity, 900)}, typed)
	require.InDelta(t, 900, with(func(p *Piece) { p.Density = 600 }).weighed, 1e-9, "no lighter than its published mean")
}

// Moisture where one figure, or none, was published.
func TestMissingMoistureIsTakenFromTheOther(t *testing.T) {
	for _, tc := range []struct {
		heart, sap, mean float64
		green            float64
		known            bool
		wettest          float64
	}{{0, 0, 0, 1, false, 1}, {0.5, 0, 0, 0.5, true, 0.5}, {0, 0.9, 0, 0.9, true, 0.9}, {0.5, 0.9, 0, 0.7, true, 0.9}, {0.5, 0.9, 0.8, 0.8, true, 0.9}, {1.2, 0.9, 0.8, 0.8, true, 1.2}, {0.5, 0.6, 0.8, 0.8, true, 0.8}} {
		s := Species{Gravity: 0.5, HeartMoisture: tc.heart, SapMoisture: tc.sap, MeanMoisture: tc.mean}
		m, known := s.greenMoisture()
		require.InDelta(t, tc.green, m, 1e-12, "%+v", tc)
		require.Equal(t, tc.known, known, "%+v", tc)
		require.InDelta(t, tc.wettest, s.wettest(), 1e-12, "%+v", tc)
		require.InDelta(t, 500*(1+tc.green), s.GreenDensity(), 1e-9)
		p := Piece{HeartKnown: true, HeartShare: 0.25}
		likely := 0.25*tc.heart + 0.75*tc.sap
		switch {
		case tc.heart == 0 && tc.sap == 0:
			likely = tc.green
		case tc.heart == 0:
			likely = tc.sap
		case tc.sap == 0:
			likely = tc.heart
		}
		require.InDelta(t, likely, p.likelyMoisture(s), 1e-12, "%+v", tc)
		p = boxed()
		p.Species, p.HeartKnown, p.HeartShare = s, true, 0.5
		w := Weight{}
		p.densities(&w)
		said := fmt.Sprint(w.Notes)
		require.Equal(t, !tc.known, len(w.Notes) > 0 && w.Notes[0].String() == "no green moisture is published for this kind: taken as 100 %", "%+v", tc)
		one := tc.known && (tc.heart == 0 || tc.sap == 0)
		require.Equal(t, one, said == "[heart and sap moisture are not both published for this kind: one figure is used for both]", "%+v: %s", tc, said)
	}
}

// Bark by its share, gravity and water; the heaviest where any of it wasn't
// published, and full of water out of a pond.
func TestBarkWeighsItsShare(t *testing.T) {
	s := Species{Gravity: 0.5, BarkVolume: 0.12, BarkGravity: 0.6, BarkMoisture: 0.7}
	require.InDelta(t, 1000*0.12*0.6*1.7, s.barkDensity(), 1e-9)
	dry := s
	dry.BarkMoisture = 0
	require.InDelta(t, 1000*0.12*0.6*2, dry.barkDensity(), 1e-9)
	for _, unknown := range []Species{{}, {BarkVolume: 0.1}, {BarkGravity: 0.5}} {
		require.InDelta(t, 300, unknown.barkDensity(), 1e-9)
	}
	p := boxed()
	p.Species = s
	require.InDelta(t, 2*122.4, p.barkOn(2), 1e-9)
	p.Condition = Soaked
	require.InDelta(t, 2*0.12*soaked(0.6), p.barkOn(2), 1e-9)
	p.Species.BarkGravity = 0
	require.InDelta(t, 2*300, p.barkOn(2), 1e-9)
	p.Species, p.Fallback = Species{}, s
	require.InDelta(t, 2*300, p.barkOn(2), 1e-9, "a kind nobody knows has the heaviest bark")
	require.InDelta(t, 1.54, 1/(1-(soaked(1)-1000)/1000), 1e-9)
	require.InDelta(t, 1, SinkingMoisture(0.5), 1e-12)
	require.InDelta(t, 2-1/1.54, MaxMoisture(0.5), 1e-12)
	require.InDelta(t, 0.5, GravityAt(0.5, 0.3), 0)
	require.InDelta(t, 0.5/(1-0.265*0.5), GravityAt(0.5, 0), 1e-12)
	require.InDelta(t, 0.5/(1-0.265*0.5/2), GravityAt(0.5, 0.15), 1e-12)
}

// A landing by hand: a piece of 2 m set with its middle at 10 m lies from 9 m to
// 11 m; an inch of each end bears nothing.
func TestPieceBearsOnWhatLiesUnderIt(t *testing.T) {
	p := boxed() // balanced in its middle
	const in = 0.0254
	for name, tc := range map[string]struct {
		blocks []float64
		bears  []int
		over   [2]float64
		share  []float64
		said   string
	}{
		"none":                   {[]float64{3, 12}, nil, [2]float64{}, nil, "it lies on no headblock"},
		"no headblock":           {nil, nil, [2]float64{}, nil, "it lies on no headblock"},
		"two":                    {[]float64{9.5, 10.75}, []int{0, 1}, [2]float64{0.5, 0.25}, []float64{0.6, 0.4}, ""},
		"two, the other way":     {[]float64{10.75, 9.5}, []int{0, 1}, [2]float64{0.5, 0.25}, []float64{0.4, 0.6}, ""},
		"a third beside it":      {[]float64{12, 10.75, 9.5}, []int{1, 2}, [2]float64{0.5, 0.25}, []float64{0.4, 0.6}, ""},
		"three":                  {[]float64{10.1, 9.5, 10.75}, []int{0, 1, 2}, [2]float64{0.5, 0.25}, nil, ""},
		"at an inch of each end": {[]float64{9 + in + 1e-9, 11 - in - 1e-9}, []int{0, 1}, [2]float64{in, in}, []float64{0.5, 0.5}, ""},
		"nearer the small end":   {[]float64{9 + in - 1e-9, 10.5}, []int{1}, [2]float64{1.5, 0.5}, nil, "on one headblock only"},
		"nearer the large end":   {[]float64{9.5, 11 - in + 1e-9}, []int{0}, [2]float64{0.5, 1.5}, nil, "on one headblock only"},
		"both on one side":       {[]float64{9.2, 9.9}, []int{0, 1}, [2]float64{0.2, 1.1}, nil, "outside the headblocks"},
		"the other side":         {[]float64{10.2, 10.9}, []int{0, 1}, [2]float64{1.2, 0.1}, nil, "outside the headblocks"},
		"balanced on the edge":   {[]float64{9.2, 10}, []int{0, 1}, [2]float64{0.2, 1}, nil, "outside the headblocks"},
		"on the other edge":      {[]float64{10, 10.9}, []int{0, 1}, [2]float64{1, 0.1}, nil, "outside the headblocks"},
	} {
		l, err := Land(p, tc.blocks, 10)
		require.NoError(t, err, name)
		require.Equal(t, tc.bears, l.Bears, name)
		require.InDelta(t, 1, float64(l.HalfLength), 1e-12)
		for i, over := range l.Overhang {
			require.InDelta(t, tc.over[i], float64(over), 1e-8, name)
		}
		require.Equal(t, tc.said == "", l.Rests, name)
		require.Contains(t, l.Said.String(), tc.said, name)
		require.Len(t, l.Share, len(tc.share), name)
		for i := range tc.share {
			require.InDelta(t, tc.share[i], l.Share[i], 1e-9, name)
		}
	}
	for at, ok := range map[float64]bool{100: true, -100: true, 100.1: false, -100.1: false, math.NaN(): false} {
		_, err := Land(p, []float64{1, 2}, at)
		require.Equal(t, ok, err == nil, at)
		_, err = Land(p, []float64{1, at}, 0)
		require.Equal(t, ok, err == nil, at)
	}
	_, err := Land(p, []float64{500, 501}, 0)
	require.EqualError(t, err, "headblocks: positions along the track of at most 100.000 m", "said once")
	p.Length = 0
	_, err = Land(p, nil, 0)
	require.ErrorContains(t, err, "length")
}

// A piece that can't be weighed weighs nothing, whatever stood there before.
func TestPieceThatCanNotBeWeighedWeighsNothing(t *testing.T) {
	p := boxed()
	p.Length = 0
	w := Weight{Volume: 1, Expected: 2, Upper: 3, Parts: make([]Part, 1), Notes: make([]plain.Sentence, 1)}
	found, err := p.weighInto(&w)
	require.Error(t, err)
	require.Equal(t, solid{}, found)
	require.Empty(t, w.Parts)
	require.Empty(t, w.Notes)
	require.Zero(t, float64(w.Volume)*float64(w.Volume)+float64(w.Expected)*float64(w.Expected)+float64(w.Upper)*float64(w.Upper))
	weight, err := Weigh(p)
	require.Error(t, err)
	require.Equal(t, Weight{}, weight)
	// Bark so thick that nothing of the wood is left under it.
	p = logged()
	p.Large, p.Shape, p.Slabs, p.OverBark, p.Species.BarkVolume = 0.3, Slabbed, [4]float64{0.28}, true, 0.6
	_, err = Weigh(p)
	require.EqualError(t, err, "slab-1: less; nothing is left of the wood under the bark")
	// The parts of a weight, each with its figure: half a step of the ruler, gravity,
	// moisture, a fifth over, full of water, bark and the film of water.
	p = boxed()
	p.Species, p.Bark, p.Weather.Wet = plainKind, true, true
	p.Species.BarkVolume, p.Species.BarkGravity, p.Species.BarkMoisture = 0.1, 0.5, 0.5
	weight, err = Weigh(p)
	require.NoError(t, err)
	step := 0.125 * 0.0254
	most := (0.3 + step) * (0.2 + step) * (2 + 0.0127)
	dense, wet := 500*upperGravity, 1000*0.25*upperGravity*2.2
	for i, want := range []struct {
		said string
		kg   float64
	}{
		{"each dimension may be half a step of the ruler more than was read", (most-0.12)*500 + (most-0.12)*75},
		{"one piece in twenty is denser than this", most * (dense - 500)},
		{"the wood may be wetter than the mean", most * (wet - dense)},
		{"the film of water on it grows with the wood", 0.02 * (most*wet - 0.12*500)},
	} {
		require.Equal(t, want.said, weight.Parts[i].Said.String())
		require.InDelta(t, want.kg, float64(weight.Parts[i].Mass), 1e-9, want.said)
	}
	require.Len(t, weight.Parts, 4)
	require.InDelta(t, 0.12*500*1.02+0.12*75, float64(weight.Expected), 1e-9)
	require.InDelta(t, most*wet*1.02+most*75, float64(weight.Upper), 1e-9)
	require.InDelta(t, 0.12*1.1, float64(weight.Volume), 1e-12)
	require.Equal(t, []plain.Sentence{plain.Say("bark is counted on the whole piece, also where slabs took it off")}, weight.Notes)
	p = boxed()
	p.Density = 660
	weight, err = Weigh(p)
	require.NoError(t, err)
	require.Equal(t, "counted no lighter than the published mean of such wood", weight.Parts[len(weight.Parts)-1].Said.String())
	p = boxed()
	p.Learned = Learned{Kind: p.Species.Scientific, Condition: Green, N: 1, Mean: 1.2, Shrunk: 1.04, Bound: 1.5, Heaviest: 1.2}
	weight, err = Weigh(p)
	require.NoError(t, err)
	require.Equal(t, "this mill's own readings of the scale", weight.Parts[len(weight.Parts)-1].Said.String())
}
