package lift

import (
	"math"
	"time"

	"stillsaw/procedures/plain"
)

// EventKind is something that happened to the gear after a verdict.
type EventKind uint8

// The kinds. Whatever isn't known to be harmless ends a verdict.
const (
	EventUnknown EventKind = iota
	GearChanged            // another rig, setting, part, hitch or tag
	ShockLoad              // dropped, snatched, caught or bumped
	ScaleShowed            // what the piece weighed: Mass
	FoundNotFit            // a part of it: Link
)

// Event is what was reported, and when.
type Event struct {
	Kind EventKind
	At   time.Time
	Mass plain.Kilograms // of the piece with all that is on it, by the scale
	Link string          // the part's name
}

// Holds tells whether the verdict v on the lift l still stands at now, and why
// not. It stands until the end of the shift, a change of the gear, a part found not
// fit, a shock load, a reading of the scale above the upper weight or the day a
// part falls due for inspection, whichever comes first. Common
// practice, no source; the inspection after a shock load is the maker's and
// ASME B30.9's, from memory.
func Holds(l *Lift, v *Verdict, shiftEnd time.Time, events []Event, now time.Time) (bool, plain.Sentence) {
	switch {
	case !v.Go:
		return false, plain.Say("it was a NO-GO")
	case l.Now.IsZero() || now.IsZero() || shiftEnd.IsZero():
		return false, plain.Say("when it was given, what time it is, or when the shift ends is not known")
	case now.Before(l.Now):
		return false, plain.Say("it was given later than now")
	case !now.Before(shiftEnd) || !l.Now.Before(shiftEnd):
		return false, plain.Say("the shift it was given in is over")
	}
	for _, e := range events {
		if !e.At.IsZero() && (e.At.Before(l.Now) || e.At.After(now)) {
			continue
		}
		switch e.Kind {
		case GearChanged:
			return false, plain.Say("the gear was changed since")
		case ShockLoad:
			return false, plain.Say("a shock load was reported since: the gear is inspected before it lifts again")
		case FoundNotFit:
			return false, plain.Say("%s was found not fit, or past its limit, after this check; whatever was passed, mended or swapped since, it ended the check", e.Link)
		case ScaleShowed:
			if e.Mass <= v.Weight.Upper {
				continue
			}
			return false, plain.Say("the scale showed %[1]s for this piece, more than the %[2]s it was reckoned with", e.Mass, v.Weight.Upper)
		}
		return false, plain.Say("something happened to the gear since, and what is not known")
	}
	for i := range l.Rig.Links {
		if k := &l.Rig.Links[i]; now.After(k.InspectionDue) {
			return false, plain.Say("%s: its inspection was due %s", k.label(), k.InspectionDue)
		}
	}
	return true, plain.Sentence{}
}

// Unfit are the parts of the rig found not fit or past their limit after the
// lift was judged, whatever was done about them since.
func Unfit(l *Lift, looked []Looked, taken []Taken) (events []Event) {
	for i := range l.Rig.Links {
		k := &l.Rig.Links[i]
		for _, one := range looked {
			if one.Link == k.ID && !one.Fit && !one.At.Before(l.Now) {
				events = append(events, Event{Kind: FoundNotFit, At: one.At, Link: k.label()})
			}
		}
		for _, one := range InOrder(taken) {
			if one.Link != k.ID || one.At.Before(l.Now) {
				continue
			}
			if j, err := k.Judge(one); err != nil || j.Wear == Discard {
				events = append(events, Event{Kind: FoundNotFit, At: one.At, Link: k.label()})
			}
		}
	}
	return events
}

// Covers tells whether the next piece may be lifted on a verdict given for one
// like it, with the same rig and hook span: same shape, kind of wood and
// condition, as long to the step of the ruler, no heavier at its upper weight,
// no thicker, balanced no further from its middle or bearing on no part more than
// it did, and a GO by [Check] in its place. The questions at the hook are asked before each lift all the same.
func Covers(l *Lift, v *Verdict, next Piece) (bool, plain.Sentence) {
	p := &l.Piece
	w, err := Weigh(next)
	switch {
	case !v.Go:
		return false, plain.Say("it was a NO-GO")
	case v.NeedsSupervisor:
		return Shares(l, v)
	case err != nil:
		return false, plain.Say("the piece can't be weighed: %s", err.Error())
	case next.Shape != p.Shape || next.Species != p.Species || next.Fallback != p.Fallback || next.Condition != p.Condition:
		return false, plain.Say("another shape, kind of wood or condition")
	case math.Abs(next.Length-p.Length) > p.Reading.step().Length:
		return false, plain.Say("another length")
	case !(w.Upper <= v.Weight.Upper):
		return false, plain.Say("heavier: %s against %s", w.Upper, v.Weight.Upper)
	case !(next.depth(false) <= p.depth(false)) && l.Rig.Headroom > 0:
		return false, plain.Say("thicker")
	case !(offMiddle(&next) <= offMiddle(p)+1e-9) && !l.asLight(v, next):
		return false, plain.Say("its balance point lies further from the middle")
	}
	return l.judges(&next)
}

// judges runs the rule on the lift with the next piece in place of its own:
// between legs of two lengths a balance point nearer the middle may load the
// other leg more.
func (l *Lift) judges(next *Piece) (bool, plain.Sentence) {
	with := *l
	with.Piece = *next
	switch now := Check(with); {
	case !now.Go && len(now.Findings) > 0:
		return false, now.Findings[0].Said
	case !now.Go || now.NeedsSupervisor:
		return false, plain.Say("above the house margin, and the lift before was not: a supervisor signs")
	}
	return true, plain.Sentence{}
}

// asLight tells whether the next piece, balanced further from its middle, is a GO
// in the place of l and bears on no part more than l did. A thinner piece of the
// same taper is such a one.
func (l *Lift) asLight(v *Verdict, next Piece) bool {
	at := *l
	at.Piece = next
	w := Check(at)
	if !w.Go || len(w.Bars) != len(v.Bars) {
		return false
	}
	for i := range w.Bars {
		if !(w.Bars[i].Ratio <= v.Bars[i].Ratio) {
			return false
		}
	}
	return true
}

func offMiddle(p *Piece) float64 { return math.Abs(p.BalancePoint() - p.Length/2) }
