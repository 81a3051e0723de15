package server

import (
	"errors"
	"strconv"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/starters"
	"stillsaw/server/store"
	"stillsaw/views"
)

type procedureEditPage struct {
	*views.Frame
	ID         string
	Submission string
	Revision   string
	InForce    int // version, 0 for none
	HasDraft   bool
	Gaps       []gapLine
	Behind     []plain.Sentence // what the register says and this doesn't
	Texts      []views.Field
	Energies   []editPart
	Devices    []editPart
	Stages     []editStage
	Cautions   []plain.Sentence
}

// editPart is a heading with the fields under it.
type editPart struct {
	Heading string
	Hint    string
	Fields  []views.Field
}

// gapLine is what keeps a draft from being published, and the field at which it
// is put right.
type gapLine struct {
	Said  plain.Sentence
	Field string
}

func (s *Server) showProcedureEdit(v *visit) error {
	draft, err := v.procedureToEdit(v.Params("id"))
	if err != nil {
		return err
	}
	return v.procedureEditPage(draft, procedureForm{revision: strconv.Itoa(draft.Revision), submission: store.NewID(), typed: procedureTyped(draft.Procedure)}, nil)
}

// procedureToEdit is the draft, or one made of the version in force.
func (v *visit) procedureToEdit(id string) (draftOfProcedure, error) {
	draft, err := v.procedureDraft(id)
	if !errors.Is(err, store.ErrNotFound) {
		return draft, err
	}
	p, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(id), 0)
	p.Version = 0
	return draftOfProcedure{Procedure: p}, err
}

// procedureForm is what was typed, by field.
type procedureForm struct {
	revision, submission string
	typed                func(field string) string
}

// editProcedure keeps everything typed as the draft, and does what the button
// pressed says besides: each of them keeps.
func (s *Server) editProcedure(v *visit) error {
	id := v.Params("id")
	draft, err := v.procedureToEdit(id)
	if err != nil {
		return err
	}
	form := procedureForm{revision: v.typed("revision"), submission: v.submission(), typed: v.typed}
	edited, problems, err := v.readProcedure(draft.Procedure)
	if err != nil {
		return err
	}
	to := procedureAct{page: "/procedures/" + id + "/edit"}
	if len(problems) == 0 {
		edited, to, err = v.procedureAct(edited, to)
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.procedureEditPage(draft, form, problems)
	}
	doc, err := store.DraftOf(store.Procedures, id, edited.Title, edited)
	if err != nil {
		return err
	}
	doc.Revision = whole(form.revision)
	if problems, err = problemsOf(v.desk.KeepDraft(v.ctx(), doc, v.now)); err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.procedureEditPage(draft, form, problems)
	}
	return v.moveOn(to.address(), "draft")
}

// discardProcedure takes the draft away; what is in force stays.
func (s *Server) discardProcedure(v *visit) error {
	id := v.Params("id")
	inForce, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(id), 0)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	to := "/published"
	if inForce.Version > 0 {
		to = "/procedures/" + id
	}
	problems, err := problemsOf(v.desk.DiscardDraft(v.ctx(), store.Procedures, id, whole(v.typed("revision")), v.person))
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		draft, err := v.procedureToEdit(id)
		if err != nil {
			return err
		}
		form := procedureForm{revision: strconv.Itoa(draft.Revision), submission: v.submission(), typed: procedureTyped(draft.Procedure)}
		return v.procedureEditPage(draft, form, problems)
	}
	return v.moveOn(to, "discarded")
}

// procedureAct is where the page goes on after a button.
type procedureAct struct {
	page, open, at string // open: the step that stays unfolded; at: a place on the page
}

func (a procedureAct) address() string {
	to := a.page
	if a.open != "" {
		to += "?open=" + a.open
	}
	if a.at != "" {
		to += "#" + a.at
	}
	return to
}

// procedureAct does what the button pressed says with the draft.
func (v *visit) procedureAct(p procedures.Procedure, to procedureAct) (procedures.Procedure, procedureAct, error) {
	do, what, _ := strings.Cut(v.typed("do"), ".")
	var err error
	switch do {
	case "up", "down":
		by := 1
		if do == "up" {
			by = -1
		}
		to.at = "s-" + what
		p, err = p.MoveStep(procedures.StepID(what), by)
	case "drop":
		to.at = "steps"
		p, err = p.DropStep(procedures.StepID(what))
	case "step":
		to.open, to.at = what, "s-"+what
	case "add":
		to.at = "stage-" + what
	case "anew":
		p, err = v.writtenAnew(p)
	case "publish":
		to.page = "/procedures/" + string(p.ID) + "/publish"
	}
	return p, to, err
}

// writtenAnew has its energies, devices and steps from the register as it
// stands; title and texts stay.
func (v *visit) writtenAnew(p procedures.Procedure) (procedures.Procedure, error) {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return p, err
	}
	fresh, err := plant.DraftProcedure(p.ID, p.Title, p.Equipment...)
	if err != nil {
		return p, err
	}
	words, err := starters.In(v.words.Lang())
	if err != nil {
		return p, err
	}
	fresh = words.Drafted(fresh)
	p.Energies, p.Devices, p.Steps, p.Holds = fresh.Energies, fresh.Devices, fresh.Steps, fresh.Holds
	return p, nil
}

