package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// Wear is what a measurement says of a part. Only Within lets it stay.
type Wear uint8

// The states. WearUnknown is a size not taken, or one whose as-new size nobody
// knows; it judges nothing and clears nothing.
const (
	WearUnknown Wear = iota
	Within
	Discard
)

func wearNames() []string { return []string{"unknown", "within", "remove"} }

// String is the name ParseWear takes.
func (w Wear) String() string { return nameOf(wearNames(), int(w)) }

// ParseWear reads within or remove.
func ParseWear(text string) (Wear, error) {
	i, err := indexOf(wearNames(), text)
	return Wear(i), err
}

// MarshalText writes the name.
func (w Wear) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText is ParseWear.
func (w *Wear) UnmarshalText(text []byte) (err error) {
	*w, err = ParseWear(string(text))
	return err
}

// Judged is one measurement against the limit at which the part comes out of
// use. Where two published limits differ the stricter counts and both are
// named. Lengths are metres, areas square metres, angles degrees.
type Judged struct {
	Measure  string  // link, reach, yard, throat, twist, section or pin
	Measured float64 // 0 = not taken
	Limit    float64 // 0 = not known
	Least    bool    // the limit is the least allowed; else the most
	// Other is the laxer limit that doesn't count, 0 where there is none.
	Other  float64
	Wear   Wear
	Said   plain.Sentence
	Source string
}

// ChainMeasures are what is measured of a chain leg, in metres; 0 is not taken.
type ChainMeasures struct {
	Size            ChainSize
	Link            float64 // thickness of the thinnest link, at its most worn point
	Reach, NewReach float64 // upper to lower bearing point, now and as on the tag
	Yard            float64 // what 3 ft of the chain as new measures now
	Pitch           float64 // inside length of one link as new
}

// HookMeasures are what is measured of a hook; 0 is not taken. Section is the
// load-bearing section where it is most worn, in square metres, or a thickness
// of it in metres as long as the new one is the same; Pin likewise.
type HookMeasures struct {
	Throat, NewThroat   float64 // at the narrowest, latch aside
	Twisted             Answer  // any twist or bend that can be seen
	Twist               float64 // degrees from the plane of a new hook, where measured
	Section, NewSection float64
	Pin, NewPin         float64
}

// Clears tells whether every measurement was taken and lies within its limit.
// Not measured and not known are no yes; nor is an empty list.
func Clears(list []Judged) bool {
	for i := range list {
		if list[i].Wear != Within {
			return false
		}
	}
	return len(list) > 0
}

const (
	hair          = 1e-9          // m, for a size that is exactly its limit
	yard          = 36 * 0.0254   // m
	stretchToTell = 0.125 / 36    // an eighth of an inch in 3 ft is what a tape can tell; own choice
	throatMost    = 0.25 * 0.0254 // m
)

// leastLinks are the two published least thicknesses, in metres, 0 where the
// table has no such row. Federal: 29 CFR 1910.184, minimum allowable chain
// size, read in Michigan R 408.14923 Table 1, which repeats it. Standard: ASME
// B30.9, of which 3/8, 1/2 and 5/8 were read on a maker's page (5/16 stands
// there as .272, here as the larger .273) and the rest are from memory.
func leastLinks(size ChainSize) (federal, standard float64) {
	switch size {
	case Chain7_32:
		standard = 0.189
	case Chain9_32:
		standard = 0.239
	case Chain5_16:
		standard = 0.273
	case Chain3_8:
		federal, standard = 19./64, 0.342
	case Chain1_2:
		federal, standard = 25./64, 0.443
	case Chain5_8:
		federal, standard = 31./64, 0.546
	case Chain3_4:
		federal, standard = 19./32, 0.687
	case Chain7_8:
		federal, standard = 45./64, 0.750
	case Chain1:
		federal, standard = 13./16, 0.887
	case Chain1_1_4:
		federal, standard = 1, 1.091
	}
	return federal * float64(plain.Inch), standard * float64(plain.Inch)
}

// LeastLink is the least a link of such chain may measure at any point, in
// metres: the larger of the federal figure and of ASME B30.9's. ok is false for
// a size of neither table.
func LeastLink(size ChainSize) (least float64, ok bool) {
	federal, standard := leastLinks(size)
	least = math.Max(federal, standard)
	return least, least > 0
}

