package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Readings is what meters showed in signed inspections and what was added to
// them, oldest first. Of one item answered again both stand: the later says by
// Replaced when it shows less.
func Readings(inspections []Inspection, amendments []Amendment) []Reading {
	var read []Reading
	add := func(answers []Answer) {
		for _, a := range answers {
			if a.Meter != "" && a.Number != nil {
				read = append(read, Reading{Meter: a.Meter, Value: *a.Number, At: a.At, By: a.By, Replaced: a.Replaced})
			}
		}
	}
	for _, in := range inspections {
		add(in.Answers)
	}
	for _, am := range amendments {
		add(am.Answers)
	}
	slices.SortStableFunc(read, func(a, b Reading) int { return a.At.Compare(b.At) })
	return read
}

// lastReading is the newest of the meter at that time.
func (f Facts) lastReading(meter MeterID, now time.Time) (last Reading, known bool) {
	for _, r := range slices.Concat(f.Readings, Readings(f.Inspections, f.Amendments)) {
		if r.Meter == meter && !r.At.After(now) && (!known || !r.At.Before(last.At)) {
			last, known = r, true
		}
	}
	return last, known
}

// suits notes what of an answer that is acceptable by itself does not go with
// what is known at the mill: a meter that runs backwards, a person who is not of
// the crew, not qualified or too young, an item passed by somebody not qualified
// for it. What is wrong is reported by anybody.
func (f Facts) suits(item Item, a Answer, by procedures.Person, now time.Time) error {
	var bad plain.Problems
	if item.Kind == MeterReading && a.Number != nil && !a.Replaced {
		last, known := f.lastReading(item.Meter, now)
		bad.Unless(!known || *a.Number >= last.Value, "number",
			"no less than %v %s, read %s. If the meter was replaced, set back or read wrong then, say so and why", last.Value, item.Limits.Unit, last.At)
	}
	if item.Kind == Somebody && a.Person != "" {
		at := slices.IndexFunc(f.People, func(p procedures.Person) bool { return p.ID == a.Person })
		if at < 0 || !f.People[at].Works() {
			bad.Unless(false, "person", "somebody of the crew")
			return bad.Err()
		}
		f.qualifies(&bad, "person", item, f.People[at], now)
	}
	if item.Kind != Somebody && item.Qualified != AnyOfCrew && a.Result == OK {
		f.qualifies(&bad, "result", item, by, now)
	}
	return bad.Err()
}

// qualifies notes at the field what keeps p from being the qualified person of
// the item at that time. Being of the crew alone bars nobody under 18 from being
// named; signing does.
func (f Facts) qualifies(bad *plain.Problems, field string, item Item, p procedures.Person, now time.Time) {
	kind := procedures.Site
	switch item.Qualified {
	case AnyOfCrew:
		return
	case ForLifting:
		kind = procedures.Hoist
		bad.Unless(p.LiftingAt(now), field, "somebody recorded as qualified for lifting gear")
	case ForElectrical:
		bad.Unless(p.ElectricalAt(now), field, "somebody recorded as qualified for electrical work")
	default:
		bad.Unless(false, field, "somebody whose qualification is known here")
	}
	bad.Unless(f.Minors.May(p, kind, now) == nil, field, "somebody the law lets do this: %s is under 18", p.Name)
}

// Named are the people who may be named at the item at that time.
func (f Facts) Named(item Item, now time.Time) []procedures.Person {
	var may []procedures.Person
	for _, p := range f.People {
		var bad plain.Problems
		if f.qualifies(&bad, "person", item, p, now); p.Works() && len(bad) == 0 {
			may = append(may, p)
		}
	}
	return may
}

// Known tells whether q is one of the qualifications, or none.
func (q Qualification) Known() bool {
	return q == AnyOfCrew || q == ForLifting || q == ForElectrical
}
