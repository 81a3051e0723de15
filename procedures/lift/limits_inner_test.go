package lift

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// boxed is a piece in which nothing is amiss.
func boxed() Piece {
	oak, _ := FindSpecies("northern red oak")
	return Piece{Shape: Squared, Length: 2, Width: 0.3, Height: 0.2, Species: oak, Condition: Green}
}

func logged() Piece {
	p := boxed()
	p.Shape, p.Small, p.Large, p.Width, p.Height = Round, 0.3, 0.35, 0, 0
	return p
}

func measured() Piece {
	p := boxed()
	p.Shape, p.Volume, p.Width, p.Height = Measured, 0.2, 0, 0
	return p
}

// limit is a range of one number: both ends of it are allowed, the next number past
// them is not; least -1 is above nought.
type limit struct {
	field       string
	least, most float64
	said        string
}

const aboveNought = -1

// holds tries the ends of the range and a hair past them.
func (l limit) holds(t *testing.T, refuses func(x float64) *plain.Sentence) {
	tiny := 1e-9
	for x, ok := range map[float64]bool{l.most: true, l.most * (1 + 1e-12): false, l.most + 0.5: false, math.NaN(): false, math.Inf(1): false, -tiny: l.least < -tiny && l.least != aboveNought} {
		said := refuses(x)
		require.Equal(t, ok, said == nil, "%s of %v: %v", l.field, x, said)
		if said != nil && x > l.most {
			require.Equal(t, l.said, said.String(), l.field)
		}
	}
	if l.least == aboveNought {
		require.NotNil(t, refuses(0), l.field)
		require.Nil(t, refuses(tiny), l.field)
		return
	}
	require.Nil(t, refuses(l.least), l.field)
	require.NotNil(t, refuses(l.least-tiny), l.field)
}

// The limits of what may be typed, each in the sentence that refuses what is past
// it. They are our own choice, save where the rule says otherwise.
func TestEachNumberOfAPieceIsAllowedToItsLimit(t *testing.T) {
	most := func(x string) string { return "more than 0, at most " + x }
	upTo := func(x string) string { return "at most " + x + ", or left empty" }
	for _, one := range []struct {
		limit
		of   func() Piece
		take func(p *Piece, x float64)
	}{
		{limit{"length", aboveNought, 6, most("6.000 m")}, boxed, func(p *Piece, x float64) { p.Length = x }},
		{limit{"width", aboveNought, 1.5, most("1.500 m")}, boxed, func(p *Piece, x float64) { p.Width = x }},
		{limit{"height", aboveNought, 1.5, most("1.500 m")}, boxed, func(p *Piece, x float64) { p.Height = x }},
		{limit{"large", aboveNought, 1.5, most("1.500 m")}, logged, func(p *Piece, x float64) { p.Large, p.Small = x, math.Min(x, 0.3) }},
		{limit{"small", aboveNought, 1.5, most("1.500 m")}, logged, func(p *Piece, x float64) { p.Small, p.Large = x, 1.5 }},
		{limit{"large", aboveNought, 1.5, "more than 0, at most 4.712 m round"}, logged, func(p *Piece, x float64) { p.Girths, p.Large, p.Small = true, x, math.Min(x, 0.3) }},
		{limit{"middle", aboveNought, 1.5, most("1.500 m")}, logged, func(p *Piece, x float64) {
			if p.Middle = x; x == 0 {
				p.Middle = -1 // nothing measured is no problem
			}
		}},
		{limit{"volume", aboveNought, 11, "more than 0, at most 11.0000 m³"}, measured, func(p *Piece, x float64) { p.Volume = x }},
		{limit{"thick", 0, 1.5, upTo("1.500 m")}, measured, func(p *Piece, x float64) { p.Large = x }},
		{limit{"extra", 0, 5000, "0 to 5000.0 kg of snow, ice, water or mud"}, boxed, func(p *Piece, x float64) { p.Extra = x }},
		{limit{"balance", 0, 2, "between the ends of the piece, or left empty"}, boxed, func(p *Piece, x float64) { p.Balance = x }},
		{limit{"reading-section", 0, 0.1, upTo("0.100 m")}, boxed, func(p *Piece, x float64) { p.Reading.Section = x }},
		{limit{"reading-length", 0, 0.5, upTo("0.500 m")}, boxed, func(p *Piece, x float64) { p.Reading.Length = x }},
		{limit{"heart-share", 0, 1, "0 to 100 %, or left empty"}, boxed, func(p *Piece, x float64) { p.HeartKnown, p.HeartShare = true, x }},
		{limit{"ice", 0, 0.15, upTo("0.150 m")}, boxed, func(p *Piece, x float64) { p.Weather.Ice = x }},
		{limit{"snow", 0, 1, upTo("1.000 m")}, boxed, func(p *Piece, x float64) { p.Weather.Snow = x }},
		{limit{"ice-area", 0, 40, "0 to 40 m² (430 ft²), or left empty"}, boxed, func(p *Piece, x float64) { p.Weather.IceArea = x }},
		{limit{"snow-area", 0, 40, "0 to 40 m² (430 ft²), or left empty"}, boxed, func(p *Piece, x float64) { p.Weather.SnowArea = x }},
	} {
		one.holds(t, func(x float64) *plain.Sentence {
			p := one.of()
			one.take(&p, x)
			problems, _ := p.Validate().(plain.Problems)
			return problems.For(one.field)
		})
	}
}