// behind is what the register says and p doesn't.
func behind(plant procedures.Plant, p procedures.Procedure) []plain.Sentence {
	var all []plain.Sentence
	for _, id := range plant.LeftOut(p) {
		all = append(all, plain.Say("an energy that is left out here: %s", energyIn(plant, id)))
	}
	for _, short := range plant.ShortWaits(p) {
		for _, s := range p.Steps {
			if s.ID == short.Step {
				all = append(all, plain.Say("a wait shorter than the measured coast time asks for, %[1]s: %[2]s", short.Asks, s.Text))
			}
		}
	}
	return all
}

// gapsIn is what keeps p from being published.
func gapsIn(p procedures.Procedure) []gapLine {
	var problems plain.Problems
	problems.Add("", p.Validate())
	var gaps []gapLine
	for _, one := range placedInEdit(problems, p) {
		about := plain.Sentence{}
		for _, e := range p.Energies {
			if one.Field == "size."+string(e.ID) {
				about = plain.Say("%s", e.Source)
			}
		}
		for _, d := range p.Devices {
			if one.Field == "label."+string(d.ID) {
				about = plain.Say("%s", d.Label)
			}
		}
		for _, s := range p.Steps {
			if one.Field == "step."+string(s.ID) {
				about = plain.Say("%s", s.Text)
			}
		}
		said := one.Want
		if !about.Empty() {
			said = plain.Say("%[1]s: %[2]s", about, one.Want)
		}
		gaps = append(gaps, gapLine{said, one.Field})
	}
	return gaps
}

// placedInEdit moves what keeps a procedure from being published to the field
// where it can be put right.
func placedInEdit(problems plain.Problems, p procedures.Procedure) plain.Problems {
	for i, one := range problems {
		what, which, _ := strings.Cut(one.Field, " ")
		switch at := whole(which); {
		case what == "step" && at >= 1 && at <= len(p.Steps):
			problems[i].Field = "step." + string(p.Steps[at-1].ID)
		case what == "energy":
			problems[i].Field = "size." + which
		case what == "device":
			problems[i].Field = "label." + which
		}
	}
	return problems
}

func (v *visit) procedureEditPage(draft draftOfProcedure, form procedureForm, problems plain.Problems) error {
	f := v.frame("%s: editing the draft", draft.Title)
	f.Problems = problems
	page := procedureEditPage{Frame: f, ID: string(draft.ID), Submission: form.submission, Revision: form.revision, HasDraft: draft.Revision > 0, Cautions: procedures.Cautions()}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page.Gaps, page.Behind = gapsIn(draft.Procedure), behind(plant, draft.Procedure)
	before := func(string) string { return "" }
	inForce, err := v.desk.Procedure(v.ctx(), draft.ID, 0)
	switch {
	case err == nil:
		page.InForce, before = inForce.Version, procedureTyped(inForce)
	case !errors.Is(err, store.ErrNotFound):
		return err
	}
	// Beside each field that differs stands what is in force.
	compared := func(field views.Field) views.Field {
		if was := before(field.Name); page.InForce > 0 && was != field.Value {
			if was == "" {
				was = f.T("nothing")
			}
			return field.WithHint(strings.TrimSpace(field.Hint + " " + f.T("In force now: %s", was)))
		}
		return field
	}
	text := func(name, label string) views.Field { return compared(f.TextField(name, label, form.typed(name))) }
	area := func(name, label string) views.Field { return compared(f.AreaField(name, label, form.typed(name))) }
	number := func(name, label string) views.Field {
		return compared(f.NumberField(name, label, form.typed(name)))
	}
	page.Texts = []views.Field{text("title", f.T("Name")), area("purpose", f.T("Purpose")), area("scope", f.T("Scope: for which work")),
		area("authorization", f.T("Who may do it")), area("rules", f.T("Rules")), area("techniques", f.T("Techniques")), area("enforcement", f.T("How it is enforced"))}
	for _, e := range draft.Energies {
		id := string(e.ID)
		part := editPart{Heading: e.Source, Hint: e.Hazard, Fields: []views.Field{text("size."+id, f.T("Size, with its unit"))}}
		if e.Kind == procedures.Rotation {
			part.Fields = append(part.Fields, number("coast."+id, f.T("Coast time from stop to still, measured")).WithUnit(f.T("s")))
		}
		page.Energies = append(page.Energies, part)
	}
	for _, d := range draft.Devices {
		id := string(d.ID)
		page.Devices = append(page.Devices, editPart{Heading: d.Label, Hint: f.Say(d.Kind.Words()), Fields: []views.Field{
			number("number."+id, f.T("Number, as painted at the machine")), text("label."+id, f.T("What it is called")), text("place."+id, f.T("Where it is"))}})
	}
	page.Stages = editStages(f, draft.Procedure, form.typed, compared, v.Query("open"))
	return v.show("procedure-edit", page, problems)
}
