package server

import (
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// programForm is what was typed.
type programForm struct {
	Purpose, Duty, InCharge, Scope, Enforcement, Law, AbsentOwner, LockColour, TagStandard string
	Combinations                                                                           bool
	Affected                                                                               map[string][]string // people by equipment
}

type programEditPage struct {
	*views.Frame
	Submission string
	Seen       string
	Form       programForm
	Crew       []views.Choice
	Laws       []views.Choice
	Affected   []views.TickGroup
	Cautions   []plain.Sentence
}

func (s *Server) showProgramEdit(v *visit) error {
	p, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	form := programForm{Purpose: p.Purpose, Duty: p.Duty, InCharge: string(p.InCharge), Scope: p.Scope, Enforcement: p.Enforcement, Law: string(v.law(p)),
		AbsentOwner: p.AbsentOwner, LockColour: p.LockColour, TagStandard: p.TagStandard, Combinations: p.Combinations, Affected: map[string][]string{}}
	for _, a := range p.Affected {
		for _, id := range a.People {
			form.Affected[string(a.Equipment)] = append(form.Affected[string(a.Equipment)], string(id))
		}
	}
	return v.programEditPage(form, store.NewID(), store.Mark(p), nil)
}

func (v *visit) programEditPage(form programForm, submission, seen string, problems plain.Problems) error {
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := programEditPage{Frame: v.frame("The lockout program of this mill"), Submission: submission, Seen: seen, Form: form, Cautions: procedures.Cautions()}
	page.Problems = problems
	for _, p := range people {
		if p.Works() {
			page.Crew = append(page.Crew, views.Choice{Value: string(p.ID), Text: p.Name})
		}
	}
	page.Laws = setUpPage{Frame: page.Frame}.LawChoices()
	for _, e := range plant {
		if e.Kind == procedures.Site {
			continue
		}
		var ticks []views.Tick
		for _, p := range people {
			if ticked := slices.Contains(form.Affected[string(e.ID)], string(p.ID)); p.Works() || ticked {
				ticks = append(ticks, views.Tick{Value: string(p.ID), Text: p.Name, Ticked: ticked})
			}
		}
		page.Affected = append(page.Affected, page.TicksField("affected."+string(e.ID), e.Name, ticks))
	}
	return v.show("program-edit", page, problems)
}

func (v *visit) typedProgram(plant procedures.Plant) programForm {
	form := programForm{Purpose: v.typed("purpose"), Duty: v.typed("duty"), InCharge: v.typed("in_charge"), Scope: v.typed("scope"), Enforcement: v.typed("enforcement"), Law: v.typed("law"),
		AbsentOwner: v.typed("absent_owner"), LockColour: v.typed("lock_colour"), TagStandard: v.typed("tag_standard"), Combinations: v.typed("combinations") == "yes", Affected: map[string][]string{}}
	for _, e := range plant {
		form.Affected[string(e.ID)] = v.chosen("affected." + string(e.ID))
	}
	return form
}

func (f programForm) program(plant procedures.Plant) procedures.Program {
	p := procedures.Program{Purpose: f.Purpose, Duty: f.Duty, InCharge: procedures.PersonID(f.InCharge), Scope: f.Scope, Enforcement: f.Enforcement, Law: procedures.Law(f.Law),
		AbsentOwner: f.AbsentOwner, LockColour: f.LockColour, TagStandard: f.TagStandard, Combinations: f.Combinations}
	for _, e := range plant {
		one := procedures.Affected{Equipment: e.ID}
		for _, id := range f.Affected[string(e.ID)] {
			one.People = append(one.People, procedures.PersonID(id))
		}
		if len(one.People) > 0 {
			p.Affected = append(p.Affected, one)
		}
	}
	return p
}

func (s *Server) signProgram(v *visit) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	form := v.typedProgram(plant)
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.EditProgram(v.ctx(), v.submission(), v.since(), form.program(plant), v.person, v.now)
		if err == nil {
			return v.moveOn("/program", "program")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	stored, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	return v.again(problems, stands{store.KindProgram, "", store.Mark(stored), func() error { return s.showProgramEdit(v) }},
		func() error { return v.programEditPage(form, v.submission(), v.typed("seen"), problems) })
}
