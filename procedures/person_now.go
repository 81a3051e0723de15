package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// Now is p with what p may do at that moment and nothing that is over or has
// not begun: a deputy within the days named, a qualification until it ends. Rules
// ask the person as of now; what is kept of a person stays as it was entered.
func (p Person) Now(now time.Time) Person {
	p.Deputy = p.DeputyAt(now)
	p.QualifiedElectrical, p.QualifiedLifting = p.ElectricalAt(now), p.LiftingAt(now)
	return p
}

// DeputyAt tells whether p stands in for the supervisor at that moment.
func (p Person) DeputyAt(now time.Time) bool {
	return p.Deputy && !now.Before(p.DeputyFrom) && !ended(p.DeputyUntil, now)
}

// ElectricalAt tells whether p is qualified to test for voltage at that moment.
func (p Person) ElectricalAt(now time.Time) bool {
	return p.QualifiedElectrical && !ended(p.ElectricalUntil, now)
}

// LiftingAt tells whether p is qualified for lifting gear at that moment.
func (p Person) LiftingAt(now time.Time) bool {
	return p.QualifiedLifting && !ended(p.LiftingUntil, now)
}

// UnderAge tells whether p is under 18 at that moment, as far as is known: where
// no day is kept, until the word is taken off.
func (p Person) UnderAge(now time.Time) bool { return p.Minor && !ended(p.MinorUntil, now) }

func ended(until, now time.Time) bool { return !until.IsZero() && !now.Before(until) }

// lapseAhead is how long before it ends a qualification is spoken of. Common
// practice, no source.
const lapseAhead = 30 * 24 * time.Hour

// With is p with what is kept of a person beside name, role and rights taken from
// kept: days, evidence, age.
func (p Person) With(kept Person) Person {
	p.DeputyFrom, p.DeputyUntil, p.ElectricalUntil, p.LiftingUntil = kept.DeputyFrom, kept.DeputyUntil, kept.ElectricalUntil, kept.LiftingUntil
	p.ElectricalNote, p.LiftingNote, p.Minor, p.MinorUntil = kept.ElectricalNote, kept.LiftingNote, kept.Minor, kept.MinorUntil
	return p
}

// Lapse is one thing about a person that is over, or soon is.
type Lapse struct {
	Said plain.Sentence
	Over bool
}

// Lapses returns what has run out for p by now, or does within a month.
func (p Person) Lapses(now time.Time) []Lapse {
	var all []Lapse
	for _, one := range []struct {
		has   bool
		until time.Time
		over  plain.Sentence
		soon  plain.Sentence
	}{
		{p.QualifiedElectrical, p.ElectricalUntil, plain.Say("No longer qualified to test for voltage, since %s.", plain.Day(p.ElectricalUntil)), plain.Say("Qualified to test for voltage only until %s.", plain.Day(p.ElectricalUntil))},
		{p.QualifiedLifting, p.LiftingUntil, plain.Say("No longer qualified for lifting gear, since %s.", plain.Day(p.LiftingUntil)), plain.Say("Qualified for lifting gear only until %s.", plain.Day(p.LiftingUntil))},
		{p.Deputy, p.DeputyUntil, plain.Say("No longer deputy of the supervisor, since %s.", plain.Day(p.DeputyUntil)), plain.Say("Deputy of the supervisor only until %s.", plain.Day(p.DeputyUntil))},
	} {
		switch {
		case !one.has || one.until.IsZero() || p.Left:
		case ended(one.until, now):
			all = append(all, Lapse{one.over, true})
		case ended(one.until, now.Add(lapseAhead)):
			all = append(all, Lapse{one.soon, false})
		}
	}
	return all
}
