package server

import (
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
	Open     bool // only the questions at the hook stand in the way
	Sign     bool // a supervisor has to sign
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
}

type findingLine struct {
	Said   plain.Sentence
	Source string
	Blocks bool
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
	for _, finding := range v.Findings {
		a.Open = a.Open && (!finding.Blocks || finding.Rule == lift.QuestionRule)
		a.Findings = append(a.Findings, findingLine{Said: finding.Said, Source: finding.Source, Blocks: finding.Blocks || finding.Rule == lift.MarginRule && a.Sign})
	}
	return a
}

// liftTitle is the answer in a line.
func liftTitle(j *judged) plain.Sentence {
	v := &j.Verdict
	switch {
	case j.allowed():
		return plain.Say("GO: at most %s", v.Weight.Upper)
	case v.Go:
		return plain.Say("NO-GO: above the house margin, and no supervisor signed")
	}
	blocking := 0
	for _, f := range v.Findings {
		if f.Blocks {
			blocking++
		}
	}
	if blocking == 0 {
		return plain.Say("NO-GO")
	}
	if blocking == 1 {
		return plain.Say("NO-GO: %s", v.Findings[0].Said)
	}
	return plain.Say("NO-GO, for %d reasons", blocking)
}

// pieceLine is the piece as one would call it across the yard.
func pieceLine(f *views.Frame, p *lift.Piece) string {
	kind := p.Species.Common
	if kind == "" {
		kind = f.T("kind not known")
	}
	length, small, large := plain.Metres(p.Length), plain.Metres(p.Small), plain.Metres(p.Large)
	state := conditionText(f, p.Condition)
	switch p.Shape {
	case lift.Round:
		return f.T("Log, %[1]s, %[2]s: %[3]s long, %[4]s to %[5]s through", kind, state, length, small, large)
	case lift.Slabbed:
		return f.T("Cant, %[1]s, %[2]s: %[3]s long, from a log %[4]s to %[5]s through", kind, state, length, small, large)
	case lift.Squared:
		return f.T("Squared, %[1]s, %[2]s: %[3]s long, %[4]s by %[5]s", kind, state, length, plain.Metres(p.Width), plain.Metres(p.Height))
	}
	return f.T("Piece, %[1]s, %[2]s: %[3]s long, %[4]s of wood", kind, state, length, plain.CubicMetres(p.Volume))
}

func conditionText(f *views.Frame, c lift.Condition) string {
	switch c {
	case lift.Green:
		return f.T("green")
	case lift.PartDry:
		return f.T("part dry")
	case lift.AirDry:
		return f.T("air-dry")
	case lift.MeasuredMoisture:
		return f.T("moisture measured")
	}
	return f.T("wetness not known")
}
