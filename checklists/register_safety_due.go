package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// SafetyWork is what is done to a piece of safety equipment from time to time.
type SafetyWork string

const (
	SafetyLook        SafetyWork = "look"        // it hangs there, whole, full and within reach
	SafetyMaintenance SafetyWork = "maintenance" // gone over by somebody who knows it
	SafetyEmptied     SafetyWork = "emptied"     // emptied and gone over
	SafetyHydrostatic SafetyWork = "hydrostatic" // tested under pressure
)

// Words says what is done.
func (w SafetyWork) Words() plain.Sentence {
	switch w {
	case SafetyLook:
		return plain.Say("visual inspection")
	case SafetyMaintenance:
		return plain.Say("yearly maintenance")
	case SafetyEmptied:
		return plain.Say("emptied and gone over")
	case SafetyHydrostatic:
		return plain.Say("hydrostatic test")
	}
	return plain.Say("not known")
}

// ExtinguisherType is a row of 29 CFR 1910.157 Table L-1.
type ExtinguisherType string

// ExtinguisherRow is what the table says of a type.
type ExtinguisherRow struct {
	Type  ExtinguisherType
	Name  plain.Sentence
	Years int // between hydrostatic tests; 0: may not be tested and was to be out of service by 1982
}

// ExtinguisherRows returns 29 CFR 1910.157 Table L-1, what is common today first.
func ExtinguisherRows() []ExtinguisherRow {
	return []ExtinguisherRow{
		{"dry-stored", plain.Say("Dry chemical, stored pressure; shell of mild steel, brazed brass or aluminum"), 12},
		{"dry-cartridge", plain.Say("Dry chemical, cartridge or cylinder operated; shell of mild steel"), 12},
		{"dry-stainless", plain.Say("Dry chemical; shell of stainless steel"), 5},
		{"carbon-dioxide", plain.Say("Carbon dioxide"), 5},
		{"water-stored", plain.Say("Water or antifreeze, stored pressure"), 5},
		{"water-cartridge", plain.Say("Water or antifreeze, cartridge operated"), 5},
		{"afff", plain.Say("Aqueous film forming foam (AFFF)"), 5},
		{"foam-stainless", plain.Say("Foam; shell of stainless steel"), 5},
		{"wetting-agent", plain.Say("Wetting agent"), 5},
		{"loaded-stream", plain.Say("Loaded stream"), 5},
		{"halon-1211", plain.Say("Halon 1211"), 12},
		{"halon-1301", plain.Say("Halon 1301"), 12},
		{"powder-cartridge", plain.Say("Dry powder, cartridge or cylinder operated; shell of mild steel"), 12},
		{"soda-acid-stainless", plain.Say("Soda acid; shell of stainless steel"), 5},
		{"soda-acid-brass", plain.Say("Soda acid; shell of soldered brass"), 0},
		{"foam-brass", plain.Say("Foam; shell of soldered brass"), 0},
	}
}

// Row is the row of the table, and whether there is one.
func (t ExtinguisherType) Row() (ExtinguisherRow, bool) {
	rows := ExtinguisherRows()
	at := slices.IndexFunc(rows, func(r ExtinguisherRow) bool { return r.Type == t })
	if at < 0 {
		return ExtinguisherRow{}, false
	}
	return rows[at], true
}

// safetyRule is one thing that is done again and again.
type safetyRule struct {
	work   SafetyWork
	years  int
	days   int
	clause string
}

// works are the rules for one item. A month is counted as 31 days.
//
// Of extinguishers: a look each month, 29 CFR 1910.157(e)(2); maintenance each
// year, (e)(3); stored-pressure dry chemical that is tested every 12 years
// emptied and gone over every 6, (e)(4), but for those thrown away; hydrostatic
// tests by Table L-1, (f)(2). A first-aid kit is to be ready, 29 CFR 1910.151(b),
// which names no interval: monthly is common practice, no source. An eyewash
// runs weekly and is gone over yearly by ANSI/ISEA Z358.1 (from memory).
func (i SafetyItem) works() []safetyRule {
	switch i.Kind {
	case ExtinguisherKind:
		rules := []safetyRule{{SafetyLook, 0, 31, "29 CFR 1910.157(e)(2)"}, {SafetyMaintenance, 1, 0, "29 CFR 1910.157(e)(3)"}}
		row, _ := i.Type.Row()
		if i.Type == "dry-stored" && !i.Throw {
			rules = append(rules, safetyRule{SafetyEmptied, 6, 0, "29 CFR 1910.157(e)(4)"})
		}
		return append(rules, safetyRule{SafetyHydrostatic, row.Years, 0, "29 CFR 1910.157(f)(2), Table L-1"})
	case FirstAidKind:
		return []safetyRule{{SafetyLook, 0, 31, "29 CFR 1910.151(b); monthly: common practice, no source"}}
	case EyewashKind:
		return []safetyRule{{SafetyLook, 0, 7, "29 CFR 1910.151(c); weekly: ANSI/ISEA Z358.1 (from memory)"}, {SafetyMaintenance, 1, 0, "ANSI/ISEA Z358.1 (from memory)"}}
	}
	return nil
}

// Works are the kinds of work that are entered of i, in the order a form offers them.
func (i SafetyItem) Works() []SafetyWork {
	var all []SafetyWork
	for _, r := range i.works() {
		all = append(all, r.work)
	}
	return all
}

// SafetyDue is one thing that is to be done to a piece of safety equipment.
type SafetyDue struct {
	Work   SafetyWork
	Last   time.Time // the day it was last done, zero: nobody has entered it
	By     time.Time // the last day it may be done; zero with Last
	Over   bool      // that day is past, or nothing is entered
	Soon   bool      // within a month, a look within a week
	Clause string
}

// Due returns what is to be done to i and by when. loc is the mill's zone. What
// nobody has entered is over: it is not known that it was done.
func (i SafetyItem) Due(checks []SafetyCheck, now time.Time, loc *time.Location) []SafetyDue {
	if !i.Retired.IsZero() {
		return nil
	}
	var all []SafetyDue
	for _, r := range i.works() {
		d := SafetyDue{Work: r.work, Clause: r.clause, Last: i.last(r.work, checks), Over: true}
		if !d.Last.IsZero() && (r.years > 0 || r.days > 0) {
			d.By = plain.MonthsOn(d.Last.In(loc), 12*r.years).AddDate(0, 0, r.days)
			d.Over = !now.Before(d.By.AddDate(0, 0, 1))
			early := plain.MonthsOn(d.By, -1)
			if r.days > 0 {
				early = d.By.AddDate(0, 0, -7)
			}
			d.Soon = !d.Over && r.days != 7 && !now.Before(early)
		}
		all = append(all, d)
	}
	return all
}

// last is the day that work was last done. A test under pressure empties the
// shell too, (e)(4); being made counts as being tested and emptied.
func (i SafetyItem) last(work SafetyWork, checks []SafetyCheck) time.Time {
	var last time.Time
	if work == SafetyHydrostatic || work == SafetyEmptied {
		last = i.Made
	}
	for _, c := range checks {
		counts := c.Work == work || work == SafetyEmptied && c.Work == SafetyHydrostatic || work == SafetyLook && c.Work == SafetyMaintenance
		if c.Item == i.ID && counts && c.On.After(last) {
			last = c.On
		}
	}
	return last
}
