package server

import (
	"math"
	"net/url"
	"strconv"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// liftForm is what was typed about one lift, as it was typed.
type liftForm struct {
	Submission, Rig, RigVersion, Hoist, Lands string
	Shape, Length, Small, Large               string
	Slabs                                     [4]string
	Width, Height, Volume                     string
	BarkOff, OverBark                         bool
	Species, Condition, Moisture              string
	Extra, Balance, Span, Placing             string
	Unreadable                                []bool   // a link of the rig each
	Answers                                   []string // a question of the rig each
	Signer                                    string
}

// unknownSpecies is the choice of somebody who can't tell the kind of wood.
const unknownSpecies = "unknown"

// typedLift reads the form through get, which knows fields by their names.
func typedLift(get func(string) string, rig *lift.Rig) liftForm {
	f := liftForm{Submission: get("submission"), Rig: get("rig"), RigVersion: get("rig-version"), Hoist: get("hoist"), Lands: get("lands"),
		Shape: get("shape"), Length: get("length"), Small: get("small"), Large: get("large"),
		Width: get("width"), Height: get("height"), Volume: get("volume"), BarkOff: get("bark-off") == "yes", OverBark: get("over-bark") == "yes",
		Species: get("species"), Condition: get("condition"), Moisture: get("moisture"),
		Extra: get("extra"), Balance: get("balance"), Span: get("span"), Placing: get("placing"), Signer: get("signer")}
	for i := range f.Slabs {
		f.Slabs[i] = get("slab-" + strconv.Itoa(i+1))
	}
	for i := range rig.Links {
		f.Unreadable = append(f.Unreadable, get(unreadable(&rig.Links[i], i)) == "yes")
	}
	for _, q := range rig.Asks() {
		f.Answers = append(f.Answers, get(q.Field))
	}
	return f
}

// unreadable is the field of the tick that a link's tag can't be read.
func unreadable(l *lift.Link, place int) string {
	if l.ID == "" {
		return "unreadable-" + strconv.Itoa(place+1)
	}
	return "unreadable-" + l.ID
}

// again is the address of a fresh form with the same piece and rig. The
// questions and the tags are looked at anew for every lift.
func again(rig string, lands procedures.EquipmentID, l *lift.Lift, units checklists.Units) string {
	p := &l.Piece
	query := url.Values{"rig": {rig}, "lands": {string(lands)}, "shape": {p.Shape.String()}, "condition": {p.Condition.String()}, "species": {p.Species.Common}}
	if p.Species == (lift.Species{}) {
		query.Set("species", unknownSpecies)
	}
	if l.Placing != lift.PlacingUnknown {
		query.Set("placing", l.Placing.String())
	}
	if !p.Bark && p.Shape != lift.Squared {
		query.Set("bark-off", "yes")
	}
	if p.OverBark {
		query.Set("over-bark", "yes")
	}
	r := newReader(units)
	typed := func(field string, x, size float64, unit string) {
		if x > 0 {
			query.Set(field, strings.TrimSpace(typedNumber(x/size)+" "+unit))
		}
	}
	inch := func(field string, x float64) { typed(field, x, r.lengthSize, r.length.String()) }
	inch("length", p.Length)
	inch("small", p.Small)
	inch("large", p.Large)
	inch("width", p.Width)
	inch("height", p.Height)
	inch("balance", p.Balance)
	inch("span", l.Span)
	for i, depth := range p.Slabs {
		inch("slab-"+strconv.Itoa(i+1), depth)
	}
	typed("volume", p.Volume, r.cubic, "")
	typed("moisture", p.Moisture, 0.01, "")
	typed("extra", p.Extra, r.weightSize, r.weight.String())
	return "/lifts/new?" + query.Encode()
}

// typedNumber is x as a person would type it, to a ten-thousandth.
func typedNumber(x float64) string {
	return strconv.FormatFloat(math.Round(x*1e4)/1e4, 'f', -1, 64)
}

// lift turns the form into what the rules judge. Only fields of the chosen
// shape are read; the rest may hold what was typed before it was chosen.
func (f *liftForm) lift(rig lift.Rig, units checklists.Units) (lift.Lift, plain.Problems) {
	r := newReader(units)
	p := lift.Piece{OverBark: f.OverBark && !f.BarkOff, Bark: !f.BarkOff}
	shape, err := lift.ParseShape(f.Shape)
	r.problems.Unless(err == nil && shape != lift.ShapeUnknown, "shape", "choose what it is")
	p.Shape = shape
	p.Length = r.size("length", f.Length, leastLength)
	switch shape {
	case lift.Round, lift.Slabbed:
		p.Small = r.size("small", f.Small, leastSection)
		p.Large = r.size("large", f.Large, leastSection)
		for i := range f.Slabs {
			if shape == lift.Slabbed {
				p.Slabs[i] = r.optional("slab-"+strconv.Itoa(i+1), f.Slabs[i])
			}
		}
	case lift.Squared:
		p.Bark, p.OverBark = false, false
		p.Width = r.size("width", f.Width, leastSection)
		p.Height = r.size("height", f.Height, leastSection)
	case lift.Measured:
		p.OverBark = false
		p.Volume = r.volume("volume", f.Volume)
	}
	p.Species = r.species("species", f.Species)
	condition, err := lift.ParseCondition(f.Condition)
	r.problems.Unless(err == nil && condition != lift.ConditionUnknown, "condition", "choose how wet it is")
	p.Condition = condition
	if condition == lift.MeasuredMoisture {
		p.Moisture = r.decimal("moisture", f.Moisture, "a number of percent, as 25") / 100
	}
	p.Extra = r.mass("extra", f.Extra)
	p.Balance = r.optional("balance", f.Balance)
	r.take(p.Validate())

	l := lift.Lift{Piece: p, Rig: rig}
	if f.Span != "" {
		l.Span = r.size("span", f.Span, leastLength)
	}
	if f.Placing != "" {
		l.Placing, err = lift.ParsePlacing(f.Placing)
		r.problems.Unless(err == nil, "placing", "choose where the hook points sit")
	}
	l.Rig.Links = append([]lift.Link(nil), rig.Links...)
	for i := range l.Rig.Links {
		if i < len(f.Unreadable) && f.Unreadable[i] {
			l.Rig.Links[i].TagReadable = false
		}
	}
	for i, q := range rig.Asks() {
		answer, err := lift.ParseAnswer(f.Answers[i])
		r.problems.Unless(err == nil, q.Field, "yes or no")
		*l.Questions.At(q.Field) = answer
	}
	return l, r.problems
}

// Below these a bare number is more likely meant in a larger unit, and a piece
// weighed as eight inches long that is eight feet long would be a GO.
const (
	leastLength  = 0.6  // m
	leastSection = 0.05 // m
)

// reader turns typed text into quantities and collects what can't be read. A
// bare number is taken in the mill's unit, each unit's size in SI beside it.
type reader struct {
	length, weight                lift.Unit
	lengthSize, weightSize, cubic float64
	problems                      plain.Problems
}

func newReader(units checklists.Units) *reader {
	if units == checklists.InchPound {
		return &reader{length: lift.Inches, weight: lift.Pounds, lengthSize: float64(plain.Inch), weightSize: float64(plain.Pound),
			cubic: float64(plain.Foot * plain.Foot * plain.Foot)}
	}
	return &reader{length: lift.Millimetres, weight: lift.Kilograms, lengthSize: 0.001, weightSize: 1, cubic: 1}
}

// size is a length that must be there; a bare number below least is asked for
// its unit.
func (r *reader) size(field, text string, least float64) float64 {
	m, err := lift.ParseLength(text, r.length)
	if err != nil {
		r.problems.Add(field, err)
		return 0
	}
	if _, bare := lift.ParseLength(text, lift.NoUnit); bare != nil && float64(m) < least {
		r.problems.Unless(false, field, "the unit as well: as a bare number it would be only %s", m)
	}
	return float64(m)
}

func (r *reader) optional(field, text string) float64 {
	if text == "" {
		return 0
	}
	m, err := lift.ParseLength(text, r.length)
	r.problems.Add(field, err)
	return float64(m)
}

func (r *reader) mass(field, text string) float64 {
	if text == "" {
		return 0
	}
	kg, err := lift.ParseMass(text, r.weight)
	r.problems.Add(field, err)
	return float64(kg)
}

// volume takes a bare number in the mill's unit.
func (r *reader) volume(field, text string) float64 {
	return r.decimal(field, text, "a number in the unit beside it") * r.cubic
}

// decimal takes digits and one point and nothing else: no sign, exponent or word.
func (r *reader) decimal(field, text, want string) float64 {
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
