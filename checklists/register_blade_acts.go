package checklists

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// BladeWork is what was done with a saw. The zero value is nothing and refused.
type BladeWork string

const (
	BladeFiled    BladeWork = "filed"    // teeth filed, set or swaged, or changed
	BladeHammered BladeWork = "hammered" // levelled and tensioned
	BladeLooked   BladeWork = "looked"   // looked over for cracks
	BladeFitted   BladeWork = "fitted"
	BladeTakenOff BladeWork = "taken-off"
	BladeOut      BladeWork = "out-of-use"
	BladeReturned BladeWork = "returned" // by a sawsmith
	BladeScrapped BladeWork = "scrapped" // for good
)

// BladeWorks returns every kind, in the order a form offers them.
func BladeWorks() []BladeWork {
	return []BladeWork{BladeFitted, BladeTakenOff, BladeFiled, BladeHammered, BladeLooked, BladeOut, BladeReturned, BladeScrapped}
}

// Words says what was done.
func (w BladeWork) Words() plain.Sentence {
	switch w {
	case BladeFiled:
		return plain.Say("teeth filed, set, swaged or changed")
	case BladeHammered:
		return plain.Say("hammered: levelled and tensioned")
	case BladeLooked:
		return plain.Say("looked over for cracks")
	case BladeFitted:
		return plain.Say("fitted")
	case BladeTakenOff:
		return plain.Say("taken off")
	case BladeOut:
		return plain.Say("put out of use")
	case BladeReturned:
		return plain.Say("returned by a sawsmith")
	case BladeScrapped:
		return plain.Say("scrapped")
	}
	return plain.Say("not known")
}

// AsksCracks tells whether the work is not entered without the length of the
// longest crack: WAC 296-78-610(2), cracks are looked for each time teeth are
// filed or set.
func (w BladeWork) AsksCracks() bool {
	return w == BladeFiled || w == BladeLooked || w == BladeReturned
}

// BladeAct is one thing done with a saw, entered for good.
type BladeAct struct {
	ID    string        `json:"id"`
	Blade BladeID       `json:"blade"`
	Work  BladeWork     `json:"work"`
	On    time.Time     `json:"on"`             // when it was done
	Crack *plain.Metres `json:"crack,omitzero"` // longest found, 0 for none; nil: not looked for
	// Marked is the speed a sawsmith etched on it anew, rpm; only of a saw returned.
	Marked float64             `json:"marked,omitzero"`
	Who    string              `json:"who"` // who did it, where that is not who entered it
	Note   string              `json:"note"`
	By     procedures.PersonID `json:"by"`
	At     time.Time           `json:"at"`
}

// BladeStanding is a saw of the register and what was done with it.
type BladeStanding struct {
	Blade
	Acts     []BladeAct // by when they were done, the first first
	Fitted   time.Time  // since when it is reported fitted, zero: it isn't
	Looked   *BladeAct  // the newest with an answer about cracks
	Over     *BladeAct  // a crack as long as the limit, and no sawsmith since
	Out      *BladeAct  // put out of use and not returned since
	Scrapped *BladeAct
}

// Blades tells of each saw how it stands after everything done with it.
func Blades(register []Blade, acts []BladeAct) []BladeStanding {
	all := make([]BladeStanding, len(register))
	for i, b := range register {
		all[i] = BladeStanding{Blade: b}
		for _, a := range acts {
			if a.Blade == b.ID {
				all[i].Acts = append(all[i].Acts, a)
			}
		}
		slices.SortStableFunc(all[i].Acts, func(a, b BladeAct) int {
			return cmp.Or(a.On.Compare(b.On), a.At.Compare(b.At))
		})
		for j := range all[i].Acts {
			all[i].after(&all[i].Acts[j])
		}
	}
	return all
}

func (s *BladeStanding) after(a *BladeAct) {
	switch a.Work {
	case BladeFitted:
		s.Fitted = a.On
	case BladeTakenOff:
		s.Fitted = time.Time{}
	case BladeOut:
		s.Out = a
	case BladeReturned:
		s.Out, s.Over = nil, nil
		if !a.At.Before(s.At) {
			s.Marked = a.Marked
		}
	case BladeScrapped:
		s.Scrapped = a
	}
	if a.Crack == nil {
		return
	}
	s.Looked = a
	// A later look that finds less does not mend it: that is a sawsmith's.
	if s.Cracked(*a.Crack) {
		s.Over = a
	}
}

