package store

import (
	"context"
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
	return tx.db.Create(&trainingRow{Mill: e.Mill, ID: string(t.ID), Person: string(t.Person), At: millis(t.On), Doc: t}).Error
}

// EnterTraining certifies that somebody of the mill was trained. Its error is
// what [procedures.Training.Enter] refuses, or ErrNotFound for nobody known.
func (m *Mill) EnterTraining(ctx context.Context, submission string, t procedures.Training, by procedures.Person, at time.Time) (procedures.TrainingID, error) {
	id, err := m.do(ctx, submission, "training", at, func(tx *Tx, at time.Time) (string, error) {
		t.ID = procedures.TrainingID(NewID())
		entered, err := t.Enter(by, at)
		if err != nil {
			return "", err
		}
		if _, err := person(tx, m.id, entered.Person); err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: entered.On, Subject: string(entered.Person)}, newTrainingBody(entered))
		return string(entered.ID), err
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
