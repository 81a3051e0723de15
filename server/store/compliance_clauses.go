package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
)

// ClauseFacts loads what the clauses of the law are held against, as of now.
func (m *Mill) ClauseFacts(ctx context.Context, now time.Time) (f checklists.ClauseFacts, err error) {
	if f.Facts, err = m.Facts(ctx, now); err != nil {
		return f, err
	}
	r := ctxReader{m, ctx}
	if f.Trainings, err = trainings(r, m.id); err != nil {
		return f, err
	}
	if f.Program, err = program(r, m.id); err != nil {
		return f, err
	}
	if f.Safety, f.SafetyChecks, err = m.Safety(ctx); err != nil {
		return f, err
	}
	states, err := m.ProgramState(ctx, now)
	if err != nil {
		return f, err
	}
	inspected, err := procedureInspections(r, m.id, "")
	if err != nil {
		return f, err
	}
	for _, state := range states {
		p := checklists.ProcedureStanding{Procedure: state.Procedure, Lights: state.Lights, Due: state.Due}
		for _, in := range inspected {
			if in.Procedure == state.Procedure.ID {
				p.Inspected = append(p.Inspected, in)
			}
		}
		f.Procedures = append(f.Procedures, p)
	}
	known, err := gear(r, string(m.id), "")
	if err != nil {
		return f, err
	}
	f.Gear = known.parts()
	return f, nil
}

// parts are those of every rig in force with the inspections they come round to.
func (g Gear) parts() []checklists.GearPart {
	var parts []checklists.GearPart
	for _, version := range g.Register.Versions {
		if !version.InForce {
			continue
		}
		rig := version.Rig
		looked, _ := g.Register.Of(&rig)
		for i := range rig.Links {
			l := &rig.Links[i]
			part := checklists.GearPart{Rig: rig.ID, Link: l.ID, Name: l.Name, Rounds: l.Rounds(looked), By: map[lift.Every]procedures.PersonID{}}
			inspections, _ := g.Of(&rig, l.ID)
			for _, in := range inspections { // the oldest first
				every := in.looked().Every
				for _, one := range part.Rounds {
					if in.Fit && every >= one.Every && in.At.Equal(one.Last) {
						part.By[one.Every] = in.By
					}
				}
			}
			parts = append(parts, part)
		}
	}
	return parts
}
