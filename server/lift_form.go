package server

import (
	"strconv"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// liftForm is what was typed about one lift, as it was typed.
type liftForm struct {
	Submission, Rig, RigVersion, Hoist, Lands string
	Shape, Length, Small, Large               string
	Slabs                                     [4]string
	Girths                                    string // "tape": one was laid round it; else "across"
	Middle                                    string
	Width, Height, Volume, Thick              string
	Setting                                   string
	BarkOff, OverBark                         bool
	Species, Condition, Moisture              string
	HeartShare, Density                       string
	Ice, IceArea, Snow, SnowArea, SnowKind    string
	Wet                                       bool
	Extra, Balance, Span, Placing             string
	Unreadable                                []bool   // a link of the rig each
	Answers                                   []string // a question of the rig each
	Signer                                    string
	Waiting                                   string // the lift that waits, typed without contact, "" for none
}

// unknownSpecies is the choice of somebody who can't tell the kind of wood.
const unknownSpecies = "unknown"

// typedLift reads the form through get, which knows fields by their names.
func typedLift(get func(string) string, rig *lift.Rig) liftForm {
	f := liftForm{Submission: get("submission"), Rig: get("rig"), RigVersion: get("rig-version"), Hoist: get("hoist"), Lands: get("lands"),
		Shape: get("shape"), Length: get("length"), Girths: get("girths"), Small: get("small"), Middle: get("middle"), Large: get("large"),
		Width: get("width"), Height: get("height"), Volume: get("volume"), Thick: get("thick"), Setting: get("setting"), BarkOff: get("bark-off") == "yes", OverBark: get("over-bark") == "yes",
		Species: get("species"), Condition: get("condition"), Moisture: get("moisture"),
		HeartShare: get("heart-share"), Density: get("density"),
		Ice: get("ice"), IceArea: get("ice-area"), Snow: get("snow"), SnowArea: get("snow-area"), SnowKind: get("snow-kind"), Wet: get("wet") == "yes",
		Extra: get("extra"), Balance: get("balance"), Span: get("span"), Placing: get("placing"), Signer: get("signer"), Waiting: get("waiting")}
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

// lift turns the form into what the rules judge. Only fields of the chosen
// shape are read; the rest may hold what was typed before it was chosen.
func (f *liftForm) lift(rig lift.Rig, in measures) (lift.Lift, plain.Problems) {
	r := newReader(in)
	p := lift.Piece{OverBark: f.OverBark && !f.BarkOff, Bark: !f.BarkOff}
	shape, err := lift.ParseShape(f.Shape)
	r.problems.Unless(err == nil && shape != lift.ShapeUnknown, "shape", "choose what it is")
	p.Shape = shape
	p.Length = r.size("length", f.Length, leastLength)
	switch shape {
	case lift.Round, lift.Slabbed:
		f.log(&p, r)
	case lift.Squared:
		p.Bark, p.OverBark = false, false
		p.Width = r.size("width", f.Width, leastSection)
		p.Height = r.size("height", f.Height, leastSection)
	case lift.Measured:
		p.OverBark = false
		p.Volume = r.volume("volume", f.Volume, p.Length)
		p.Large = r.optional("thick", f.Thick)
	}
	f.wood(&p, r)
	f.weather(&p, r)
	p.Extra = r.mass("extra", f.Extra)
	p.Balance = r.optional("balance", f.Balance)
	r.take(p.Validate())

	l := lift.Lift{Piece: p, Rig: rig}
	switch f.Setting {
	case "":
		l.Rig = rig.Unset()
	case rig.Setting:
	default:
		set, ok := rig.SetTo(f.Setting)
		r.problems.Unless(ok, "setting", "choose one of the settings marked on the yoke")
		l.Rig = set
	}
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

// log reads what was measured of a round log, or of the one a cant was sawn
// from. Of a round one the middle alone is enough.
func (f *liftForm) log(p *lift.Piece, r *reader) {
	across := r.size
	switch f.Girths {
	case "", "across":
	case "tape":
		p.Girths, across = true, r.girth
	default:
		r.problems.Unless(false, "girths", "choose how it was measured")
	}
	if p.Shape == lift.Round && f.Middle != "" {
		p.Middle = across("middle", f.Middle, leastSection)
		r.problems.Unless(p.Middle > 0 || r.problems.For("middle") != nil, "middle", "more than 0, or left empty")
	}
	if p.Middle == 0 || f.Small != "" || f.Large != "" {
		p.Small = across("small", f.Small, leastSection)
		p.Large = across("large", f.Large, leastSection)
	}
	for i := range f.Slabs {
		if p.Shape == lift.Slabbed {
			p.Slabs[i] = r.optional("slab-"+strconv.Itoa(i+1), f.Slabs[i])
		}
	}
}

// wood reads the kind and how wet it is, which need not be chosen beside a
// density that was weighed.
func (f *liftForm) wood(p *lift.Piece, r *reader) {
	p.Species = r.species("species", f.Species)
	p.Density = r.density("density", f.Density)
	if f.Condition != "" || p.Density == 0 {
		condition, err := lift.ParseCondition(f.Condition)
		r.problems.Unless(err == nil && condition != lift.ConditionUnknown, "condition", "choose how wet it is")
		p.Condition = condition
	}
	if p.Condition == lift.MeasuredMoisture {
		p.Moisture = r.percent("moisture", f.Moisture)
	}
	if f.HeartShare != "" {
		p.HeartShare = r.percent("heart-share", f.HeartShare)
		p.HeartKnown = r.problems.For("heart-share") == nil
	}
}

func (f *liftForm) weather(p *lift.Piece, r *reader) {
	w := lift.Weather{Ice: r.layer("ice", f.Ice, leastIce), Snow: r.layer("snow", f.Snow, leastSnow), Wet: f.Wet}
	if f.IceArea != "" {
		w.IceArea = r.area("ice-area", f.IceArea)
	}
	if f.SnowArea != "" {
		w.SnowArea = r.area("snow-area", f.SnowArea)
	}
	if f.SnowKind != "" {
		kind, err := lift.ParseSnow(f.SnowKind)
		r.problems.Unless(err == nil, "snow-kind", "choose what snow it is")
		w.SnowKind = kind
	}
	p.Weather = w
}

// rare tells whether a field of those that are rarely used is filled, or wrong.
func rare(problems plain.Problems, typed map[string]string) bool {
	for field, text := range typed {
		if text != "" || problems.For(field) != nil {
			return true
		}
	}
	return false
}

// rareWood are the fields about the wood that are rarely used.
func (f *liftForm) rareWood() map[string]string {
	return map[string]string{"heart-share": f.HeartShare, "density": f.Density}
}

// rareOnIt are those about what lies on it and how it balances.
func (f *liftForm) rareOnIt() map[string]string {
	wet := ""
	if f.Wet {
		wet = "yes"
	}
	return map[string]string{"extra": f.Extra, "balance": f.Balance, "ice": f.Ice, "ice-area": f.IceArea, "snow": f.Snow, "snow-area": f.SnowArea, "snow-kind": f.SnowKind, "wet": wet}
}
