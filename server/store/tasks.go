package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

type taskRow struct {
	Mill  string `gorm:"primaryKey"`
	ID    string `gorm:"primaryKey"`
	Title string
	At    int64
	Doc   procedures.Task `gorm:"serializer:json"`
}

func (taskRow) TableName() string { return "tasks" }

// taskBody is a task with what people wrote of it in their own words apart; its
// title stood in the same place in the clear once.
type taskBody struct {
	procedures.Task
	Title   record.Personal `json:"title"`
	Measure record.Personal `json:"measure"`
	Note    record.Personal `json:"note"`
}

func newTaskBody(t procedures.Task) *taskBody {
	return &taskBody{Task: t, Title: record.Personal(t.Title), Measure: record.Personal(t.Measure), Note: record.Personal(t.Note)}
}

func (b *taskBody) task() procedures.Task {
	t := b.Task
	t.Title, t.Measure, t.Note = string(b.Title), string(b.Measure), string(b.Note)
	return t
}

func (*taskBody) kind() (string, int) { return KindTask, 1 }

func (b *taskBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *taskBody) project(tx *Tx, e entry) error {
	t := b.task()
	return tx.put(&taskRow{Mill: e.Mill, ID: string(t.ID), Title: t.Title, At: millis(e.At), Doc: t}, "title", "at", "doc")
}

// KeepTask enters a task, a new one without an id, or what changed about one;
// for minor servicing that is its review. seen is the [Mark] of the task the
// form was filled in against. Its error is what [procedures.Task.Keep] refuses,
// ErrNotFound, or ErrChanged when it was changed meanwhile.
func (m *Mill) KeepTask(ctx context.Context, submission, seen string, t procedures.Task, by procedures.Person, at time.Time) (procedures.TaskID, error) {
	id, err := m.do(ctx, submission, "task", at, func(tx *Tx, at time.Time) (string, error) {
		if t.ID == "" {
			t.ID = procedures.TaskID(NewID())
		} else if stands, err := task(tx, m.id, t.ID); err != nil {
			return "", err
		} else if Mark(stands) != seen {
			return "", ErrChanged
		}
		equipment, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		written, err := proceduresInForce(tx, m.id)
		if err != nil {
			return "", err
		}
		kept, err := t.Keep(equipment, written, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(kept.ID)}, newTaskBody(kept))
		return string(kept.ID), err
	})
	return procedures.TaskID(id), err
}

// RemoveTask takes a task off the list; what was kept of it stays on the record.
// seen is the [Mark] of the task as it was shown. Its error is what
// [procedures.Task.Remove] refuses, ErrNotFound, or ErrChanged.
func (m *Mill) RemoveTask(ctx context.Context, submission, seen string, id procedures.TaskID, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "task-removed", at, func(tx *Tx, at time.Time) (string, error) {
		stands, err := task(tx, m.id, id)
		if err != nil {
			return "", err
		}
		removed, err := stands.Remove(by)
		if err != nil {
			return "", err
		}
		if Mark(stands) != seen {
			return "", ErrChanged
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, newTaskBody(removed))
		return string(id), err
	})
	return err
}

// EnterStarterTasks enters those of the starters the mill has no task of the
// same id of, as they stand: until a supervisor keeps one with [Mill.KeepTask],
// what is said to be less than servicing counts as servicing.
func (m *Mill) EnterStarterTasks(ctx context.Context, submission string, starters []procedures.Task, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "starter-tasks", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		entered := 0
		for _, t := range starters {
			stands, err := task(tx, m.id, t.ID)
			if err == nil && !stands.Removed {
				continue
			}
			if err != nil && !errors.Is(err, ErrNotFound) {
				return "", err
			}
			if _, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(t.ID)}, newTaskBody(asStarter(t))); err != nil {
				return "", err
			}
			entered++
		}
		if entered == 0 {
			return "", plain.Refuse("", "Every starter task is there already.")
		}
		return string(m.id), nil
	})
	return err
}

// asStarter is a task that nobody of the mill has answered for.
func asStarter(t procedures.Task) procedures.Task {
	t.By, t.Reviewed = "", time.Time{}
	return t
}

// Tasks lists every task of the mill that wasn't removed, by title.
func (m *Mill) Tasks(ctx context.Context) ([]procedures.Task, error) {
	var rows []taskRow
	err := m.gorm().WithContext(ctx).Order("title, id").Find(&rows, "mill = ?", m.id).Error
	var all []procedures.Task
	for i := range rows {
		if !rows[i].Doc.Removed {
			all = append(all, rows[i].Doc)
		}
	}
	return all, err
}

// Task loads one, removed or not.
func (m *Mill) Task(ctx context.Context, id procedures.TaskID) (procedures.Task, error) {
	return task(ctxReader{m, ctx}, m.id, id)
}

func task(r reader, mill checklists.MillID, id procedures.TaskID) (procedures.Task, error) {
	row, err := one[taskRow](r, "task", "mill = ? AND id = ?", mill, id)
	return row.Doc, err
}

// ProceduresInForce loads the newest version of every procedure.
func (m *Mill) ProceduresInForce(ctx context.Context) ([]procedures.Procedure, error) {
	return proceduresInForce(ctxReader{m, ctx}, m.id)
}

func proceduresInForce(r reader, mill checklists.MillID) ([]procedures.Procedure, error) {
	published, err := inForce(r, mill, Procedures)
	if err != nil {
		return nil, err
	}
	all := make([]procedures.Procedure, len(published))
	for i := range published {
		if all[i], err = read[procedures.Procedure](published[i].Doc); err != nil {
			return nil, err
		}
	}
	return all, nil
}
