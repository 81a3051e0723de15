package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// taskRules are what every task says.
func taskRules() []rule[taskAsked, plain.Problems] {
	return []rule[taskAsked, plain.Problems]{
		{"title", func(a taskAsked) plain.Problems {
			return want(!blank(a.t.Title) && len(a.t.Title) <= longestName, "title", plain.Say("what is done, in a few words"))
		}},
		{"equipment", func(a taskAsked) plain.Problems {
			known := len(a.t.Equipment) > 0
			for _, id := range a.t.Equipment {
				known = known && len(atPiece(a.plant, id)) == 0
			}
			return want(known, "equipment", plain.Say("the pieces of equipment of this mill it is done at"))
		}},
		{"one of three kinds", func(a taskAsked) plain.Problems {
			return want(slices.Contains(TaskKinds(), a.t.Kind), "kind", plain.Say("production, minor servicing or servicing, 29 CFR 1910.147(a)(2)(i)"))
		}},
		{"guard and body asked", func(a taskAsked) plain.Problems {
			asked := a.t.Kind != Servicing
			return append(want(!asked || a.t.GuardOff.answered(), "guard_off", plain.Say("whether a guard, shield, splitter or interlock comes off or is defeated, 29 CFR 1910.147(a)(2)(ii)(A)")),
				want(!asked || a.t.BodyIn.answered(), "body_in", plain.Say("whether any part of the body goes into the saw line, the carriage's travel or under a load, 29 CFR 1910.147(a)(2)(ii)(B)"))...)
		}},
		{"four asked of minor servicing", func(a taskAsked) plain.Problems {
			var bad plain.Problems
			for _, q := range []struct {
				field  string
				answer YesNo
			}{{"routine", a.t.Routine}, {"repetitive", a.t.Repetitive}, {"integral", a.t.Integral}, {"protected", a.t.Protected}} {
				bad.Unless(a.t.Kind != MinorServicing || q.answer.answered(), q.field, "yes or no; it is one of the four that minor servicing stands on, 29 CFR 1910.147(a)(2)(ii)")
			}
			return bad
		}},
		{"texts fit", func(a taskAsked) plain.Problems {
			return append(want(len(a.t.Measure) <= longestText, "measure", plain.Say("in fewer words")),
				want(len(a.t.Note) <= longestText, "note", plain.Say("in fewer words"))...)
		}},
		{"servicing has its procedure", func(a taskAsked) plain.Problems {
			for _, p := range a.published {
				if p.ID == a.t.Procedure && p.Version > 0 && covers(p, a.t.Equipment) {
					return nil
				}
			}
			return want(a.t.Kind != Servicing, "procedure", plain.Say("a published procedure for all of that equipment, 29 CFR 1910.147(c)(4)"))
		}},
	}
}

// covers tells whether p is for servicing each of that equipment.
func covers(p Procedure, equipment []EquipmentID) bool {
	return !slices.ContainsFunc(equipment, func(id EquipmentID) bool { return !slices.Contains(p.Equipment, id) })
}

// lesserRules are what a task that is less than servicing stands on. What one
// of them refuses is servicing. A guard off or a body in makes a task servicing
// whatever else is answered, which is stricter than the note to (a)(2)(ii).
func lesserRules() []rule[taskAsked, error] {
	return []rule[taskAsked, error]{
		{"kind said", func(a taskAsked) error {
			return lesser(slices.Contains(TaskKinds(), a.t.Kind), "(a)(2)(i)", plain.Say("It isn't said what it is: it is servicing and needs a lockout."))
		}},
		{"no guard off", func(a taskAsked) error {
			return lesser(a.t.Kind == Servicing || a.t.GuardOff == No, "(a)(2)(ii)(A)", plain.Say("A guard comes off or is defeated, or it isn't said that none does: it is servicing and needs a lockout."))
		}},
		{"no body in", func(a taskAsked) error {
			return lesser(a.t.Kind == Servicing || a.t.BodyIn == No, "(a)(2)(ii)(B)", plain.Say("Part of the body goes into the danger, or it isn't said that none does: it is servicing and needs a lockout."))
		}},
		{"all four", func(a taskAsked) error {
			four := a.t.Routine == Yes && a.t.Repetitive == Yes && a.t.Integral == Yes && a.t.Protected == Yes
			return lesser(a.t.Kind != MinorServicing || four, "(a)(2)(ii)", plain.Say("It isn't routine, repetitive, part of production and protected all at once: it is servicing and needs a lockout."))
		}},
		{"a measure named", func(a taskAsked) error {
			return lesser(a.t.Kind == Servicing || !blank(a.t.Measure), "(a)(2)(ii)", plain.Say("Nothing is named that protects in place of a lock: it is servicing and needs a lockout."))
		}},
		{"a supervisor's name", func(a taskAsked) error {
			return lesser(a.t.Kind == Servicing || a.t.By != "", "(a)(2)(ii)", plain.Say("No supervisor answers for it being less than servicing: it needs a lockout."))
		}},
		{"reviewed within a year", func(a taskAsked) error {
			return lesser(a.t.Kind != MinorServicing || !a.t.reviewOver(a.now), "(a)(2)(ii)", plain.Say("The supervisor's review is more than a year old: it is servicing and needs a lockout until it is looked at again."))
		}},
	}
}

// lesser refuses what isn't ok as servicing.
func lesser(ok bool, clause string, why plain.Sentence) error {
	if ok {
		return nil
	}
	return &plain.Refusal{Why: why, Clause: Clause(clause)}
}
