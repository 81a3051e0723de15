package server

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
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
	Texts      []views.Field
	Energies   []editPart
	Devices    []editPart
	Stages     []editPart
	Clauses    []string
	Cautions   []plain.Sentence
}

// editPart is a heading with the fields under it.
type editPart struct {
	Heading string
	Hint    string
	Fields  []views.Field
}

func (s *Server) showProcedureEdit(v *visit) error {
	draft, err := v.procedureToEdit(v.Params("id"))
	if err != nil {
		return err
	}
	return v.procedureEditPage(draft, procedureForm{revision: strconv.Itoa(draft.Revision), submission: store.NewID(), typed: wordingTyped(draft.Wording())}, nil)
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

// wordingTyped is a wording as it stands in the fields.
func wordingTyped(w procedures.Wording) func(string) string {
	fields := map[string]string{"title": w.Title, "purpose": w.Purpose, "scope": w.Scope, "authorization": w.Authorization,
		"rules": w.Rules, "techniques": w.Techniques, "enforcement": w.Enforcement}
	for id, size := range w.Sizes {
		fields["size."+string(id)] = size
		fields["coast."+string(id)] = seconds(procedures.Energy{Coast: w.Coasts[id]})
	}
	for id, m := range w.Devices {
		fields["label."+string(id)], fields["place."+string(id)], fields["number."+string(id)] = m.Label, m.Place, strconv.Itoa(m.Number)
	}
	for id, text := range w.Steps {
		fields["step."+string(id)] = text
	}
	return func(field string) string { return fields[field] }
}

// wording reads the form of p. What isn't a number is a problem here; what may
// be said the domain knows.
func (v *visit) wording(p procedures.Procedure, problems *plain.Problems) procedures.Wording {
	w := p.Wording()
	w.Title, w.Purpose, w.Scope, w.Authorization = v.typed("title"), v.typed("purpose"), v.typed("scope"), v.typed("authorization")
	w.Rules, w.Techniques, w.Enforcement = v.typed("rules"), v.typed("techniques"), v.typed("enforcement")
	for _, e := range p.Energies {
		id := string(e.ID)
		w.Sizes[e.ID] = v.typed("size." + id)
		w.Coasts[e.ID] = 0
		if typed := v.typed("coast." + id); typed != "" {
			measured, err := strconv.ParseFloat(typed, 64)
			// Below a tenth of a second it is no measurement; huge ones overflow a time.
			if ok := err == nil && measured >= 0.1 && measured <= procedures.CoastMost.Seconds(); ok {
				w.Coasts[e.ID] = time.Duration(math.Ceil(measured*10)) * (time.Second / 10)
			} else {
				problems.Unless(false, "coast."+id, "a number of seconds, at most %s; empty while not yet measured", procedures.CoastMost)
			}
		}
	}
	for _, d := range p.Devices {
		id := string(d.ID)
		w.Devices[d.ID] = procedures.Marking{Label: v.typed("label." + id), Place: v.typed("place." + id), Number: whole(v.typed("number." + id))}
	}
	for _, s := range p.Steps {
		w.Steps[s.ID] = v.typed("step." + string(s.ID))
	}
	return w
}

// editProcedure keeps the draft, or signs it and puts it in force.
func (s *Server) editProcedure(v *visit) error {
	id := v.Params("id")
	draft, err := v.procedureToEdit(id)
	if err != nil {
		return err
	}
	form := procedureForm{revision: v.typed("revision"), submission: v.submission(), typed: v.typed}
	var problems plain.Problems
	reworded, err := draft.Reworded(v.wording(draft.Procedure, &problems))
	problems.Add("", err)
	publish := v.typed("do") == "publish"
	if publish {
		wrong, err := v.sign()
		if err != nil {
			return err
		}
		problems = append(problems, wrong...)
	}
	if len(problems) > 0 {
		return v.procedureEditPage(draft, form, problems)
	}
	doc, err := store.DraftOf(store.Procedures, id, reworded.Title, reworded)
	if err != nil {
		return err
	}
	doc.Revision = whole(form.revision)
	to, done := "/procedures/"+id+"/edit", "draft"
	if publish {
		to, done = "/procedures/"+id, "published"
		err = v.desk.PublishDraft(v.ctx(), form.submission, doc, v.person, v.now, store.NumberProcedure)
	} else {
		err = v.desk.KeepDraft(v.ctx(), doc, v.now)
	}
	if problems, err = problemsOf(err); err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.procedureEditPage(draft, form, placedInEdit(problems, draft.Procedure))
	}
	return v.moveOn(to, done)
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
	before := func(string) string { return "" }
	inForce, err := v.desk.Procedure(v.ctx(), draft.ID, 0)
	switch {
	case err == nil:
		page.InForce, before = inForce.Version, wordingTyped(inForce.Wording())
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
	for _, stage := range stagesToRead(draft.Procedure) {
		part := editPart{Heading: f.Say(stage.Words), Hint: stage.Clause}
		for i, s := range stage.Steps {
			part.Fields = append(part.Fields, area("step."+string(s.ID), f.T("Step %d", i+1)))
		}
		if len(stage.Steps) > 0 {
			page.Stages = append(page.Stages, part)
		}
	}
	return v.show("procedure-edit", page, problems)
}
