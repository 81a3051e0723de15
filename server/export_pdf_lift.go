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
	if a.Drawing.End != nil {
		add(p.T("Ends"), a.Drawing.End.Said)
	}
	add(p.T("Hangs"), p.tilt(a))
	add(p.T("House margin"), p.T("%s", a.Margin))
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
				line.More = append(line.More, p.T("Rule: %s", p.Cited(f.Source)))
			}
			lines = append(lines, line)
		}
		p.r.Table(lines)
	}
	p.sentences(p.T("What would have made it a GO, worked out again from what was asked"), a.Remedies)
	p.rungs(a)
	p.landing(a)
	p.window(a)
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

// tilt says how far out of level it hangs.
func (p *exportPaper) tilt(a *liftAnswer) string {
	var said []string
	switch {
	case a.Drawing.Tilted > 0:
		said = append(said, p.T("comes to rest %s out of level", a.Drawing.Tilted))
		if a.Counted > 0 {
			said = append(said, p.T("It could hang up to %s out of level, and the rules count that.", a.Counted))
		}
	case a.Tilt > 0:
		said = append(said, p.T("up to %s out of level", a.Tilt))
	}
	return strings.Join(said, ". ")
}

// window sets the settings of the yoke that fit the piece.
func (p *exportPaper) window(a *liftAnswer) {
	w := a.Window
	if w == nil {
		return
	}
	p.r.Heading(p.T("Settings of the yoke that fit this piece"))
	var lines []sheet.Line
	for _, fit := range w.Fits {
		line := sheet.Line{What: p.T("%s: does not fit", fit.Name)}
		if fit.Fits {
			line.What = p.T("%s: fits", fit.Name)
		}
		if fit.Now {
			line.What += " · " + p.T("as it is set")
		}
		more := p.T("Yoke %[1]s, legs %[2]s", fit.Yoke, fit.Legs)
		if fit.Angle > 0 {
			more += " · " + p.T("legs at %s", fit.Angle)
		}
		if fit.Needed > 0 {
			more += " · " + p.T("needs %s from the hoist hook down", fit.Needed)
		}
		line.More = []string{more}
		for _, why := range fit.Why {
			line.More = append(line.More, p.Say(why))
		}
		lines = append(lines, line)
	}
	for _, bar := range w.Bars {
		line := sheet.Line{What: bar.Title + ": " + strings.Join(bar.Ranges, "; ")}
		if bar.Now != "" {
			line.What += " · " + p.T("now %s", bar.Now)
		}
		lines = append(lines, line)
	}
	for _, one := range w.Said {
		lines = append(lines, sheet.Line{What: p.Say(one)})
	}
	p.r.Table(lines)
	p.r.Small(p.T("By angle, level and height only; what the parts bear is judged above."))
}
