package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// careForm is what was typed into the forms beside the mending.
type careForm struct {
	Assigned, Due             string
	MendBy, StopGap, Reason   string
	Kind, Text, Photo, Opened string // Opened: which of them was sent, or asked for
}

// defectCare is what is done about a defect besides mending it.
type defectCare struct {
	Form     careForm
	Given    string         // who is to see to it
	Again    plain.Sentence // that it is an earlier one come back
	Earlier  string         // its address
	Later    []defectLine   // what came back of this one
	Age      string
	MayGive  bool
	MayDate  bool
	MayNote  bool
	Kinds    []views.Choice
	Crew     []views.Choice
	Overdue  bool
	Own      bool // the visitor can only take it on
	OwnNamed string
}

func (p *defectPage) care(v *visit, form careForm, names map[procedures.PersonID]string) error {
	d := p.D
	if form.Opened == "" {
		form = careForm{Opened: v.Query("act"), Assigned: string(d.Assigned), Due: v.dayText(d.Due), MendBy: v.dayText(d.MendBy), StopGap: d.StopGap}
	}
	unmended := d.Open() && !d.AwaitsReturn()
	p.Care = defectCare{Form: form, Given: names[d.Assigned], Again: timesFound(d), Age: p.Span(d.OpenFor(v.now)), Overdue: d.Overdue(v.now),
		MayGive: unmended && v.person.Works(), MayDate: unmended && v.person.Supervises() && !d.StopsNow(v.now), MayNote: v.person.Works(),
		Own: !v.person.Supervises(), OwnNamed: v.person.Name}
	if d.Again != "" {
		p.Care.Earlier = "/defects/" + string(d.Again)
	}
	for _, kind := range []checklists.NoteKind{checklists.Noted, checklists.Ordered, checklists.Arrived, checklists.Used} {
		p.Care.Kinds = append(p.Care.Kinds, views.Offer(string(kind), p.Say(noteWords(kind))))
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	for _, one := range people {
		if one.Works() {
			p.Care.Crew = append(p.Care.Crew, views.Choice{Value: string(one.ID), Text: one.Name})
		}
	}
	return p.comeBack(v, names)
}

// comeBack lists the defects that are this one come back.
func (p *defectPage) comeBack(v *visit, names map[procedures.PersonID]string) error {
	later, err := v.desk.DefectsSince(v.ctx(), p.D.At)
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	for _, d := range later {
		if d.Again == p.D.ID {
			p.Care.Later = append(p.Care.Later, defectOf(p.Frame, d, plant, names))
		}
	}
	return err
}

// Lines is the part that lists defects.
func (p defectPage) Lines(lines []defectLine) defectLines { return defectLines{p.Frame, lines} }

// cared ends an act beside the mending: on to the defect, or the form again.
func (v *visit) cared(d checklists.Defect, form careForm, done string, problems plain.Problems, act func() error) error {
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		if problems, err = problemsOf(act()); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.defectPage(d, form.Opened, defectForm{care: form}, problems)
	}
	return v.moveOn("/defects/"+string(d.ID), done)
}

func (s *Server) assignDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	form := careForm{Opened: "assign", Assigned: v.typed("assigned"), Due: v.typed("due")}
	return v.cared(d, form, "assigned", nil, func() error {
		return v.desk.AssignDefect(v.ctx(), v.submission(), d.ID, procedures.PersonID(form.Assigned), endOfDay(form.Due, v.zone), v.person, v.now)
	})
}

func (s *Server) redateDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	form := careForm{Opened: "date", MendBy: v.typed("mend_by"), StopGap: v.typed("stop_gap"), Reason: v.typed("reason")}
	return v.cared(d, form, "redated", nil, func() error {
		return v.desk.RedateDefect(v.ctx(), v.submission(), d.ID, endOfDay(form.MendBy, v.zone), form.StopGap, form.Reason, v.person, v.now)
	})
}

func (s *Server) noteDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	form := careForm{Opened: "note", Kind: v.typed("kind"), Text: v.typed("text")}
	photo, problems, err := v.photoOrBefore("note_photo")
	if err != nil {
		return err
	}
	form.Photo = photo
	return v.cared(d, form, "noted", problems, func() error {
		return v.desk.NoteDefect(v.ctx(), v.submission(), d.ID, checklists.DefectNote{Kind: checklists.NoteKind(form.Kind), Text: form.Text, Photo: photo}, v.person, v.now)
	})
}
