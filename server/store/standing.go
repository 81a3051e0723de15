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
	var rows []publicationRow
	if err := r.gorm().Order("version").Find(&rows, "mill = ? AND sort = ? AND id = ?", mill, Procedures, id).Error; err != nil {
		return nil, err
	}
	onlyWords, err := wordings(r, mill, id)
	if err != nil {
		return nil, err
	}
	all := make([]procedures.Edition, len(rows))
	for i, row := range rows {
		p, err := read[procedures.Procedure](row.Doc)
		if err != nil {
			return nil, err
		}
		all[i] = procedures.Edition{Procedure: id, Version: row.Version, Wording: onlyWords[row.Version], Kinds: p.Kinds()}
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
	var states []ProcedureState
	for _, one := range inForce {
		p, err := read[procedures.Procedure](one.Doc)
		if err != nil {
			return nil, err
		}
		state, err := procedureState(r, m.id, p, crew, entered, now)
		if err != nil {
			return nil, err
		}
		states = append(states, state)
	}
	return states, nil
}

func procedureState(r reader, mill checklists.MillID, p procedures.Procedure, crew []procedures.Person, entered []procedures.Training, now time.Time) (ProcedureState, error) {
	first, err := published(r, mill, Procedures, string(p.ID), 1)
	if err != nil {
		return ProcedureState{}, err
	}
	known, err := editions(r, mill, p.ID)
	if err != nil {
		return ProcedureState{}, err
	}
	inspected, err := procedureInspections(r, mill, p.ID)
	if err != nil {
		return ProcedureState{}, err
	}
	var begun []int64
	if err := r.gorm().Model(&lockoutRow{}).Where("mill = ? AND procedure = ?", mill, p.ID).Order("at").Pluck("at", &begun).Error; err != nil {
		return ProcedureState{}, err
	}
	used := make([]time.Time, len(begun))
	for i, at := range begun {
		used[i] = timeOf(at)
	}
	var trained []procedures.Learned
	for _, id := range procedures.AuthorizedFor(p, crew, entered) {
		own := slices.DeleteFunc(slices.Clone(entered), func(t procedures.Training) bool { return t.Person != id })
		trained = append(trained, procedures.Learned{Person: id, Trainings: own, Editions: known, Inspections: inspected})
	}
	due := procedures.NextInspection(p.ID, first.At, inspected, used, now)
	return ProcedureState{p, procedures.ProgramState(p, trained, due, now), due}, nil
}
