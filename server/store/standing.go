package store

import (
	"context"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// Standing loads what decides whether somebody may go to work by a version of a
// procedure.
func (m *Mill) Standing(ctx context.Context, who procedures.Person, p procedures.Procedure) (procedures.Standing, error) {
	return standing(ctxReader{m, ctx}, m.id, who, p)
}

func standing(r reader, mill checklists.MillID, who procedures.Person, p procedures.Procedure) (s procedures.Standing, err error) {
	s.Person, s.Learned.Person = who, who.ID
	if s.Learned.Trainings, s.NoneEntered, err = trainingsOf(r, mill, who.ID); err != nil {
		return s, err
	}
	if s.Learned.Editions, err = editions(r, mill, p.ID); err != nil {
		return s, err
	}
	if s.Learned.Inspections, err = procedureInspections(r, mill, p.ID); err != nil {
		return s, err
	}
	if s.Locks, err = locks(r, mill); err != nil {
		return s, err
	}
	if s.Contractors, err = contractors(r, mill); err != nil {
		return s, err
	}
	if s.Others, err = openLockouts(r, mill); err != nil {
		return s, err
	}
	if s.Plant, err = plant(r, mill); err != nil {
		return s, err
	}
	s.Program, err = program(r, mill)
	return s, err
}

// editions are the versions of a procedure that were put in force.
func editions(r reader, mill checklists.MillID, id procedures.ProcedureID) ([]procedures.Edition, error) {
	all, err := editionsOf(r, mill, id)
	return all[id], err
}

// editionsOf are the versions of each procedure that were put in force, the
// oldest first; of one alone where id isn't "".
func editionsOf(r reader, mill checklists.MillID, id procedures.ProcedureID) (map[procedures.ProcedureID][]procedures.Edition, error) {
	var rows []publicationRow
	if err := r.gorm().Order("version").Find(&rows, "mill = ? AND sort = ? AND (? = '' OR id = ?)", mill, Procedures, id, id).Error; err != nil {
		return nil, err
	}
	onlyWords, err := wordings(r, mill, id)
	if err != nil {
		return nil, err
	}
	all := map[procedures.ProcedureID][]procedures.Edition{}
	for _, row := range rows {
		p, err := readOnce[procedures.Procedure](r, row.Doc)
		if err != nil {
			return nil, err
		}
		of := procedures.ProcedureID(row.ID)
		all[of] = append(all[of], procedures.Edition{Procedure: of, Version: row.Version, Wording: onlyWords[worded{of, row.Version}], Kinds: p.Kinds(), Since: timeOf(row.At)})
	}
	return all, nil
}

// ProcedureState is how one procedure in force stands, and when its inspection
// is due.
type ProcedureState struct {
	Procedure procedures.Procedure
	Lights    procedures.Lights
	Due       procedures.InspectionDue
}

// ProgramState loads how each procedure in force stands, 29 CFR 1910.147(c)(1).
func (m *Mill) ProgramState(ctx context.Context, now time.Time) ([]ProcedureState, error) {
	r := ctxReader{m, ctx}
	inForce, err := inForce(r, m.id, Procedures)
	if err != nil {
		return nil, err
	}
	crew, err := people(r, m.id)
	if err != nil {
		return nil, err
	}
	entered, err := trainings(r, m.id)
	if err != nil {
		return nil, err
	}
	known, err := editionsOf(r, m.id, "")
	if err != nil {
		return nil, err
	}
	inspected, err := procedureInspections(r, m.id, "")
	if err != nil {
		return nil, err
	}
	due, err := m.InspectionsDue(ctx, now)
	if err != nil {
		return nil, err
	}
	dueOf := map[procedures.ProcedureID]procedures.InspectionDue{}
	for _, d := range due {
		dueOf[d.ID] = d.Due
	}
	var states []ProcedureState
	for _, one := range inForce {
		p, err := read[procedures.Procedure](one.Doc)
		if err != nil {
			return nil, err
		}
		own := slices.DeleteFunc(slices.Clone(inspected), func(in procedures.ProcedureInspection) bool { return in.Procedure != p.ID })
		trained := learnedBy(procedures.AuthorizedFor(p, crew, entered), entered, known[p.ID], own)
		states = append(states, ProcedureState{p, procedures.ProgramState(p, trained, dueOf[p.ID], now), dueOf[p.ID]})
	}
	return states, nil
}

// learnedBy is what is known of each of the people.
func learnedBy(people []procedures.PersonID, entered []procedures.Training, known []procedures.Edition, inspected []procedures.ProcedureInspection) []procedures.Learned {
	var learned []procedures.Learned
	for _, id := range people {
		own := slices.DeleteFunc(slices.Clone(entered), func(t procedures.Training) bool { return t.Person != id })
		learned = append(learned, procedures.Learned{Person: id, Trainings: own, Editions: known, Inspections: inspected})
	}
	return learned
}
