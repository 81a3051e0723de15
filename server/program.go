package server

import (
	"errors"
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) programRoutes() {
	s.get("/program", signedIn, s.showProgram)
	s.get("/program/edit", supervisors, s.showProgramEdit)
	s.post("/program/edit", supervisors, s.signProgram)
}

type programPage struct {
	*views.Frame
	Program  procedures.Program
	Said     bool // somebody entered the program
	InCharge string
	By       string
	Basis    plain.Sentence
	Lines    []programLine
	Actions  []actionLine
	Affected []affectedLine
	Signs    bool // may sign the program
	Inspects bool // may sign an inspection
	Cautions []plain.Sentence
}

// programLine is one procedure with its three lights.
type programLine struct {
	Title, Href, Inspect  string
	Version               int
	Lights                []light
	Due                   plain.Sentence
	Last, LastOn, LastHas string // the newest inspection: address, day, and who
	Ready                 bool
	Lacking               []lackingLine
}

// light is one of the three, on or with why not.
type light struct {
	Name plain.Sentence
	On   bool
	Gap  procedures.Gap
}

type lackingLine struct {
	Who string
	Gap procedures.Gap
}

type affectedLine struct {
	Machine string
	People  []string
}

// actionLine is a finding of an inspection that is still to be seen to.
type actionLine struct {
	Href, Said, Owner, Due string
	Late                   bool
}

func (s *Server) showProgram(v *visit) error {
	states, err := v.desk.ProgramState(v.ctx(), v.now)
	if err != nil {
		return err
	}
	program, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	inspected, err := v.desk.ProcedureInspections(v.ctx(), "")
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := programPage{Frame: v.frame("Lockout program"), Program: program, Said: program.SetUp(), InCharge: names[program.InCharge], By: names[program.By],
		Basis: v.law(program).Basis(), Signs: v.person.Role == procedures.Supervisor && v.person.Supervises(), Inspects: v.person.Works(), Cautions: procedures.Cautions()}
	lacking := 0
	for _, state := range states {
		line := page.line(state, names)
		if !line.Ready {
			lacking++
		}
		for _, in := range slices.Backward(inspected) {
			if in.Procedure == state.Procedure.ID {
				line.Last, line.LastOn, line.LastHas = "/procedure-inspections/"+string(in.ID), page.Day(in.On), inspectorName(in, names)
				break
			}
		}
		page.Lines = append(page.Lines, line)
	}
	slices.SortStableFunc(page.Lines, func(a, b programLine) int {
		switch {
		case a.Ready == b.Ready:
			return 0
		case b.Ready:
			return -1
		}
		return 1
	})
	if page.Actions, err = v.openActions(page.Frame, inspected, names); err != nil {
		return err
	}
	if page.Affected, err = v.affectedLines(program, names); err != nil {
		return err
	}
	page.Title = programTitle(len(states), lacking, page.Said)
	return v.show("program", page, nil)
}

func programTitle(all, lacking int, said bool) plain.Sentence {
	switch {
	case all == 0:
		return plain.Say("Lockout program: no procedure is in force")
	case lacking > 0:
		return plain.Say("Lockout program: %[1]d of %[2]d procedures lack something", lacking, all)
	case !said:
		return plain.Say("Lockout program: not written yet")
	}
	return plain.Say("Lockout program: every procedure written, trained and inspected")
}

// law is what the mill works under: what its program says, else what was
// answered when the mill was set up.
func (v *visit) law(p procedures.Program) procedures.Law {
	if p.Law != "" {
		return p.Law
	}
	return procedures.Law(v.mill.SetUp.Law)
}

func (p programPage) line(state store.ProcedureState, names map[procedures.PersonID]string) programLine {
	line := programLine{Title: state.Procedure.Title, Href: "/procedures/" + string(state.Procedure.ID), Version: state.Procedure.Version, Due: state.Due.Words(), Ready: state.Lights.Ready(),
		Lights: []light{{plain.Say("Written"), state.Lights.Written.On, state.Lights.Written.Gap}, {plain.Say("Trained"), state.Lights.Trained.On, state.Lights.Trained.Gap},
			{plain.Say("Inspected"), state.Lights.Inspected.On, state.Lights.Inspected.Gap}}}
	if p.Inspects {
		line.Inspect = line.Href + "/inspections/new"
	}
	for _, gap := range state.Lights.Lacking {
		if gap.Person != "" {
			line.Lacking = append(line.Lacking, lackingLine{names[gap.Person], gap.Gap})
		}
	}
	return line
}

func inspectorName(in procedures.ProcedureInspection, names map[procedures.PersonID]string) string {
	if in.Inspector == "" {
		return in.Outside + ", " + in.Firm
	}
	return names[in.Inspector]
}

func (v *visit) openActions(f *views.Frame, inspected []procedures.ProcedureInspection, names map[procedures.PersonID]string) ([]actionLine, error) {
	done, err := v.desk.FindingsSeenTo(v.ctx())
	if err != nil {
		return nil, err
	}
	var lines []actionLine
	for _, a := range procedures.OpenActions(inspected, done, v.now) {
		lines = append(lines, actionLine{Href: "/procedure-inspections/" + string(a.Inspection), Said: a.Finding.Said, Owner: names[a.Finding.Owner], Due: f.Day(a.Finding.Due), Late: a.Late})
	}
	return lines, nil
}

func (v *visit) affectedLines(program procedures.Program, names map[procedures.PersonID]string) ([]affectedLine, error) {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return nil, err
	}
	var lines []affectedLine
	for _, a := range program.Affected {
		line := affectedLine{Machine: nameIn(plant, a.Equipment)}
		for _, id := range a.People {
			line.People = append(line.People, names[id])
		}
		if len(line.People) > 0 {
			lines = append(lines, line)
		}
	}
	return lines, nil
}

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
		err := v.desk.EditProgram(v.ctx(), v.submission(), v.typed("seen"), form.program(plant), v.person, v.now)
		if err == nil {
			return v.moveOn("/program", "program")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.programEditPage(form, v.submission(), v.typed("seen"), problems)
}

// inspectionDue is a procedure whose yearly inspection is near, over, or due at
// its next use, for the pages that tell what falls due.
type inspectionDue struct {
	Title, Href string
	Said        plain.Sentence
	Over        bool
}

// inspectionsDue lists them by procedure; none where nothing is due.
func (v *visit) inspectionsDue() (map[procedures.ProcedureID]inspectionDue, []inspectionDue, error) {
	states, err := v.desk.ProgramState(v.ctx(), v.now)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return nil, nil, err
	}
	of, list := map[procedures.ProcedureID]inspectionDue{}, []inspectionDue(nil)
	for _, state := range states {
		if state.Due.State == procedures.DueLater {
			continue
		}
		due := inspectionDue{Title: state.Procedure.Title, Href: "/procedures/" + string(state.Procedure.ID) + "/inspections/new", Said: state.Due.Words(),
			Over: state.Due.State == procedures.DueOverdue}
		of[state.Procedure.ID] = due
		list = append(list, due)
	}
	return of, list, nil
}