// CrackLimit is the length of crack at which the saw is out of use, WAC
// 296-78-610(3).
func (b Blade) CrackLimit() plain.Metres { return plain.Metres(CrackLimit(b.Diameter)) * plain.Inch }

// Cracked tells whether a crack of that length puts the saw out of use.
func (b Blade) Cracked(crack plain.Metres) bool {
	const hair = 1e-6 // metres: 2 1/2 in typed in millimetres is 2 1/2 in still
	return !(crack < b.CrackLimit()-hair)
}

// Rules a saw is held to, as they are cited.
const (
	crackClause = "WAC 296-78-610(3) (Washington; good practice elsewhere)"
	markClause  = "WAC 296-78-575 (Washington; good practice elsewhere); 29 CFR 1910.265(e)(2)(iii) (from memory)"
	rimClause   = "34 Pa. Code 45.41 (Pennsylvania; good practice elsewhere)"
)

// Against returns what keeps the saw off a spindle that turns so many times a
// minute, 0 where that is not entered: none means that nothing entered is
// against it. What is not known is against it.
func (s BladeStanding) Against(spindle float64) []procedures.Gap {
	var all []procedures.Gap
	unless := func(ok bool, clause, why string, args ...any) {
		if !ok {
			all = append(all, procedures.Gap{Why: plain.Say(why, args...), Clause: clause})
		}
	}
	if s.Scrapped != nil {
		unless(false, "", "It was scrapped on %s.", plain.Day(s.Scrapped.On))
		return all
	}
	if s.Out != nil {
		unless(false, "", "It was put out of use on %[1]s: %[2]s", plain.Day(s.Out.On), s.Out.Note)
	}
	if s.Over != nil {
		unless(false, crackClause, "A crack of %[1]s was found on %[2]s; from %[3]s on, a saw of this size is out of use, and only a sawsmith mends it.", plain.Gauged(*s.Over.Crack), plain.Day(s.Over.On), s.CrackLimit())
	}
	unless(s.Looked != nil, crackClause, "Nobody has entered yet that it was looked over for cracks.")
	unless(s.Marked > 0, markClause, "No speed is entered as etched on it, and a saw without a mark may not be fitted.")
	unless(spindle > 0, markClause, "The speed of the spindle is not entered, so nothing can be set against the saw's mark. It is entered where the mill was set up.")
	unless(!(s.Marked > 0 && spindle > 0) || s.Marked >= spindle, markClause, "It is marked for %.0[1]f rpm and the spindle turns %.0[2]f: a saw marked for less than the spindle's speed may not be fitted.", s.Marked, spindle)
	return all
}

// Heeds returns what is to be thought of and keeps nothing off by itself: a rim
// faster than one state allows.
func (s BladeStanding) Heeds(spindle float64) []procedures.Gap {
	rim := RimSpeed(s.Diameter, spindle)
	if s.Scrapped != nil || !(rim > fastestRim) {
		return nil
	}
	return []procedures.Gap{{Clause: rimClause, Why: plain.Say("At the spindle's speed its rim goes %.0f ft/min; no more than 10,000 is allowed there.", rim*60/float64(plain.Foot))}}
}

// FittedBlade is the saw reported fitted now.
func FittedBlade(all []BladeStanding) (BladeStanding, bool) {
	at := slices.IndexFunc(all, func(s BladeStanding) bool { return !s.Fitted.IsZero() })
	if at < 0 {
		return BladeStanding{}, false
	}
	return all[at], true
}

