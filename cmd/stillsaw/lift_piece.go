package main

import (
	"math"
	"strconv"
	"strings"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// piece reads the flags of the shape that was chosen and refuses those of another.
func (f *liftFlags) piece(bad *plain.Problems) lift.Piece {
	shape, err := lift.ParseShape(f.shape)
	if err != nil || shape == lift.ShapeUnknown || shape == lift.Measured {
		bad.Unless(false, "shape", "round, cant or squared")
		shape = lift.ShapeUnknown
	}
	p := lift.Piece{Shape: shape, OverBark: f.overBark}
	size := func(flag, text string, wanted bool) float64 {
		switch {
		case text == "" && wanted:
			bad.Unless(false, flag, `a length with its unit, like 8ft, "17 3/8in" or 2.4m`)
		case text != "" && !wanted:
			bad.Unless(false, flag, "left out for this shape")
		case text != "":
			return length(bad, flag, text)
		}
		return 0
	}
	log := shape == lift.Round || shape == lift.Slabbed
	p.Length = size("length", f.length, true)
	if shape != lift.ShapeUnknown {
		alone := shape == lift.Round && f.middle != "" && f.small == "" && f.large == ""
		across := func(flag, text string, wanted bool) float64 {
			m := size(flag, text, wanted)
			if f.girth {
				return lift.DiameterOfGirth(m)
			}
			return m
		}
		bad.Unless(log || !f.girth, "girth", "left out for this shape")
		p.Girths = f.girth && log
		if !alone {
			p.Small, p.Large = across("small", f.small, log), across("large", f.large, log)
		}
		if f.middle != "" {
			p.Middle = across("middle", f.middle, shape == lift.Round)
			bad.Unless(p.Middle > 0 || bad.For("middle") != nil, "middle", "more than 0, or left out")
		}
		p.Width, p.Height = size("width", f.width, !log), size("height", f.height, !log)
		bad.Unless((f.slab != "") == (shape == lift.Slabbed), "slab", "the depth sawn off each face of a cant, as 3in,2in,0,0, and of nothing else")
	}
	if f.slab != "" {
		p.Slabs = slabs(bad, f.slab)
	}
	f.wood(&p, bad)
	f.weather(&p, bad)
	return p
}

func slabs(bad *plain.Problems, text string) (depths [4]float64) {
	each := strings.Split(text, ",")
	if len(each) > len(depths) {
		bad.Unless(false, "slab", "four faces at the most")
		return depths
	}
	for i, one := range each {
		if one = strings.TrimSpace(one); one == "0" {
			continue
		}
		depths[i] = length(bad, "slab", one)
	}
	return depths
}

// length reads a length that carries its unit and reads one way only, 0 where it
// doesn't.
func length(bad *plain.Problems, flag, text string) float64 {
	m, err := lift.ParseLength(text, lift.NoUnit)
	return oneWay(bad, flag, text, float64(m), lift.LongestMeant, err)
}

// oneWay is x as it was read, 0 where err or [lift.TwoWays] speaks against it.
func oneWay(bad *plain.Problems, flag, text string, x, most float64, err error) float64 {
	if err == nil {
		err = lift.TwoWays(text, x, most)
	}
	bad.At(flag, err)
	if err != nil {
		return 0
	}
	return x
}

// sawn are the kinds of the mill's own list.
func (f *liftFlags) sawn(bad *plain.Problems) (kinds []lift.Species) {
	if f.kinds == "" {
		return nil
	}
	for name := range strings.SplitSeq(f.kinds, ",") {
		kind, known := lift.FindSpecies(name)
		bad.Unless(known, "kinds", "kinds of the table, by their common or scientific names, not %q", name)
		kinds = append(kinds, kind)
	}
	return kinds
}

func (f *liftFlags) wood(p *lift.Piece, bad *plain.Problems) {
	if f.species != "" {
		known := false
		p.Species, known = lift.FindSpecies(f.species)
		bad.Unless(known, "species", "a kind of the table, by its common or scientific name, not %q", f.species)
	}
	if strings.HasSuffix(strings.TrimSpace(f.state), "%") {
		p.Condition, p.Moisture = lift.MeasuredMoisture, percent(bad, "state", f.state, 300, "a moisture from 0% to 300%, like 12%")
	} else {
		condition, err := lift.ParseCondition(f.state)
		bad.Unless(err == nil && condition != lift.ConditionUnknown && condition != lift.MeasuredMoisture, "state", "green, part-dry, air-dry, soaked, or a moisture like 12%")
		p.Condition = condition
	}
	if f.heart != "" {
		p.HeartKnown, p.HeartShare = true, percent(bad, "heart", f.heart, 100, "a share from 0% to 100%, like 40%")
	}
	if f.density != "" {
		d, err := lift.ParseDensity(f.density, lift.NoUnit)
		bad.Unless(err != nil || d > 0, "density", "more than 0, or left out")
		p.Density = oneWay(bad, "density", f.density, float64(d), lift.DensestMeant, err)
	}
	switch {
	case p.Shape == lift.Squared:
		bad.Unless(f.bark == "" && !f.overBark, "bark", "left out for a squared piece, which has none")
	case f.bark == "on", f.bark == "":
		p.Bark = true
	default:
		bad.Unless(f.bark == "off", "bark", "on or off")
		bad.Unless(!f.overBark, "over-bark", "left out where the bark is off")
	}
}

// percent reads a share that carries its sign, as every quantity its unit.
func percent(bad *plain.Problems, flag, text string, most float64, want string) float64 {
	digits, signed := strings.CutSuffix(strings.TrimSpace(text), "%")
	number, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
	if !signed || err != nil || !(number >= 0 && number <= most) {
		bad.At(flag, plain.Problems{{Want: plain.Say(want)}})
		return 0
	}
	return number / 100
}

// weather reads what lies on the piece.
func (f *liftFlags) weather(p *lift.Piece, bad *plain.Problems) {
	layer := func(flag, text string) float64 {
		if text == "" {
			return 0
		}
		return length(bad, flag, text)
	}
	p.Weather = lift.Weather{Ice: layer("ice", f.ice), Snow: layer("snow", f.snow), Wet: f.wet}
	if f.snowKind != "" {
		kind, err := lift.ParseSnow(f.snowKind)
		bad.Unless(err == nil && kind != lift.SnowUnknown, "snow-kind", "fresh, settled or late")
		bad.Unless(f.snow != "", "snow-kind", "left out where there is no snow")
		p.Weather.SnowKind = kind
	}
	if f.extra != "" {
		kg, err := lift.ParseMass(f.extra, lift.NoUnit)
		p.Extra = oneWay(bad, "extra", f.extra, float64(kg), math.Inf(1), err)
	}
}