// A density is between the lightest and the heaviest wood, a moisture between bone
// dry and three times the wood, both ends of it allowed.
func TestDensityAndMoistureHaveTwoEnds(t *testing.T) {
	p := boxed()
	p.Species = Species{}
	for density, ok := range map[float64]bool{0: true, 199.9: false, 200: true, 1500: true, 1500.1: false, -1: false} {
		p.Density = density
		require.Equal(t, ok, p.Validate() == nil, density)
		if !ok {
			require.EqualError(t, p.Validate(), "density: 200 kg/m³ to 1500 kg/m³, or left empty")
		}
	}
	p = boxed()
	p.Density = p.Species.Density(0)
	require.NoError(t, p.Validate())
	p.Density = math.Nextafter(p.Density, 0)
	require.ErrorContains(t, p.Validate(), "bone dry")
	p = boxed()
	p.Condition = MeasuredMoisture
	p.Species = Species{Gravity: 0.2} // holds 435 %, so that 300 % is the limit
	for moisture, ok := range map[float64]bool{0.039: false, 0.04: true, 3: true, 3.001: false} {
		p.Moisture = moisture
		require.Equal(t, ok, p.Validate() == nil, moisture)
		if !ok {
			require.EqualError(t, p.Validate(), "moisture: 4 % to 300 %, as percent: 80 for eighty percent")
		}
	}
	p.Species = Species{Gravity: 0.7}
	p.Moisture = MaxMoisture(0.7)
	require.NoError(t, p.Validate())
	p.Moisture = math.Nextafter(p.Moisture, 1)
	require.ErrorContains(t, p.Validate(), "all the water this wood can hold")
}

// Every figure of a kind lies between what wood can be; both ends are allowed.
func TestKindIsKnownByFiguresThatWoodCanHave(t *testing.T) {
	good := Species{Gravity: 0.5}
	require.True(t, good.known())
	require.False(t, Species{}.known())
	for name, one := range map[string]struct {
		least, most float64
		take        func(s *Species, x float64)
	}{
		"gravity":        {0.1, 1.2, func(s *Species, x float64) { s.Gravity = x }},
		"heart":          {0, 4, func(s *Species, x float64) { s.HeartMoisture = x }},
		"sap":            {0, 4, func(s *Species, x float64) { s.SapMoisture = x }},
		"mean":           {0, 4, func(s *Species, x float64) { s.MeanMoisture = x }},
		"bark":           {0, 0.6, func(s *Species, x float64) { s.BarkVolume = x }},
		"bark's gravity": {0, 1.2, func(s *Species, x float64) { s.BarkGravity = x }},
		"bark's water":   {0, 4, func(s *Species, x float64) { s.BarkMoisture = x }},
		"shrinkage":      {0, 0.4, func(s *Species, x float64) { s.Shrinkage = x }},
	} {
		for x, known := range map[float64]bool{one.least: true, one.most: true, one.least - 1e-9: false, one.most + 1e-9: false, math.NaN(): false} {
			s := good
			one.take(&s, x)
			require.Equal(t, known, s.known(), "%s %v", name, x)
			p := boxed()
			p.Species, p.Fallback = s, s
			require.Equal(t, known, p.Validate() == nil, "%s %v: %v", name, x, p.Validate())
		}
	}
}

