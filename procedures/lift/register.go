package lift

import (
	"time"

	"stillsaw/procedures/plain"
)

// Every is how often a kind of inspection falls due.
type Every uint8

// The inspections. 29 CFR 1910.179(j)(2) and (3): daily to monthly and monthly
// to yearly; 1910.184(e)(3): chain slings at least every twelve months.
const (
	EveryUnknown Every = iota
	EveryShift
	EveryWeek
	EveryMonth
	EveryYear
)

func everyNames() []string { return []string{"unknown", "shift", "week", "month", "year"} }

// String is the name ParseEvery takes.
func (e Every) String() string { return nameOf(everyNames(), int(e)) }

// ParseEvery reads shift, week, month or year.
func ParseEvery(text string) (Every, error) {
	i, err := indexOf(everyNames(), text)
	return Every(i), err
}

// Thorough tells whether more than the look before a shift is meant.
func (e Every) Thorough() bool { return e != EveryShift }

// MarshalText writes the name.
func (e Every) MarshalText() ([]byte, error) { return []byte(e.String()), nil }

// UnmarshalText is ParseEvery.
func (e *Every) UnmarshalText(text []byte) (err error) {
	*e, err = ParseEvery(string(text))
	return err
}

// After is when the next such inspection is due after one at t.
func (e Every) After(t time.Time) time.Time {
	switch e {
	case EveryShift:
		return t.AddDate(0, 0, 1)
	case EveryWeek:
		return t.AddDate(0, 0, 7)
	case EveryMonth:
		return plain.MonthsOn(t, 1)
	case EveryYear:
		return plain.MonthsOn(t, 12)
	}
	return t
}

// Looked is one inspection of a part as the register holds it.
type Looked struct {
	Rig   string // the rig it was entered with; [Register.Of] reads it
	Link  string // the link's ID
	Every Every
	Fit   bool
	At    time.Time
	// Elsewhere: entered of another entry that may be the same steel. It puts
	// the part out of use; it passes nothing.
	Elsewhere bool
}

// Taken is one measurement of a part: What as [Measures] names it. Value and New
// are metres, or degrees for a twist, square metres or metres for a section. Of
// a yard, New is the inside length of one link as new.
type Taken struct {
	Rig        string // as in [Looked]
	Link, What string
	Value, New float64
	At         time.Time
	Qualified  bool // measured by a person qualified for lifting gear
	Elsewhere  bool // as in [Looked]
}

// Measures names what is measured of such a part, nothing where no published
// limit is known here.
func (l *Link) Measures() []string {
	switch {
	case l.Kind == Leg && l.Grade != NotChain:
		return []string{"link", "reach", "yard"}
	case l.Kind == HoistHook || l.Kind == EndHook:
		return []string{"throat", "twist", "section", "pin"}
	}
	return nil
}

const (
	mostMeasured = 20.0 // m
	mostTwist    = 90.0 // degrees
)

// Judge says whether the part may stay by one measurement. The error is a
// [plain.Problems] of the fields "what", "value" and "new".
func (l *Link) Judge(t Taken) (Judged, error) {
	var bad plain.Problems
	known := false
	for _, what := range l.Measures() {
		known = known || what == t.What
	}
	bad.Unless(known, "what", "one of what is measured of this part")
	most := mostMeasured
	if t.What == "twist" {
		most = mostTwist
		bad.Unless(t.Value >= 0 && t.Value <= most, "value", "0 to 90 degrees")
	} else {
		bad.Unless(t.Value > 0 && t.Value <= most, "value", "more than 0, and a size such a part can have")
	}
	bad.Unless(t.New >= 0 && t.New <= most, "new", "a size such a part can have, or left empty")
	if err := bad.Err(); err != nil {
		return Judged{}, err
	}
	chain, hook := ChainMeasures{Size: l.Size}, HookMeasures{}
	switch t.What {
	case "link":
		chain.Link = t.Value
	case "reach":
		chain.Reach, chain.NewReach = t.Value, t.New
	case "yard":
		chain.Yard, chain.Pitch = t.Value, t.New
	case "throat":
		hook.Throat, hook.NewThroat = t.Value, t.New
	case "twist":
		if hook.Twist = t.Value; t.Value == 0 {
			hook.Twisted = No
		}
	case "section":
		hook.Section, hook.NewSection = t.Value, t.New
	case "pin":
		hook.Pin, hook.NewPin = t.Value, t.New
	}
	list := JudgeChain(chain)
	if l.Kind != Leg {
		list = JudgeHook(hook)
	}
	for _, j := range list {
		if j.Measure == t.What {
			return j, nil
		}
	}
	return Judged{}, plain.Problems{{Field: "what", Want: plain.Say("one of what is measured of this part")}}
}
