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
// the crew or not qualified.
func (f Facts) suits(item Item, a Answer, now time.Time) error {
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
		bad.Unless(item.Qualified != ForLifting || f.People[at].QualifiedLifting, "person", "somebody recorded as qualified for lifting gear")
		bad.Unless(item.Qualified != ForElectrical || f.People[at].QualifiedElectrical, "person", "somebody recorded as qualified for electrical work")
		bad.Unless(item.Qualified.Known(), "person", "somebody whose qualification is known here")
	}
	return bad.Err()
}

// Known tells whether q is one of the qualifications, or none.
func (q Qualification) Known() bool {
	return q == AnyOfCrew || q == ForLifting || q == ForElectrical
}
