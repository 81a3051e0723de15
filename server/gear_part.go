package server

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// partForm is an inspection or a measurement as it was typed.
type partForm struct {
	Submission, Every, Fit, Note, What, Value, New string
	measuring                                      bool
}

func typedPart(v *visit) partForm {
	return partForm{Submission: v.submission(), Every: v.typed("every"), Fit: v.typed("fit"), Note: v.typed("gear-note"),
		What: v.typed("what"), Value: v.typed("value"), New: v.typed("new")}
}

type partPage struct {
	*views.Frame
	gearPart
	Form      partForm
	Rig       views.Place
	Wrong     []plain.Sentence // why it may not be used
	Looks     []lookLine
	Charts    []wearChart
	Everies   []views.Choice
	Fits      []views.Choice
	Measures  []views.Choice
	Length    string
	Works     bool
	Measuring bool // the form of a measurement, not of an inspection
}

// Signing is the box in which what was found is signed.
func (p partPage) Signing() views.Sign {
	return p.SignBox(p.T("I looked at the part itself and found this."), p.T("Sign and keep"))
}

type lookLine struct {
	At              time.Time
	By, Every, Note string
	Fit             bool
	Photo           string
}

// part finds the part and its rig as published.
func (v *visit) part() (lift.Rig, *lift.Link, error) {
	rig, _, err := v.desk.Rig(v.ctx(), v.Params("rig"), 0)
	if err != nil {
		return rig, nil, err
	}
	for i := range rig.Links {
		if id := rig.Links[i].ID; id != "" && id == v.Params("link") {
			return rig, &rig.Links[i], nil
		}
	}
	return rig, nil, store.ErrNotFound
}

func (s *Server) showPart(v *visit) error {
	return v.partPage(partForm{Submission: store.NewID(), measuring: v.Query("measure") == "yes"}, nil)
}

func (v *visit) partPage(form partForm, problems plain.Problems) error {
	rig, link, err := v.part()
	if err != nil {
		return err
	}
	known, err := v.desk.Gear(v.ctx(), v.Params("rig"))
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	inspections, measurements := known.Of(&rig, link.ID)
	looked, measured := known.Register.Of(&rig)
	page := partPage{Frame: v.frame("%s: nothing entered stands against it", link.Name), Form: form, Works: v.person.Works(),
		Rig: views.Place{Href: "/rigs/" + v.Params("rig"), Text: plain.Say("%s", rig.Name)}, Measuring: form.measuring}
	page.Problems = problems
	now := registered(rig, known, v.now)
	for i, part := range partsOf(page.Frame, &rig, known, v.now) {
		if now.Links[i].ID == link.ID {
			page.gearPart = part
		}
	}
	for _, in := range slices.Backward(inspections) {
		line := lookLine{At: in.At, By: names[in.By], Every: everyText(page.Frame, in.Every), Note: in.Note, Fit: in.Fit}
		if in.Photo != "" {
			line.Photo = "/photos/" + in.Photo
		}
		page.Looks = append(page.Looks, line)
	}
	page.Charts = wearCharts(page.Frame, rig.ID, link, measurements, names)
	page.Measuring = page.Measuring && len(link.Measures()) > 0
	page.choices(link, newReader(v.typedIn).length)
	for _, out := range link.Out(looked, measured) {
		page.Wrong = append(page.Wrong, out.Said)
	}
	page.judge(now, link)
	return v.show("part", page, problems)
}

// judge says in the title what forbids the part.
func (p *partPage) judge(now lift.Rig, link *lift.Link) {
	for _, f := range now.Faults(p.Now) {
		if f.Link == link.Name && f.Blocks {
			p.Wrong = append(p.Wrong, f.Said)
		}
	}
	if len(p.Wrong) > 0 {
		p.Title = plain.Say("%s: not to be used", link.Name)
	}
}

func (p *partPage) choices(link *lift.Link, unit lift.Unit) {
	for e := lift.EveryShift; e <= lift.EveryYear; e++ {
		p.Everies = append(p.Everies, views.Offer(e.String(), everyText(p.Frame, e.String())))
	}
	p.Fits = []views.Choice{{Value: "yes", Text: p.T("Fit for use")}, {Value: "no", Text: p.T("Not fit: out of use now")}}
	for _, what := range link.Measures() {
		p.Measures = append(p.Measures, views.Choice{Value: what, Text: measureText(p.Frame, what)})
	}
	p.Length = unit.String()
}

