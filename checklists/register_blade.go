package checklists

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// BladeID names one head saw of the blade register.
type BladeID string

// ToothKind is how the teeth of a saw are held. The zero value is unknown and refused.
type ToothKind string

const (
	InsertedTeeth ToothKind = "inserted" // held by shanks, changed one by one
	SolidTeeth    ToothKind = "solid"    // cut into the plate
)

// Words says how the teeth are held.
func (k ToothKind) Words() plain.Sentence {
	switch k {
	case InsertedTeeth:
		return plain.Say("inserted teeth")
	case SolidTeeth:
		return plain.Say("solid teeth")
	}
	return plain.Say("not known")
}

// Blade is one head saw as it stands in the register: what can be read off it.
type Blade struct {
	ID       BladeID             `json:"id"`
	Serial   string              `json:"serial"`
	Diameter plain.Metres        `json:"diameter"`
	Gauge    string              `json:"gauge"`  // plate thickness by gauge number, as marked: "8", "7-8"
	Marked   float64             `json:"marked"` // speed etched on it, rpm; 0: none, or it can't be read
	Teeth    int                 `json:"teeth"`
	Kind     ToothKind           `json:"kind"`
	Note     string              `json:"note"`
	By       procedures.PersonID `json:"by"` // who entered it so
	At       time.Time           `json:"at"`
}

// Bounds of what is read off a head saw; beyond lies a slip of the hand.
// Common practice, no source.
const (
	smallestSaw = 8 * plain.Inch
	largestSaw  = 10 * plain.Foot
	mostTeeth   = 400
	longestMark = 40 // letters of a serial number or gauge
)

// Keep returns b as entered by by at now, in place of before, the zero Blade
// for a new one; all is the register. Its error is a [plain.Problems] for the
// fields "serial", "diameter", "gauge", "marked", "teeth", "kind" and "note", or
// a [plain.Refusal]: what stands of a saw is a supervisor's to change, for
// whether it may be fitted hangs on it.
func (b Blade) Keep(before Blade, by procedures.Person, all []Blade, now time.Time) (Blade, error) {
	switch {
	case !by.Works():
		return Blade{}, plain.Refuse("", "Only somebody of the crew enters a saw. Sign in as yourself.")
	case before.ID != "" && !by.Supervises():
		return Blade{}, plain.Refuse("", "Only a supervisor or deputy changes what stands of a saw. What was done to it anybody of the crew enters.")
	}
	b.Serial, b.Gauge, b.Note = strings.TrimSpace(b.Serial), strings.TrimSpace(b.Gauge), strings.TrimSpace(b.Note)
	var bad plain.Problems
	bad.Unless(worded(b.Serial, longestMark), "serial", "the serial number on the saw, in at most %d letters", longestMark)
	bad.Unless(!slices.ContainsFunc(all, func(o Blade) bool { return o.ID != b.ID && sameSerial(o.Serial, b.Serial) }), "serial", "a number no other saw of the register has")
	bad.Unless(b.Diameter >= smallestSaw && b.Diameter <= largestSaw, "diameter", "%[1]s to %[2]s over the teeth", smallestSaw, plain.Metres(largestSaw))
	bad.Unless(worded(b.Gauge, longestMark), "gauge", "the gauge number of the plate, as marked")
	bad.Unless(b.Marked >= 0 && b.Marked <= 2*fastestSpindle, "marked", "the speed etched on it, up to %d rpm, 0 if there is none or it can't be read", 2*fastestSpindle)
	bad.Unless(b.Teeth >= 4 && b.Teeth <= mostTeeth, "teeth", "how many teeth it has, 4 to %d", mostTeeth)
	bad.Unless(b.Kind == InsertedTeeth || b.Kind == SolidTeeth, "kind", "inserted or solid")
	bad.Unless(tidy(b.Note, LongestNote), "note", "at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Blade{}, err
	}
	b.By, b.At = by.ID, now
	return b, nil
}

// sameSerial compares serial numbers as people write them.
func sameSerial(a, b string) bool {
	bare := func(s string) string {
		return strings.ToUpper(strings.Map(func(r rune) rune {
			if r == ' ' || r == '-' || r == '.' || r == '/' {
				return -1
			}
			return r
		}, s))
	}
	return bare(a) != "" && bare(a) == bare(b)
}

// RimSpeed is how fast the tips of the teeth go at so many turns a minute, in
// metres a second: π times diameter times turns.
func RimSpeed(diameter plain.Metres, rpm float64) float64 {
	return 3.141592653589793 * float64(diameter) * rpm / 60
}

// fastestRim is 10,000 ft/min, 34 Pa. Code 45.41, in metres a second.
const fastestRim = 10_000 * float64(plain.Foot) / 60
