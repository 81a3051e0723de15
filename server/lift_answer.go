package server

import (
	"cmp"
	"math"
	"slices"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// liftAnswer is the answer to one lift as the form and the kept lift show it.
type liftAnswer struct {
	*views.Frame
	Badge    views.Badge
	What     string // the piece in a line
	Upper    plain.Kilograms
	Expected plain.Kilograms
	Weakest  string // name and share, "" where none could be worked out
	Angle    string
	Tilt     plain.Degrees
	Balance  plain.Metres
	HalfMark plain.Metres
	Findings []findingLine
	Remedies []plain.Sentence
	Answers  plain.Sentence // what is answered at the hook besides, for each remedy
	Open     bool           // only the questions at the hook stand in the way
	Sign     bool           // a supervisor has to sign
	SignedBy string
	Parts    []lift.Part
	Notes    []plain.Sentence
	Drawing  liftDrawing
	Rungs    []rung
	LimitAt  px
	MarginAt px
	Margin   plain.Fraction
	LegPull  []plain.Newtons
	Signers  []views.Choice // who may sign, on the form
	Signer   string         // as chosen
	Window   *windowView
	Landing  *landingView  // nil where it isn't set down on a carriage
	Covered  *coveredView  // a check kept before that covers the piece, nil for none
	Counted  plain.Degrees // out of level by the rules, where it is drawn otherwise
	Kept     bool          // read back from the record
}

type findingLine struct {
	Said    plain.Sentence
	Figures string // load, limit and their ratio, "" where it is not about strength
	Source  string
	Blocks  bool
	ratio   float64
}

// answerTo shows j. signer is the name of who signed, "" for nobody.
func answerTo(f *views.Frame, j *judged, signer string) *liftAnswer {
	l, v := &j.Lift, &j.Verdict
	a := &liftAnswer{Frame: f, Badge: f.LiftBadge(j.allowed()), What: pieceLine(f, &l.Piece), Upper: v.Weight.Upper, Expected: v.Weight.Expected,
		Tilt: v.Tilt, Balance: v.Balance, HalfMark: plain.Metres(l.Piece.Length / 2), SignedBy: signer, Parts: v.Weight.Parts, Notes: v.Weight.Notes,
		Drawing: drawLift(f, l, v), Rungs: ladder(f, v), LimitAt: limitAt(), MarginAt: marginAt(&l.Rig), Margin: lift.DefaultMargin, LegPull: v.LegTension}
	if l.Rig.HouseMargin > 0 {
		a.Margin = plain.Fraction(l.Rig.HouseMargin)
	}
	if v.Angle > 0 {
		a.Angle = f.T("%s", v.Angle)
	}
	for _, r := range a.Rungs {
		if r.Weakest && a.Weakest == "" {
			a.Weakest = r.Name + ", " + r.Share
			if r.Unknown {
				a.Weakest = r.Name + ", " + r.Limit
			}
		}
	}
	a.Sign = v.Go && v.NeedsSupervisor && j.SignedBy == ""
	a.Open = !v.Go
	for _, finding := range toldOf(j) {
		a.Open = a.Open && (!finding.Blocks || finding.Rule == lift.QuestionRule)
		a.Findings = append(a.Findings, findingLine{Said: finding.Said, Source: finding.Source, Figures: figures(f, &finding), ratio: finding.Ratio,
			Blocks: finding.Blocks || finding.Rule == lift.MarginRule && a.Sign})
	}
	slices.SortStableFunc(a.Findings, worseFirst)
	if a.Drawing.Tilted > 0 && f.T("%s", a.Drawing.Tilted) != f.T("%s", a.Tilt) {
		a.Counted = a.Tilt
	}
	a.window(l)
	a.landing(j)
	return a
}

// worseFirst has what forbids the lift before what is only told, and of each the
// larger share of what a part may bear first.
func worseFirst(a, b findingLine) int {
	switch {
	case a.Blocks && !b.Blocks:
		return -1
	case b.Blocks && !a.Blocks:
		return 1
	}
	return cmp.Compare(b.ratio, a.ratio)
}

// figures are the part, its load, what it may bear and the share, where the
// finding has them.
func figures(f *views.Frame, one *lift.Finding) string {
	switch {
	case one.Load <= 0 || one.Link == "":
		return ""
	case one.Limit <= 0 || math.IsInf(one.Ratio, 0) || math.IsNaN(one.Ratio):
		return f.T("%[1]s: %[2]s of: not known", one.Link, one.Load)
	}
	if one.Rule == lift.RatingRule { // which says the rest itself
		return f.T("%s of what it may bear", plain.Fraction(one.Ratio))
	}
	return f.T("%[1]s: %[2]s of %[3]s, %[4]s", one.Link, one.Load, one.Limit, plain.Fraction(one.Ratio))
}

// liftTitle is the answer in a line.
func liftTitle(j *judged) plain.Sentence {
	v := &j.Verdict
	switch {
	case j.allowed():
		return plain.Say("GO: reckoned no heavier than %s", v.Weight.Upper)
	case v.Go:
		return plain.Say("NO-GO: above the house margin, and no supervisor signed")
	}
	var blocking []lift.Finding
	for _, f := range toldOf(j) {
		if f.Blocks {
			blocking = append(blocking, f)
		}
	}
	open := len(blocking) > 1 && j.Lift.Rig.Open(j.Lift.Questions) > 0
	if open { // told last, and not counted among what is wrong
		blocking = blocking[:len(blocking)-1]
	}
	var said plain.Sentence
	switch len(blocking) {
	case 0:
		return plain.Say("NO-GO")
	case 1:
		said = plain.Say("NO-GO: %s", blocking[0].Said)
	default:
		said = plain.Say("NO-GO, for %d reasons", len(blocking))
	}
	if open {
		said = plain.Say("%s; %s", said, lift.StillOpen(j.Lift.Rig.Open(j.Lift.Questions)))
	}
	return said
}

// toldOf are the findings as they are told: the questions at the hook after all
// others, those nobody answered yet in one line at the end.
func toldOf(j *judged) (all []lift.Finding) {
	for _, f := range j.Verdict.Findings {
		if f.Rule != lift.QuestionRule {
			all = append(all, f)
		}
	}
	all = append(all, j.Lift.Rig.Refused(j.Lift.Questions)...)
	if open := j.Lift.Rig.Open(j.Lift.Questions); open > 0 {
		all = append(all, lift.Finding{Rule: lift.QuestionRule, Said: lift.StillOpen(open), Blocks: true})
	}
	return all
}
