package lift

import "stillsaw/procedures/plain"

// Refusals are the questions at the hook that aren't answered with yes. They are
// asked before each lift, also before the next piece of a run.
func (r *Rig) Refusals(q Questions) []Finding {
	l, v := Lift{Rig: *r, Questions: q}, Verdict{}
	v.checkQuestions(&l)
	return v.Findings
}

// Covered says of which pieces [Covers] is true, for a person who looks at the
// next one: what can be seen of it. A piece a tenth thinner is balanced little
// further from its middle; how much thinner is common practice, no source.
func Covered(l *Lift, v *Verdict) []plain.Sentence {
	p := &l.Piece
	same := plain.Say("the same shape, the same kind of wood, no wetter and no drier")
	size := plain.Say("no thicker at either end than %s and %s, at most a tenth thinner, no more tapered", plain.Metres(p.Small), plain.Metres(p.Large))
	switch p.Shape {
	case Squared:
		size = plain.Say("no wider than %s and no higher than %s", plain.Metres(p.Width), plain.Metres(p.Height))
	case Measured:
		size = plain.Say("no more wood than %s", plain.CubicMetres(p.Volume))
	case Slabbed:
		size = plain.Say("from a log no thicker at either end than %s and %s, at most a tenth thinner, no more tapered, with no less sawn off", plain.Metres(p.Small), plain.Metres(p.Large))
	}
	return []plain.Sentence{same, plain.Say("as long: %s", plain.Metres(p.Length)), size, plain.Say("no heavier than %s, with bark, snow, ice and mud", v.Weight.Upper)}
}

// Shares tells whether a run of like pieces may share the answer v to l. One above
// the house margin is a supervisor's word on that one piece. Own choice.
func Shares(l *Lift, v *Verdict) (bool, plain.Sentence) {
	switch {
	case !v.Go:
		return false, plain.Say("it was a NO-GO")
	case v.NeedsSupervisor:
		return false, plain.Say("the lift is above the house margin of %s, and a supervisor signed for that one piece: a further piece is checked anew and signed for again", plain.Fraction(l.Rig.margin()))
	}
	return true, plain.Sentence{}
}

// HasYoke tells whether the legs hang from a yoke, which may be pinned anew between
// one piece of a run and the next.
func (r *Rig) HasYoke() bool { return r.YokeWidth > 0 || len(r.Settings) > 0 }

// Open is how many questions at the hook nobody answered yet.
func (r *Rig) Open(q Questions) (open int) {
	list, n := q.list(r.grips())
	for _, one := range list[:n] {
		if one.answer == Unanswered {
			open++
		}
	}
	return open
}

// Refused are the findings of questions at the hook answered with no, without
// those nobody answered yet.
func (r *Rig) Refused(q Questions) []Finding {
	list, n := q.list(r.grips())
	for _, one := range list[:n] {
		if one.answer == Unanswered {
			*q.At(one.field) = Yes
		}
	}
	return r.Refusals(q)
}

// StillOpen says so many questions nobody answered yet in one line.
func StillOpen(n int) plain.Sentence {
	if n == 1 {
		return plain.Say("one question at the hook still to be answered with yes")
	}
	return plain.Say("%d questions at the hook still to be answered with yes", n)
}
