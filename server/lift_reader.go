package server

import (
	"math"
	"strconv"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// Below these a bare number is more likely meant in a larger unit, and a piece
// weighed as eight inches long that is eight feet long would be a GO.
const (
	leastLength  = 0.6   // m
	leastSection = 0.05  // m
	leastSnow    = 0.05  // m
	leastIce     = 0.003 // m
)

// reader turns typed text into quantities and collects what can't be read. A
// bare number is taken in the mill's unit, each unit's size in SI beside it.
type reader struct {
	measures
	length, weight                lift.Unit
	lengthSize, weightSize, cubic float64
	square                        float64
	problems                      plain.Problems
}

func newReader(in measures) *reader {
	if in.units == checklists.InchPound {
		return &reader{measures: in, length: lift.Inches, weight: lift.Pounds, lengthSize: float64(plain.Inch), weightSize: float64(plain.Pound),
			cubic: float64(plain.Foot * plain.Foot * plain.Foot), square: float64(plain.Foot * plain.Foot)}
	}
	return &reader{measures: in, length: lift.Millimetres, weight: lift.Kilograms, lengthSize: 0.001, weightSize: 1, cubic: 1, square: 1}
}

// point is text with a decimal point; what can't be read so is noted, and it
// stays as it is.
func (r *reader) point(field, text string) (string, bool) {
	read, err := plain.WithPoint(text, r.comma)
	r.problems.Add(field, err)
	return read, err == nil
}

// twoWays notes what [lift.TwoWays] says of text, and tells whether it said anything.
func (r *reader) twoWays(field, text string, x, most float64) bool {
	err := lift.TwoWays(text, x, most)
	r.problems.Add(field, err)
	return err != nil
}

// filled is x as it is filled in, in units of size: with a nought more where twoWays
// would ask else.
func (m measures) filled(x, size, most float64) string {
	text := m.typed(x / size)
	if lift.TwoWays(text, x, most) != nil {
		text += "0"
	}
	return text
}

// size is a length that must be there; a bare number below least is asked for
// its unit.
func (r *reader) size(field, typed string, least float64) float64 {
	text, ok := r.point(field, typed)
	if !ok {
		return 0
	}
	m, err := lift.ParseLength(text, r.length)
	if err != nil {
		r.problems.Add(field, err)
		return 0
	}
	if r.twoWays(field, typed, float64(m), lift.LongestMeant) {
		return 0
	}
	if _, bare := lift.ParseLength(text, lift.NoUnit); bare != nil && float64(m) < least {
		r.problems.Unless(false, field, "the unit as well: as a bare number it would be only %s", m)
	}
	return float64(m)
}

// girth is the diameter of what a tape was laid round.
func (r *reader) girth(field, text string, least float64) float64 {
	return lift.DiameterOfGirth(r.size(field, text, least))
}

// layer is the thickness of what lies on the piece, 0 for nothing.
func (r *reader) layer(field, text string, least float64) float64 {
	bare, ok := r.point(field, text)
	if m, err := lift.ParseLength(bare, r.length); !ok || text == "" || err == nil && m == 0 {
		return 0
	}
	return r.size(field, text, least)
}

func (r *reader) optional(field, typed string) float64 {
	text, ok := r.point(field, typed)
	if text == "" || !ok {
		return 0
	}
	m, err := lift.ParseLength(text, r.length)
	r.problems.Add(field, err)
	if err != nil || r.twoWays(field, typed, float64(m), lift.LongestMeant) {
		return 0
	}
	return float64(m)
}

// mass is a weight or a capacity, 0 where nothing was typed. Any may be a thousand
// times what it seems: a yoke of 1,200 lb taken for 1.2 lb makes a NO-GO a GO, and
// nothing else shows it.
func (r *reader) mass(field, typed string) float64 {
	text, ok := r.point(field, typed)
	if text == "" || !ok {
		return 0
	}
	kg, err := lift.ParseMass(text, r.weight)
	r.problems.Add(field, err)
	if err != nil || r.twoWays(field, typed, float64(kg), math.Inf(1)) {
		return 0
	}
	return float64(kg)
}

// volume is that of a piece so long. A bare number is taken in the mill's unit,
// and asked for it where the piece would be thinner than any that is lifted.
func (r *reader) volume(field, typed string, length float64) float64 {
	text, ok := r.point(field, typed)
	if !ok {
		return 0
	}
	v, err := lift.ParseVolume(text, r.length)
	if err != nil {
		r.problems.Add(field, err)
		return 0
	}
	if r.twoWays(field, typed, float64(v), lift.BulkiestMeant) {
		return 0
	}
	if _, bare := lift.ParseVolume(text, lift.NoUnit); bare != nil && float64(v) < length*leastSection*leastSection {
		r.problems.Unless(false, field, "the unit as well: as a bare number it would be only %s", v)
	}
	return float64(v)
}

// area takes a bare number in the mill's unit.
func (r *reader) area(field, text string) float64 {
	return r.decimal(field, text, "a number in the unit beside it") * r.square
}

// percent takes a number of percent with or without its sign.
func (r *reader) percent(field, text string) float64 {
	return r.decimal(field, strings.TrimRight(strings.TrimSuffix(text, "%"), " "), "a number of percent, as 25") / 100
}

// density is what was weighed, 0 where nothing was.
func (r *reader) density(field, typed string) float64 {
	text, ok := r.point(field, typed)
	if text == "" || !ok {
		return 0
	}
	d, err := lift.ParseDensity(text, r.weight)
	r.problems.Add(field, err)
	r.problems.Unless(err != nil || d > 0, field, "more than 0, or left empty")
	if err != nil || r.twoWays(field, typed, float64(d), lift.DensestMeant) {
		return 0
	}
	return float64(d)
}

// decimal takes digits and one mark and nothing else: no sign, exponent or word.
func (r *reader) decimal(field, text, want string) float64 {
	text, ok := r.point(field, text)
	if !ok {
		return 0
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || len(text) > 16 || strings.Trim(text, "0123456789.") != "" {
		r.problems = append(r.problems, plain.Problem{Field: field, Want: plain.Say(want)})
		return 0
	}
	return x
}

func (r *reader) species(field, text string) lift.Species {
	if text == unknownSpecies {
		return lift.Species{}
	}
	s, ok := lift.FindSpecies(text)
	r.problems.Unless(ok && text != "", field, "choose the kind of wood, or that nobody knows")
	return s
}

// take adds what the rules want of fields that could be read.
func (r *reader) take(err error) {
	found, err := problemsOf(err)
	r.problems.Add("", err)
	for _, one := range found {
		if r.problems.For(one.Field) == nil {
			r.problems = append(r.problems, one)
		}
	}
}
