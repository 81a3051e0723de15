package checklists

import (
	"slices"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// program gathers the mill's word on energy control, 29 CFR 1910.147(c)(1), with
// each procedure that isn't ready.
func (g *gathering) program(row *ClauseRow) {
	if !g.Program.SetUp() {
		row.Gaps = append(row.Gaps, ClauseGap{Said: plain.Say("Nobody has entered the program yet."), Kind: ByProgram})
	} else {
		row.Evidence = append(row.Evidence, Evidence{Kind: ByProgram, What: plain.Say("The program, as last signed"), On: g.Program.At, By: g.Program.By})
	}
	for _, p := range g.Procedures {
		if !p.Lights.Ready() {
			row.Gaps = append(row.Gaps, ClauseGap{Said: plain.Say("%s isn't ready: see what is missing below.", p.Procedure.Title), Kind: ByProcedure, Ref: string(p.Procedure.ID)})
		}
	}
}

// procedures gathers the procedures in force and the machines none is for.
func (g *gathering) procedures(row *ClauseRow) {
	for _, p := range g.Procedures {
		row.Evidence = append(row.Evidence, Evidence{Kind: ByProcedure, Ref: string(p.Procedure.ID), What: plain.Say("%[1]s, version %[2]d", p.Procedure.Title, p.Procedure.Version)})
	}
	for _, e := range g.Plant {
		covered := slices.ContainsFunc(g.Procedures, func(p ProcedureStanding) bool { return slices.Contains(p.Procedure.Equipment, e.ID) })
		if len(e.Energies) > 0 && !covered {
			row.Gaps = append(row.Gaps, ClauseGap{Said: plain.Say("%s holds energy, and no procedure in force is for it. Where all eight parts of the exception hold, none need be written.", e.Name)})
		}
	}
	if len(g.Procedures) == 0 && len(row.Gaps) == 0 {
		row.NotHere = plain.Say("No equipment with energy is entered.")
	}
}

// inspected gathers the yearly inspection of each procedure in force.
func (g *gathering) inspected(row *ClauseRow) {
	for _, p := range g.Procedures {
		e := Evidence{Kind: ByProcedure, Ref: string(p.Procedure.ID), What: plain.Say("%s inspected", p.Procedure.Title), Due: p.Due.By}
		for _, in := range p.Inspected {
			if in.On.After(e.On) && !in.On.After(g.now) {
				e.Kind, e.Ref, e.On, e.By, e.Who = ByProcedureInspection, string(in.ID), in.On, in.Inspector, in.Outside
			}
		}
		row.Evidence = append(row.Evidence, e)
		if !p.Lights.Inspected.On {
			row.Gaps = append(row.Gaps, ClauseGap{Said: plain.Say("%[1]s: %[2]s", p.Procedure.Title, p.Due.Words()), Kind: ByProcedure, Ref: string(p.Procedure.ID)})
		}
	}
	if len(g.Procedures) == 0 {
		row.NotHere = plain.Say("No procedure is in force.")
	}
}

// trained gathers the newest training of each person, and who lacks it.
func (g *gathering) trained(row *ClauseRow) {
	g.training(row, false)
	g.lacking(row, "(c)(7)(i)", "(c)(7)(ii)", "(c)(7)(iv)")
	var all []procedures.Procedure
	for _, p := range g.Procedures {
		all = append(all, p.Procedure)
	}
	for _, e := range g.Plant {
		for _, gap := range procedures.AffectedGaps(e.ID, g.Program.Affected, all, g.Trainings, g.now) {
			if slices.ContainsFunc(g.People, func(p procedures.Person) bool { return p.ID == gap.Person && p.Left }) {
				continue // the program as signed still names who has left since
			}
			row.Gaps = append(row.Gaps, ClauseGap{Said: plain.Say("%[1]s: %[2]s", e.Name, gap.Why), Person: gap.Person, Kind: ByTraining, Ref: string(gap.Person)})
		}
	}
	if len(row.Evidence) == 0 && len(row.Gaps) == 0 {
		row.Gaps = append(row.Gaps, ClauseGap{Said: plain.Say("Nobody is on record as trained.")})
	}
}

// retrained gathers the newest retraining of each person, and who waits for one.
func (g *gathering) retrained(row *ClauseRow) {
	g.training(row, true)
	g.lacking(row, "(c)(7)(iii)")
	if len(row.Evidence) == 0 && len(row.Gaps) == 0 {
		row.NotHere = plain.Say("Nothing on record asks for training again.")
	}
}

func (g *gathering) training(row *ClauseRow, again bool) {
	for _, who := range g.People {
		var last procedures.Training
		for _, t := range g.Trainings {
			if t.Person == who.ID && t.Again == again && !t.On.After(g.now) && !t.On.Before(last.On) {
				last = t
			}
		}
		if last.ID != "" && !who.Left {
			row.Evidence = append(row.Evidence, Evidence{Kind: ByTraining, Ref: string(who.ID), What: plain.Say("%[1]s: %[2]s", who.Name, last.Level.Words()), On: last.On, Who: last.Trainer, By: last.By, Due: last.Expires})
		}
	}
}

// lacking adds what people lack on a procedure by these clauses of 1910.147.
func (g *gathering) lacking(row *ClauseRow, paragraphs ...string) {
	for _, p := range g.Procedures {
		for _, gap := range p.Lights.Lacking {
			_, paragraph, _ := strings.Cut(gap.Clause, "1910.147")
			if slices.ContainsFunc(paragraphs, func(one string) bool { return strings.HasPrefix(paragraph, one) }) {
				row.Gaps = append(row.Gaps, ClauseGap{Said: plain.Say("%[1]s: %[2]s", p.Procedure.Title, gap.Why), Person: gap.Person, Kind: ByTraining, Ref: string(gap.Person)})
			}
		}
	}
}
