package server

import (
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

// inspectionDue is a procedure whose yearly inspection is near, over, or due at
// its next use, for the pages that tell what falls due.
type inspectionDue struct {
	Title, Href string
	Said        plain.Sentence
	Over        bool
}

// inspectionsDue lists them by procedure; none where nothing is due.
func (v *visit) inspectionsDue() (map[procedures.ProcedureID]inspectionDue, []inspectionDue, error) {
	all, err := v.desk.InspectionsDue(v.ctx(), v.now)
	if err != nil {
		return nil, nil, err
	}
	of, list := map[procedures.ProcedureID]inspectionDue{}, []inspectionDue(nil)
	for _, one := range all {
		if one.Due.State == procedures.DueLater {
			continue
		}
		due := inspectionDue{Title: one.Title, Href: "/procedures/" + string(one.ID) + "/inspections/new", Said: one.Due.Words(),
			Over: one.Due.State == procedures.DueOverdue}
		of[one.ID] = due
		list = append(list, due)
	}
	return of, list, nil
}
