package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// enterRules are asked of an act when it is entered, after what its kind asks,
// and not again on replay: what an earlier Stillsaw kept without them stands, and
// so does what was written in words and withheld from the record since.
func enterRules() []rule[asked, error] {
	return slices.Concat(wordRules(), liveOnly(shownRules()), liveOnly(countRules()), []rule[asked, error]{
		positionSaid(),
		toldWithin(),
		powerByThePrimary(),
		onlyToItsEnd(),
		keysBefore(),
	})
}

// reportsStep is the step that the act reports done: a lock put on at its own
// stage is one as well.
func (a asked) reportsStep() (Step, bool) {
	if a.e.Kind == LockApplied && a.e.Person == a.l.Primary {
		at := slices.IndexFunc(a.l.Procedure.Steps, func(s Step) bool { return s.Stage == Apply && s.Device == a.e.Device })
		if at < 0 {
			return Step{}, false
		}
		return a.l.Procedure.Steps[at], true
	}
	return a.s, a.e.Kind == StepDone || a.e.Kind == Rechecked
}

// shownRules ask what has to be seen on the spot. What is entered late happened
// without it, and is taken; what it lacks is a departure: see [Broken].
func shownRules() []rule[asked, error] {
	return append([]rule[asked, error]{
		minuteOver(),
		ownCount(),
		{"photo where the step asks for one", func(a asked) error {
			s, done := a.reportsStep()
			if !done || !s.AsksPhoto || a.e.Photo != "" {
				return nil
			}
			return plain.Refuse(s.Clause, "This step asks for a picture. Take one from where you can stand safely.")
		}},
		{"(f)(3)(ii)(D) keys seen in the box", func(a asked) error {
			if a.e.Kind != Joined || a.e.Device != "" || a.e.KeysInBox {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Look into the box before you lock it: the key of every lock on a device has to be in it. Say that you saw them there.")
		}},
		{"(d) called off with nobody in", func(a asked) error {
			if a.e.Kind != WorkEnded || a.l.Stage >= Work || a.e.Clear {
				return nil
			}
			return plain.Refuse(Clause("(d)"), "Not everything is locked and proven at zero. Say that nobody has reached into the machine, and that nobody will.")
		}},
	}, tagEnterRules()...)
}

// toldWithin asks that who tells how things stand was in the lockout.
func toldWithin() rule[asked, error] {
	return rule[asked, error]{"(f)(4) told by somebody of this lockout", func(a asked) error {
		if a.e.Kind != HandedOver || a.e.ToEnd || slices.Contains(a.l.Took(), a.e.From) {
			return nil
		}
		return plain.Refuse(Clause("(f)(4)"), "Say who told you how things stand: somebody who is or was in this lockout.")
	}}
}

// wordRules ask for what has to be said in words.
func wordRules() []rule[asked, error] {
	told := func(stage Stage) func(asked) error {
		return func(a asked) error {
			if a.e.Kind != StepDone || a.s.Stage != stage || !blank(a.e.Told) {
				return nil
			}
			return plain.Refuse(a.s.Clause, "Say whom you told, and how. With nobody else about, say that.")
		}
	}
	return []rule[asked, error]{
		{"(c)(9) told before", told(Notify)},
		{"(e)(2)(ii) told after", told(NotifyRestored)},
		{"(f)(4) the state told", func(a asked) error {
			if a.e.Kind != HandedOver || !blank(a.e.Told) {
				return nil
			}
			return plain.Refuse(Clause("(f)(4)"), "Say what you were told: what is done, what is open, who is in it, what is out of the machine.")
		}},
		{"(f)(1)(iv) what moves", func(a asked) error {
			if a.e.Kind != Energized || !blank(a.e.Note) {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(iv)"), "Say what is going to move.")
		}},
		{"(e)(3)(i) made sure the owner isn't here", func(a asked) error {
			if a.e.Kind != LockTaken && !a.e.ToEnd || !blank(a.e.NotHere) {
				return nil
			}
			if a.e.ToEnd {
				return plain.Refuse(Clause("(e)(3)(i)"), "Say how it was made sure that the one who answers for it isn't at the mill: who looked where.")
			}
			return plain.Refuse(Clause("(e)(3)(i)"), "Say how it was made sure that the owner isn't at the mill: who looked where.")
		}},
		{"(e)(3)(ii) each try told", func(a asked) error {
			if a.e.Kind != LockTaken && !a.e.lookedFor() {
				return nil
			}
			var on time.Time
			if lock := a.l.lockOn(a.e.Lock); lock != nil {
				on = lock.On.Truncate(time.Minute) // as exactly as a form asks
			}
			for _, try := range a.e.Tries {
				if try.At.Before(on) {
					return plain.Refuse(Clause("(e)(3)(ii)"), "A try from before the lock went on, %s, reached nobody about it. Try now.", on)
				}
				if try.At.IsZero() || try.At.After(a.e.At) || blank(try.Way) || blank(try.Result) {
					return plain.Refuse(Clause("(e)(3)(ii)"), "For each try to reach the owner say when, by which way, and what came of it.")
				}
			}
			return nil
		}},
	}
}

// tagEnterRules are of hanging a tag where no lock goes on.
func tagEnterRules() []rule[asked, error] {
	tagged := func(a asked) bool {
		return a.e.Kind == StepDone && a.s.Stage == Apply && a.d.ID != "" && !a.d.Lockable
	}
	return []rule[asked, error]{
		{"(c)(5)(ii)(A) tag readable", func(a asked) error {
			if !tagged(a) || a.e.Tag.Readable {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)(A)"), "Only a tag that can be read counts. If yours can't, take a new one.")
		}},
		{"(c)(5)(ii)(D) tag shows who", func(a asked) error {
			if !tagged(a) || a.e.Tag.Owner == a.e.Person {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)(D)"), "The tag shows whose it is: hang your own.")
		}},
		{"(c)(5)(iii) legend on the tag", func(a asked) error {
			if !tagged(a) || slices.Contains(Legends(), a.e.Tag.Legend) && !blank(a.e.Tag.Hazard) {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(iii)"), "The tag has to say %s, and what happens else. Hang one that does, and say so.", a.d.Legend().Words())
		}},
		{"(c)(5)(ii)(C)(2) tag fastened", func(a asked) error {
			if !tagged(a) || a.e.Tag.Fastening {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)(C)(2)"), "Fasten the tag with a tie for one use that locks itself and holds 50 lb (222 N), and say so.")
		}},
		{"(d)(4)(iii)(B) where the tag hangs", func(a asked) error {
			if !tagged(a) || a.e.Tag.OnDevice || !blank(a.e.Tag.Where) {
				return nil
			}
			return plain.Refuse(Clause("(d)(4)(iii)(B)"), "Say that the tag hangs on the device itself, or where else: as near as is safe, plain to anybody about to work it.")
		}},
		{"(c)(3)(ii) one more means", func(a asked) error {
			if !tagged(a) || slices.ContainsFunc(a.e.Means, func(m ExtraMeans) bool { return slices.Contains(ExtraMeansKnown(), m) }) {
				return nil
			}
			return plain.Refuse(Clause("(c)(3)(ii)"), "A tag holds nothing. Do one thing more that keeps the energy away, and say which.")
		}},
	}
}
