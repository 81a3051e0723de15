package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// careFor loads a defect, lets a rule work on it and appends what the rule made.
func (m *Mill) careFor(ctx context.Context, submission, what string, id checklists.DefectID, by procedures.Person, at time.Time,
	rule func(tx *Tx, d checklists.Defect, at time.Time) (body, error)) error {
	_, err := m.do(ctx, submission, what, at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[defectRow](tx, "defect", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		confirmed, err := clockConfirmed(tx, m.id)
		if err != nil {
			return "", err
		}
		b, err := rule(tx, row.Doc.Redated(confirmed, at), at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, b)
		return string(id), err
	})
	return err
}

// AssignDefect asks to to see to a defect by due.
func (m *Mill) AssignDefect(ctx context.Context, submission string, id checklists.DefectID, to procedures.PersonID, due time.Time, by procedures.Person, at time.Time) error {
	return m.careFor(ctx, submission, "assign", id, by, at, func(tx *Tx, d checklists.Defect, at time.Time) (body, error) {
		person, err := personOrNone(tx, m.id, to)
		if err != nil {
			return nil, err
		}
		d, err = d.Assign(by, person, due, at)
		return &assignedBody{newDefectPart(d)}, err
	})
}

// RedateDefect gives a defect with a stop-gap another date after which it is stop.
func (m *Mill) RedateDefect(ctx context.Context, submission string, id checklists.DefectID, mendBy time.Time, stopGap, reason string, by procedures.Person, at time.Time) error {
	return m.careFor(ctx, submission, "redate", id, by, at, func(_ *Tx, d checklists.Defect, at time.Time) (body, error) {
		n, err := d.Redate(by, mendBy, stopGap, reason, at)
		return newRedatedBody(n), err
	})
}

// NoteDefect adds a line to a defect's log: of n its kind, text and photo count.
func (m *Mill) NoteDefect(ctx context.Context, submission string, id checklists.DefectID, n checklists.DefectNote, by procedures.Person, at time.Time) error {
	return m.careFor(ctx, submission, "note", id, by, at, func(_ *Tx, d checklists.Defect, at time.Time) (body, error) {
		note, err := d.Note(checklists.DefectNoteID(NewID()), n.Kind, n.Text, n.Photo, by, at)
		return newNotedBody(note), err
	})
}

// DefectNotes is a defect's log, oldest first.
func (m *Mill) DefectNotes(ctx context.Context, id checklists.DefectID) ([]checklists.DefectNote, error) {
	var rows []defectNoteRow
	err := m.gorm().WithContext(ctx).Order("at, id").Find(&rows, "mill = ? AND defect = ?", m.id, id).Error
	notes := make([]checklists.DefectNote, len(rows))
	for i := range rows {
		notes[i] = rows[i].Doc
	}
	return notes, err
}

// DefectsSince lists the defects raised since from and those still open however
// old, oldest first.
func (m *Mill) DefectsSince(ctx context.Context, from time.Time) ([]checklists.Defect, error) {
	return defectsSince(ctxReader{m, ctx}, m.id, from)
}

func defectsSince(r reader, mill checklists.MillID, from time.Time) ([]checklists.Defect, error) {
	var rows []defectRow
	err := r.gorm().Order("at, id").Find(&rows, "mill = ? AND (open = ? OR open = ? AND at >= ?)", mill, true, false, millis(from)).Error
	defects := make([]checklists.Defect, len(rows))
	for i := range rows {
		defects[i] = rows[i].Doc
	}
	return defects, err
}

// pastFor is how far back a defect is looked for that a new one may be a
// recurrence of: found at most so long before its return.
const pastFor = 2 * checklists.LongestStopGap

// recurring links each defect found to the one it is a recurrence of.
func (tx *Tx) recurring(mill checklists.MillID, found []checklists.Defect, at time.Time) error {
	if len(found) == 0 {
		return nil
	}
	past, err := defectsSince(tx, mill, at.Add(-pastFor))
	for i := range found {
		found[i] = found[i].Recurring(past)
	}
	return err
}

// personOrNone is a person of the mill, the zero person where there is none of that id.
func personOrNone(r reader, mill checklists.MillID, id procedures.PersonID) (procedures.Person, error) {
	p, err := person(r, mill, id)
	if errors.Is(err, ErrNotFound) {
		return procedures.Person{}, nil
	}
	return p, err
}
