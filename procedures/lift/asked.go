package lift

import (
	"time"

	"stillsaw/procedures/plain"
)

// Asked is a question at the hook as a form shows it.
type Asked struct {
	Field  string // as Questions.At takes it
	Said   plain.Sentence
	Source string
}

// Asks returns the questions this rig has to answer, in the order in which
// [Check] judges them.
func (r *Rig) Asks() []Asked {
	list, n := Questions{}.list(r.grips())
	asked := make([]Asked, n)
	for i, q := range list[:n] {
		asked[i] = Asked{Field: q.field, Said: plain.Say(q.ask), Source: q.source}
	}
	return asked
}

// At returns where the answer to a question stands, nil for a field that is none.
func (q *Questions) At(field string) *Answer {
	switch field {
	case "landing-clear":
		return &q.LandingClear
	case "nobody-under":
		return &q.NobodyUnder
	case "latch-closed":
		return &q.LatchClosed
	case "free":
		return &q.Free
	case "trial-lift":
		return &q.TrialLift
	case "seated":
		return &q.Seated
	}
	return nil
}

// Allowed tells whether the lift may be made: it is a GO, and where it stands
// above the house margin a supervisor has signed.
func (v *Verdict) Allowed(signed bool) bool { return v.Go && (signed || !v.NeedsSupervisor) }

// Faults returns what makes every lift with this rig a NO-GO, whatever the
// piece: parts missing or out of order, and ratings, masses, tags, inspections,
// leg length or hook angles that are unknown or don't hold.
func (r *Rig) Faults(now time.Time) []Finding {
	var v Verdict
	v.checkRig(r)
	v.checkLinks(r, now)
	if !(r.LegLength > 0) {
		v.block(SpanRule, "", "", "the length of the legs is not known")
	}
	if r.grips() && !r.EndHookBand.known() {
		v.blockGrip()
	}
	return v.Findings
}
