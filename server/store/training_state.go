package store

import (
	"context"
	"errors"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// TrainingState is what is known of who was trained, for everybody and every
// procedure in force at once.
type TrainingState struct {
	People      []procedures.Person
	Procedures  []procedures.Procedure // in force
	Trainings   []procedures.Training  // the oldest first
	Program     procedures.Program
	inspections []procedures.ProcedureInspection
	editions    map[procedures.ProcedureID][]procedures.Edition
}

// Learned is what is known of one person on one procedure.
func (s TrainingState) Learned(who procedures.PersonID, p procedures.ProcedureID) procedures.Learned {
	inspected := slices.DeleteFunc(slices.Clone(s.inspections), func(in procedures.ProcedureInspection) bool { return in.Procedure != p })
	return procedures.Learned{Person: who, Trainings: s.Trainings, Editions: s.editions[p], Inspections: inspected}
}

// TrainingState loads who was trained on what.
func (m *Mill) TrainingState(ctx context.Context) (TrainingState, error) {
	r := ctxReader{m, ctx}
	var state TrainingState
	published, err := inForce(r, m.id, Procedures)
	if err != nil {
		return state, err
	}
	for _, one := range published {
		p, err := read[procedures.Procedure](one.Doc)
		if err != nil {
			return state, err
		}
		state.Procedures = append(state.Procedures, p)
	}
	var errs [5]error
	state.People, errs[0] = people(r, m.id)
	state.Trainings, errs[1] = trainings(r, m.id)
	state.inspections, errs[2] = procedureInspections(r, m.id, "")
	state.Program, errs[3] = program(r, m.id)
	state.editions, errs[4] = editionsOf(r, m.id, "")
	return state, errors.Join(errs[:]...)
}

// taught puts into t, for each procedure named without a version, the one that
// was in force on the day.
func taught(r reader, mill checklists.MillID, t *procedures.Training) error {
	for i, on := range t.Procedures {
		if on.Version > 0 {
			continue
		}
		var at []int64
		err := r.gorm().Model(&publicationRow{}).Where("mill = ? AND sort = ? AND id = ?", mill, Procedures, on.Procedure).Order("version").Pluck("at", &at).Error
		if err != nil {
			return err
		}
		if len(at) == 0 {
			return ErrNotFound
		}
		versions := make([]time.Time, len(at))
		for j := range at {
			versions[j] = timeOf(at[j])
		}
		t.Procedures[i].Version = procedures.TaughtVersion(versions, t.On)
	}
	return nil
}