func everyText(f *views.Frame, every string) string {
	switch every {
	case "shift":
		return f.T("before a shift")
	case "week":
		return f.T("weekly")
	case "month":
		return f.T("monthly, or after a month idle")
	case "year":
		return f.T("yearly")
	}
	return f.T("not known")
}

func measureText(f *views.Frame, what string) string {
	switch what {
	case "link":
		return f.T("Thickness of the thinnest link")
	case "reach":
		return f.T("Reach, bearing point to bearing point")
	case "yard":
		return f.T("What 3 ft of it as new measures now")
	case "throat":
		return f.T("Throat of the hook, latch aside")
	case "twist":
		return f.T("Twist, in degrees")
	case "section":
		return f.T("Thickness where it bears, at its most worn")
	case "pin":
		return f.T("Thickness of the pin")
	}
	return f.T("not known")
}

func (s *Server) inspectPart(v *visit) error {
	_, link, err := v.part()
	if err != nil {
		return err
	}
	form := typedPart(v)
	every, problems := lookedAt(form.Every, "gear-note", form.Note, form.Fit == "no")
	problems.Unless(form.Fit == "yes" || form.Fit == "no", "fit", "choose whether it may stay in use")
	if problems, err = v.signedToo(problems); err != nil || len(problems) > 0 {
		return v.partNotKept(form, problems, err)
	}
	digest, problems, err := v.photo("plate")
	if err != nil || len(problems) > 0 {
		return v.partNotKept(form, problems, err)
	}
	_, err = v.desk.KeepGearInspection(v.ctx(), form.Submission, store.GearInspection{Rig: v.Params("rig"), Link: link.ID, Every: every.String(),
		Fit: form.Fit == "yes", Note: form.Note, Photo: digest}, every.Thorough(), v.person, v.now)
	return v.partKept(form, err)
}

// lookedAt is which inspection of a part it was, and what is wrong with how it
// was entered; the words of what is wrong with the part stand in noteField.
func lookedAt(which, noteField, note string, unfit bool) (lift.Every, plain.Problems) {
	var problems plain.Problems
	every, err := lift.ParseEvery(which)
	problems.Unless(err == nil && every != lift.EveryUnknown, "every", "choose which inspection it was")
	problems.Unless(!unfit || note != "", noteField, "what is wrong with it")
	problems.Unless(len(note) <= noteMost, noteField, "fewer words")
	return every, problems
}

func (s *Server) measurePart(v *visit) error {
	_, link, err := v.part()
	if err != nil {
		return err
	}
	form := typedPart(v)
	form.measuring = true
	r := newReader(v.typedIn)
	m := store.GearMeasurement{Rig: v.Params("rig"), Link: link.ID, What: form.What, Note: form.Note}
	if form.What == "twist" {
		m.Value = r.decimal("value", strings.TrimRight(form.Value, " °"), "degrees as a number; 0 where none can be seen")
	} else {
		m.Value, m.New = r.size("value", form.Value, 0), r.optional("new", form.New)
	}
	r.problems.Unless(len(form.Note) <= noteMost, "gear-note", "fewer words")
	_, err = link.Judge(m.Taken())
	r.take(err)
	problems, err := v.signedToo(r.problems)
	if err != nil || len(problems) > 0 {
		return v.partNotKept(form, problems, err)
	}
	_, err = v.desk.KeepGearMeasurement(v.ctx(), form.Submission, m, v.person, v.now)
	return v.partKept(form, err)
}

// signedToo adds what is wrong with the signature.
func (v *visit) signedToo(problems plain.Problems) (plain.Problems, error) {
	more, err := v.sign()
	return append(problems, more...), err
}

func (v *visit) partNotKept(form partForm, problems plain.Problems, err error) error {
	if err != nil {
		return err
	}
	return v.partPage(form, problems)
}

func (v *visit) partKept(form partForm, err error) error {
	if err != nil {
		problems, err := problemsOf(err)
		return v.partNotKept(form, problems, err)
	}
	return v.moveOn(gearPath(v.Params("rig"), v.Params("link")), "gear")
}