// Enter returns a as entered by by at now; all is the register with s among it,
// spindle the head saw's speed in rpm, 0 where it is not entered. Its error is a
// [plain.Problems] for the fields "work", "on", "crack", "marked", "who" and
// "note", or a [plain.Refusal]: a saw fitted that may not be, by [BladeStanding.Against];
// a second one fitted; a saw returned by somebody who doesn't supervise.
func (s BladeStanding) Enter(a BladeAct, by procedures.Person, all []BladeStanding, spindle float64, now time.Time) (BladeAct, error) {
	if err := s.mayEnter(a, by, all, spindle); err != nil {
		return BladeAct{}, err
	}
	a.Blade, a.By, a.At = s.ID, by.ID, now
	a.Who, a.Note = strings.TrimSpace(a.Who), strings.TrimSpace(a.Note)
	if a.Work != BladeReturned {
		a.Marked = 0
	}
	if a.Work == BladeFitted || a.Work == BladeTakenOff || a.Work == BladeScrapped {
		a.Crack = nil
	}
	var bad plain.Problems
	bad.Unless(slices.Contains(BladeWorks(), a.Work), "work", "what was done")
	bad.Unless(!a.On.IsZero() && !a.On.After(now), "on", "when it was done, not later than now")
	bad.Unless(!a.Work.AsksCracks() || a.Crack != nil, "crack", "the length of the longest crack, 0 for none: cracks are looked for each time teeth are filed or set, WAC 296-78-610(2)")
	bad.Unless(a.Crack == nil || *a.Crack >= 0 && *a.Crack <= s.Diameter, "crack", "a length from 0 to the saw's own diameter")
	bad.Unless(tidy(a.Who, longestMark), "who", "a name, in at most %d letters", longestMark)
	bad.Unless(tidy(a.Note, LongestNote), "note", "at most %d letters", LongestNote)
	switch a.Work {
	case BladeOut, BladeScrapped:
		bad.Unless(a.Note != "", "note", "why")
	case BladeReturned:
		bad.Unless(a.Who != "", "who", "the sawsmith who did it")
		bad.Unless(a.Marked > 0 && a.Marked <= 2*fastestSpindle, "marked", "the speed the sawsmith etched on it, up to %d rpm", 2*fastestSpindle)
		bad.Unless(a.Crack == nil || !s.Cracked(*a.Crack), "crack", "less than %s, the length that puts a saw of this size out of use", s.CrackLimit())
	case BladeFitted, BladeTakenOff:
		bad.Unless(!a.On.Before(lastChange(all)), "on", "a time after the last change of saws, %s", lastChange(all))
	}
	if err := bad.Err(); err != nil {
		return BladeAct{}, err
	}
	return a, nil
}

func (s BladeStanding) mayEnter(a BladeAct, by procedures.Person, all []BladeStanding, spindle float64) error {
	on, some := FittedBlade(all)
	against := s.Against(spindle)
	switch {
	case !by.Works():
		return plain.Refuse("", "Only somebody of the crew enters what was done with a saw. Sign in as yourself.")
	case s.Scrapped != nil:
		return plain.Refuse("", "This saw was scrapped. Nothing more is entered of it.")
	case a.Work == BladeReturned && !by.Supervises():
		return plain.Refuse(crackClause, "A supervisor or deputy takes a saw back from the sawsmith.")
	case a.Work == BladeReturned && s.Out == nil && s.Over == nil:
		return plain.Refuse("", "This saw is not out of use. Enter what the sawsmith did as filed or hammered; a mark that changed, a supervisor changes.")
	case a.Work == BladeTakenOff && s.Fitted.IsZero():
		return plain.Refuse("", "This saw is not reported fitted.")
	case a.Work == BladeScrapped && !s.Fitted.IsZero():
		return plain.Refuse("", "This saw is reported fitted. Take it off first.")
	case a.Work == BladeFitted && some && on.ID == s.ID:
		return plain.Refuse("", "This saw is reported fitted already.")
	case a.Work == BladeFitted && some:
		return plain.Refuse("", "Saw %s is reported fitted. Report that it was taken off first.", on.Serial)
	case a.Work == BladeFitted && len(against) > 0:
		return plain.Refuse(against[0].Clause, "Saw %[1]s may not be fitted. %[2]s", s.Serial, against[0].Why)
	}
	return nil
}

// lastChange is when a saw was last reported fitted or taken off.
func lastChange(all []BladeStanding) time.Time {
	var last time.Time
	for _, s := range all {
		for _, a := range s.Acts {
			if (a.Work == BladeFitted || a.Work == BladeTakenOff) && a.On.After(last) {
				last = a.On
			}
		}
	}
	return last
}
