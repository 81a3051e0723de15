package lift

import (
	"time"

	"stillsaw/procedures/plain"
)

// Owing is one of the inspections a part comes round to. Last is when it was
// last passed, by it or by a rarer one; Due when it has to be again. Both are
// zero where that is not known. Said says why it is owed, or why not.
type Owing struct {
	Every     Every
	Owed      bool
	Last, Due time.Time
	Said      plain.Sentence
	Source    string
}

// day is how far a date may lie past a year and be the same day a year on: a due
// date is kept to the end of its day.
const day = 24 * time.Hour

// DueBy is when the inspection of the link falls due: as entered, yet no later
// than a year after it was inspected. 29 CFR 1910.184(e)(3)(i): at least every
// twelve months; 1910.179(j)(1)(ii)(b): periodic, one to twelve months. A
// due date alone is told as it is; without the day it was inspected [Check] is a
// NO-GO.
func (l *Link) DueBy() time.Time {
	if l.Inspected.IsZero() || l.InspectionDue.Sub(l.Inspected) <= 365*day {
		return l.InspectionDue
	}
	if year := EveryYear.After(l.Inspected); !l.InspectionDue.Before(year.Add(day)) {
		return year
	}
	return l.InspectionDue
}

// monthly tells whether a monthly inspection is owed by the rule, whether or not
// one was ever entered.
func (k Kind) monthly() bool {
	return k == Beam || k == Trolley || k == Hoist || k == HoistHook || k == KindUnknown
}

// Rounds are the weekly, the monthly and the yearly inspection of the part, in
// that order. A part newly in force counts as looked at on the day it was
// inspected. What no rule here asks for is owed once it was entered: a mill that
// looks each week goes on looking each week.
//
// Beam, trolley, hoist and hook: the frequent inspection of 29 CFR
// 1910.179(j)(1)(ii)(a), daily to monthly; of hooks and hoist chains each month with a
// signed record, (j)(2)(iii) and (iv) (as told by a crane school's page; its
// text was not read). Slings, their hooks and fittings: at least every twelve
// months, 1910.184(e)(3)(i). Of a yoke a year is our own choice.
//
// A look before a shift brings no date. It is owed each day before use whether
// or not one was ever entered here (29 CFR 1910.184(d), 1910.179(j)(2)), and the
// signed list of the hoist asks for it: a list not signed is a NO-GO by itself.
// Counted here as well, one look entered once would put a part out of use each
// morning after, for it alone and for no other part. What a look found counts
// all the same: not fit is not fit.
func (l *Link) Rounds(looked []Looked) [3]Owing {
	var all [3]Owing
	for i, every := range [...]Every{EveryWeek, EveryMonth, EveryYear} {
		r := &all[i]
		r.Every, r.Last = every, l.Inspected
		asked := false
		for _, one := range looked {
			if one.Link != l.ID || one.Elsewhere || l.ID == "" {
				continue
			}
			asked = asked || one.Every == every
			if one.Fit && one.Every >= every && one.Every <= EveryYear && one.At.After(r.Last) {
				r.Last = one.At
			}
		}
		switch {
		case every == EveryYear:
			r.Owed, r.Said, r.Source = true, plain.Say("owed each year, or sooner where the rig says so"), l.yearSource()
		case every == EveryMonth && l.Kind.monthly():
			r.Owed, r.Said, r.Source = true, plain.Say("owed each month"), "29 CFR 1910.179(j)(1)(ii)(a), (j)(2)"
		case asked:
			r.Owed, r.Said, r.Source = true, plain.Say("owed again, as it was entered before"), "own rule"
		case every == EveryWeek:
			r.Said, r.Source = plain.Say("none owed: the look before each shift is more often"), "own choice"
		default:
			r.Said, r.Source = plain.Say("none owed: looked at before each shift, inspected each year"), "29 CFR 1910.184(d), (e)(3)(i)"
		}
		if r.Owed && !r.Last.IsZero() {
			r.Due = every.After(r.Last)
		}
	}
	own := *l
	own.renew(looked)
	all[2].Due = own.DueBy()
	return all
}

func (l *Link) yearSource() string {
	switch {
	case l.Kind.monthly():
		return "29 CFR 1910.179(j)(3)"
	case l.Kind == Yoke:
		return "own choice"
	}
	return "29 CFR 1910.184(e)(3)(i)"
}