// The slabs of a cant: at least one face, none deeper than the small end is thick,
// and wood left between opposite ones.
func TestSlabsLeaveWoodBetweenThem(t *testing.T) {
	for _, tc := range []struct {
		slabs [4]float64
		field string
	}{
		{[4]float64{0.05}, ""}, {[4]float64{0, 0.05}, ""}, {[4]float64{0, 0, 0.05}, ""}, {[4]float64{0, 0, 0, 0.05}, ""},
		{[4]float64{}, "slab-1"}, {[4]float64{-0.01, 0.05}, "slab-1"}, {[4]float64{0.05, 0.3}, "slab-2"}, {[4]float64{0.05, 0, 0.3}, "slab-3"}, {[4]float64{0.05, 0, 0, -1}, "slab-4"},
		{[4]float64{0.15, 0.15}, "slab-2"}, {[4]float64{0.15, 0.149}, ""}, {[4]float64{0.05, 0, 0.15, 0.15}, "slab-4"}, {[4]float64{0.05, 0, 0.15, 0.149}, ""},
		{[4]float64{0.29, 0, 0.29}, "slab-1"}, {[4]float64{math.NaN()}, "slab-1"},
	} {
		p := logged()
		p.Shape, p.Slabs = Slabbed, tc.slabs
		problems, _ := p.Validate().(plain.Problems)
		if tc.field == "" {
			require.Empty(t, problems, "%v", tc.slabs)
			continue
		}
		require.NotEmpty(t, problems, "%v", tc.slabs)
		require.Equal(t, tc.field, problems[0].Field, "%v", tc.slabs)
	}
	p := logged()
	p.Shape, p.Slabs, p.Middle = Slabbed, [4]float64{0.05}, 0.3
	require.ErrorContains(t, p.Validate(), "left empty for a cant")
	p = logged()
	p.Small, p.Large = 0.35, 0.35
	require.NoError(t, p.Validate())
	p.Small = 0.351
	require.EqualError(t, p.Validate(), "small: no more than the large end; change the two round")
	p.Small, p.Large, p.Middle = 0, 0, 0.3
	require.NoError(t, p.Validate())
	p.Middle = 1.6
	require.ErrorContains(t, p.Validate(), "middle")
}

func TestEachNumberOfARigIsAllowedToItsLimit(t *testing.T) {
	upTo := func(x string) string { return "at most " + x + ", or left empty" }
	six := upTo("6.000 m")
	for _, one := range []struct {
		limit
		take func(r *Rig, x float64)
	}{
		{limit{"yoke-width", 0, 6, six}, func(r *Rig, x float64) { r.YokeWidth = x }},
		{limit{"leg-length", 0, 6, six}, func(r *Rig, x float64) { r.LegLength = x }},
		{limit{"second-leg", 0, 6, six}, func(r *Rig, x float64) { r.SecondLeg = x }},
		{limit{"headroom", 0, 30, upTo("30.000 m")}, func(r *Rig, x float64) { r.Headroom = x }},
		{limit{"hook-to-yoke", 0, 6, six}, func(r *Rig, x float64) { r.HookToYoke = x }},
		{limit{"clearance", 0, 6, six}, func(r *Rig, x float64) { r.Clearance = x }},
		{limit{"setting-2-yoke-width", 0, 6, six}, func(r *Rig, x float64) { r.Settings[1].YokeWidth = x }},
		{limit{"setting-1-leg-length", 0, 6, six}, func(r *Rig, x float64) { r.Settings[0].LegLength = x }},
		{limit{"setting-1-second-leg", 0, 6, six}, func(r *Rig, x float64) { r.Settings[0].SecondLeg = x }},
		{limit{"house-floor", 0, 85, "at most 85°, or left empty"}, func(r *Rig, x float64) { r.HouseFloor = x }},
		{limit{"house-margin", 0, 1, "0 to 100 %, or left empty"}, func(r *Rig, x float64) { r.HouseMargin = x }},
		{limit{"floor-angle", 30, 85, "30° to 85°, or left empty"}, func(r *Rig, x float64) { r.FloorAngle = x }},
		{limit{"band-low", 0, 90, "0° to 90°"}, func(r *Rig, x float64) { r.EndHookBand.Low, r.EndHookBand.High = x, 90 }},
		{limit{"band-high", 40, 90, "no less than the low angle, at most 90°"}, func(r *Rig, x float64) { r.EndHookBand.Low, r.EndHookBand.High = 40, x }},
		{limit{"link-2-rated-load", 0, 1e5, upTo("100000.0 kg")}, func(r *Rig, x float64) { r.Links[1].RatedLoad = x }},
		{limit{"link-1-choker-load", 0, 1e5, upTo("100000.0 kg")}, func(r *Rig, x float64) { r.Links[0].ChokerLoad = x }},
		{limit{"link-7-own-mass", 0, 1e4, upTo("10000.0 kg")}, func(r *Rig, x float64) { r.Links[6].OwnMass = x }},
	} {
		one.holds(t, func(x float64) *plain.Sentence {
			r := StarterRig()
			r.Settings = make([]Setting, 2)
			one.take(&r, x)
			problems, _ := r.Validate().(plain.Problems)
			return problems.For(one.field)
		})
	}
	r := StarterRig()
	r.Links = slices.Repeat(r.Links[:1], 24)
	require.NoError(t, r.Validate())
	r.Links = append(r.Links, r.Links[0])
	require.EqualError(t, r.Validate(), "links: at most 24 links")
	r = StarterRig()
	r.Settings = make([]Setting, 51)
	require.EqualError(t, r.Validate(), "settings: at most 50 settings")
}
