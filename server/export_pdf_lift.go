package server

import (
	"strings"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views/sheet"
)

// lift sets a lift as its page does: the answer, its reasons, the load path, the
// piece as entered.
func (p *exportPaper) lift(l store.Lift) error {
	j, err := readLift(l)
	if err != nil {
		return err
	}
	a := answerTo(p.Frame, &j, p.names[j.SignedBy])
	a.Kept = true
	a.remedyKept(&j)
	p.r.Title(p.Say(liftTitle(&j)))
	p.left()
	p.r.Hazard(sheet.Danger, p.T("DANGER"), p.T("A falling or swinging load kills. Nobody under it or beside it, nor between it and anything it could swing against. Lift a few inches, stop, look at hooks and level, try the brake; then go on."))
	p.r.Strong(a.What)
	said := []string{p.T("reckoned no heavier than %s", a.Upper), p.T("expected %s", a.Expected)}
	if a.Weakest != "" {
		said = append(said, p.T("Weakest: %s", a.Weakest))
	}
	if a.Angle != "" {
		said = append(said, p.T("Legs at %s from level", a.Angle))
	}
	p.r.Text(strings.Join(said, " · "))
	var facts [][2]string
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, [2]string{name, value})
		}
	}
	add(p.T("Half-length mark"), p.T("%s", a.HalfMark))
	if a.Drawing.Balance != nil {
		add(p.T("Balance point"), p.T("%s from the small end", a.Balance))
	}
	if a.SignedBy != "" {
		add(p.T("House margin"), p.T("Above the house margin of %[1]s: %[2]s signed for it.", a.Margin, a.SignedBy))
	}
	add(p.T("By"), p.names[l.By])
	add(p.T("When"), p.Exact(l.At))
	add(p.T("Rig"), j.Lift.Rig.Name+", "+p.T("version %d as it stood then", l.RigVersion))
	add(p.T("As set"), asSet(p.Frame, &j.Lift.Rig))
	add(p.T("Hoist"), nameIn(p.plant, l.Hoist))
	add(p.T("Set down on"), nameIn(p.plant, l.LandsOn))
	p.r.Facts(facts)
	if len(a.Findings) > 0 {
		p.r.Heading(p.T("Reasons"))
		var lines []sheet.Line
		for _, f := range a.Findings {
			line := sheet.Line{What: p.Say(f.Said), Bad: f.Blocks}
			if f.Figures != "" {
				line.More = append(line.More, f.Figures)
			}
			if f.Source != "" {
				line.More = append(line.More, p.T("Rule: %s", f.Source))
			}
			lines = append(lines, line)
		}
		p.r.Table(lines)
	}
	p.sentences(p.T("What would have made it a GO, worked out again from what was asked"), a.Remedies)
	p.rungs(a)
	p.landing(a)
	p.r.Heading(p.T("The piece as entered"))
	var entered [][2]string
	for _, one := range pieceFacts(p.Frame, &j.Lift) {
		entered = append(entered, [2]string{one.Name, one.Value})
	}
	p.r.Facts(entered)
	p.r.Heading(p.T("How the weight was found"))
	weight := [][2]string{{p.T("Expected"), p.T("%s", a.Expected)}}
	for _, part := range a.Parts {
		weight = append(weight, [2]string{p.Say(part.Said), p.T("%s", part.Mass)})
	}
	p.r.Facts(append(weight, [2]string{p.T("Upper"), p.T("%s", a.Upper)}))
	for _, note := range a.Notes {
		p.r.List([]string{p.Say(note)})
	}
	p.r.Small(p.T("Weights after the Wood Handbook, FPL-GTR-282, chapters 4 and 5; species figures as published there."))
	p.r.Heading(p.T("At the hook"))
	var asked [][2]string
	for _, q := range j.Lift.Rig.Asks() {
		asked = append(asked, [2]string{p.Say(q.Said), p.T("%s", answerSaid(*j.Lift.Questions.At(q.Field)))})
	}
	p.r.Facts(asked)
	p.caution(true, false)
	return nil
}

func (p *exportPaper) sentences(heading string, all []plain.Sentence) {
	if len(all) == 0 {
		return
	}
	p.r.Heading(heading)
	for _, one := range all {
		p.r.List([]string{p.Say(one)})
	}
}

func (p *exportPaper) rungs(a *liftAnswer) {
	if len(a.Rungs) == 0 {
		return
	}
	p.r.Heading(p.T("The load path, from the beam down"))
	var lines []sheet.Line
	for _, r := range a.Rungs {
		line := sheet.Line{What: r.Name, Who: p.T("%[1]s of %[2]s, %[3]s", r.Load, r.Limit, r.Share), Bad: r.Over || r.Unknown || r.Weakest}
		if r.Unknown {
			line.Who = p.T("%[1]s of: not known", r.Load)
		}
		if r.Weakest {
			line.What += " · " + p.T("weakest")
		}
		lines = append(lines, line)
	}
	p.r.Table(lines)
}

func (p *exportPaper) landing(a *liftAnswer) {
	l := a.Landing
	if l == nil {
		return
	}
	p.r.Heading(p.T("Set down on the carriage"))
	if !l.Known {
		p.r.Text(p.T("Chalk the half-length mark %[1]s from either end; the balance point is %[2]s from the small end.", l.HalfMark, l.Balance))
		p.r.Text(p.T("Where the headblocks stood along the track was not entered, so nothing is said of what it bears on."))
		return
	}
	if l.Rests {
		p.r.Strong(p.T("It rests on %d headblocks.", len(l.Bears)))
	} else {
		p.r.Strong(p.Say(l.Why))
	}
	var list []string
	for _, b := range l.Bears {
		if b.Shared {
			list = append(list, p.T("Headblock %[1]d bears %[2]s of the weight, %[3]s at the most", b.Number, b.Share, b.Mass))
		} else {
			list = append(list, p.T("It bears on headblock %[1]d, %[2]s along the track", b.Number, b.At))
		}
	}
	if len(l.Bears) > 0 {
		list = append(list, p.T("It hangs over by %[1]s at the small end and %[2]s at the large end", l.Overhang[0], l.Overhang[1]))
	}
	p.r.List(list)
}