// JudgeChain judges thickness, reach and stretch, always in that order, each
// WearUnknown where it wasn't measured or its limit isn't known.
func JudgeChain(m ChainMeasures) []Judged {
	federal, standard := leastLinks(m.Size)
	link := judge("link", m.Link, math.Max(federal, standard), true)
	link.Other = math.Min(federal, standard)
	link.Source = "ASME B30.9, least link thickness; 29 CFR 1910.184, minimum allowable chain size"

	tell, third := m.NewReach*(1+stretchToTell), m.NewReach*(1+m.Pitch/3/yard)
	if !(m.Pitch > 0) {
		third = tell
	}
	reach := judge("reach", m.Reach, math.Min(tell, third), false)
	reach.Source = "chain makers: any stretch is a sign of overload; an eighth of an inch in 3 ft, own choice"
	if m.Pitch > 0 {
		reach.Other = math.Max(tell, third)
	}
	long := 0.0
	if m.Pitch > 0 {
		long = yard + m.Pitch/3
	}
	stretch := judge("yard", m.Yard, long, false)
	stretch.Source = "29 CFR 1910.265(c)(24)(ix); WAC 296-24-29413(1)"
	if stretch.Wear == Within && m.Yard >= long-hair { // a third of a link is already too much
		stretch.discard()
	}
	return []Judged{link, reach, stretch}
}

// JudgeHook judges throat, twist and section, always in that order, and the pin
// where either of its sizes is entered. The current ASME B30.10 line counts;
// the federal one, 15 % and 10°, is laxer and stands in Other.
func JudgeHook(m HookMeasures) []Judged {
	const source = "ASME B30.10 as in WAC 296-155-55800; 29 CFR 1910.179(j)(2)(iii) and Alberta OHS Code s. 309 allow 15 % and 10°"
	throat := judge("throat", m.Throat, math.Min(1.05*m.NewThroat, m.NewThroat+throatMost), false)
	throat.Other, throat.Source = 1.15*m.NewThroat, source
	list := []Judged{throat, judgeTwist(m), judge("section", m.Section, 0.90*m.NewSection, true)}
	if m.Pin > 0 || m.NewPin > 0 {
		list = append(list, judge("pin", m.Pin, 0.90*m.NewPin, true))
	}
	for i := range list {
		list[i].Source = source
	}
	return list
}

func judgeTwist(m HookMeasures) Judged {
	j := Judged{Measure: "twist", Measured: m.Twist, Other: 10}
	switch {
	case m.Twisted == Yes || m.Twist > 0:
		j.Wear, j.Said = Discard, plain.Say("twisted or bent: any twist that can be seen puts it out of use")
	case m.Twisted == No && m.Twist == 0:
		j.Wear, j.Said = Within, plain.Say("no twist or bend to be seen")
	default:
		j.Said = plain.Say("whether it is twisted or bent was not looked at")
	}
	return j
}

// judge compares a size that is a length with its limit.
func judge(measure string, measured, limit float64, least bool) Judged {
	j := Judged{Measure: measure, Measured: measured, Limit: limit, Least: least}
	usable := func(x float64) bool { return x > 0 && !math.IsInf(x, 1) }
	switch {
	case !usable(limit):
		j.Limit, j.Said = 0, plain.Say("its size as new is not known, so nothing can be judged: find it on the tag or ask the maker")
	case !usable(measured):
		j.Measured, j.Said = 0, plain.Say("not measured")
	case least && measured < limit-hair, !least && measured > limit+hair:
		j.discard()
	case least:
		j.Wear, j.Said = Within, plain.Say("measures %s; out of use below %s", plain.Gauged(measured), plain.Gauged(limit))
	default:
		j.Wear, j.Said = Within, plain.Say("measures %s; out of use above %s", plain.Gauged(measured), plain.Gauged(limit))
	}
	return j
}

func (j *Judged) discard() {
	j.Wear, j.Said = Discard, plain.Say("measures %s, the limit is %s: out of use for good", plain.Gauged(j.Measured), plain.Gauged(j.Limit))
}
