package store

import (
	"context"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

type trainingRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Person string
	At     int64               // the day of the training
	Doc    procedures.Training `gorm:"serializer:json"`
}

func (trainingRow) TableName() string { return "trainings" }

type trainingBody struct {
	everywhere
	procedures.Training
	Covered record.Personal `json:"covered"`
	Trainer record.Personal `json:"trainer"`
}

func newTrainingBody(t procedures.Training) *trainingBody {
	return &trainingBody{Training: t, Covered: record.Personal(t.Covered), Trainer: record.Personal(t.Trainer)}
}

func (b *trainingBody) training() procedures.Training {
	t := b.Training
	t.Covered, t.Trainer = string(b.Covered), string(b.Trainer)
	return t
}

func (*trainingBody) kind() (string, int) { return KindTraining, 1 }

func (b *trainingBody) project(tx *Tx, e entry) error {
	t := b.training()
	return tx.add(&trainingRow{Mill: e.Mill, ID: string(t.ID), Person: string(t.Person), At: millis(t.On), Doc: t})
}

// EnterTraining certifies that somebody of the mill was trained. Its error is
// what [procedures.Training.Enter] refuses, or ErrNotFound for nobody known.
func (m *Mill) EnterTraining(ctx context.Context, submission string, t procedures.Training, by procedures.Person, at time.Time) (procedures.TrainingID, error) {
	return m.EnterTrainings(ctx, submission, t, []procedures.PersonID{t.Person}, by, at)
}

// EnterTrainings certifies the same training of several people, all or none,
// and returns the id of the first. A procedure named without a version is meant
// as it was in force on the day. Its errors are those of [Mill.EnterTraining].
func (m *Mill) EnterTrainings(ctx context.Context, submission string, t procedures.Training, of []procedures.PersonID, by procedures.Person, at time.Time) (procedures.TrainingID, error) {
	id, err := m.do(ctx, submission, "training", at, func(tx *Tx, at time.Time) (string, error) {
		if len(of) == 0 {
			_, err := t.Enter(by, at)
			return "", err
		}
		each := t
		each.Procedures = slices.Clone(t.Procedures)
		if err := taught(tx, m.id, &each); err != nil {
			return "", err
		}
		first := ""
		for _, who := range of {
			each.Person, each.ID = who, procedures.TrainingID(NewID())
			entered, err := each.Enter(by, at)
			if err != nil {
				return "", err
			}
			if _, err := person(tx, m.id, who); err != nil {
				return "", err
			}
			if _, err := tx.append(m.id, act{Actor: by.ID, At: at, Happened: entered.On, Subject: string(who)}, newTrainingBody(entered)); err != nil {
				return "", err
			}
			if first == "" {
				first = string(entered.ID)
			}
		}
		return first, nil
	})
	return procedures.TrainingID(id), err
}

// Trainings lists every training of the mill, the oldest first.
func (m *Mill) Trainings(ctx context.Context) ([]procedures.Training, error) {
	return trainings(ctxReader{m, ctx}, m.id)
}

func trainings(r reader, mill checklists.MillID) ([]procedures.Training, error) {
	var rows []trainingRow
	err := r.gorm().Order("at, id").Find(&rows, "mill = ?", mill).Error
	all := make([]procedures.Training, len(rows))
	for i := range rows {
		all[i] = rows[i].Doc
	}
	return all, err
}

// trainingsOf are those of one person, and whether nobody has any.
func trainingsOf(r reader, mill checklists.MillID, who procedures.PersonID) (own []procedures.Training, none bool, err error) {
	var rows []trainingRow
	if err := r.gorm().Order("at, id").Find(&rows, "mill = ? AND person = ?", mill, who).Error; err != nil {
		return nil, false, err
	}
	for i := range rows {
		own = append(own, rows[i].Doc)
	}
	if len(own) > 0 {
		return own, false, nil
	}
	var of []trainingRow
	err = r.gorm().Limit(1).Find(&of, "mill = ?", mill).Error
	return nil, len(of) == 0, err
}
