package store

import (
	"context"
	"errors"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// DescribeDefect says what is wrong with a defect raised without a word.
func (m *Mill) DescribeDefect(ctx context.Context, submission string, id checklists.DefectID, what, photo string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "describe", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[defectRow](tx, "defect", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		d, err := row.Doc.Describe(by, what, photo, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &describedBody{newDefectPart(d)})
		return string(id), err
	})
	return err
}

// AllowRunCheckOf gives by leave to turn the machine of a mended defect, so
// that it can be seen to run right before it is returned to service.
func (m *Mill) AllowRunCheckOf(ctx context.Context, submission string, id checklists.DefectID, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "run-check", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[defectRow](tx, "defect", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		return tx.allowRunCheck(m.id, Walk{}, []procedures.EquipmentID{row.Doc.Equipment}, by, at)
	})
	return err
}

// ReturnDefect returns a mended defect's equipment to service. Of again its
// note counts, and for a defect that belongs to no item its answer; an item is
// answered again in a signed inspection or amendment, and found there.
func (m *Mill) ReturnDefect(ctx context.Context, submission string, id checklists.DefectID, again checklists.Recheck, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "return", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[defectRow](tx, "defect", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		found, err := recheck(tx, m.id, row.Doc, by.ID)
		if err != nil {
			return "", err
		}
		again.Run = found.Run
		if row.Doc.Item != "" {
			again.Answer = found.Answer
		} else {
			again.Answer.By, again.Answer.At = by.ID, at
		}
		if err := tx.ofAgeFor(m.id, by, at, row.Doc.Equipment); err != nil {
			return "", err
		}
		d, err := row.Doc.Redated(facts.ClockConfirmed, at).Return(by.Now(at), facts.Mill, facts.Plant, again, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &returnedBody{newDefectPart(d)})
		return string(id), err
	})
	return err
}

// Rechecked is what person has done since the mending that may stand in for a
// second person: the item answered again and signed, and the machine turned in
// a run check. Each is zero while it is still to do.
func (m *Mill) Rechecked(ctx context.Context, d checklists.Defect, person procedures.PersonID) (checklists.Recheck, error) {
	return recheck(ctxReader{m, ctx}, m.id, d, person)
}

func recheck(r reader, mill checklists.MillID, d checklists.Defect, person procedures.PersonID) (checklists.Recheck, error) {
	var done checklists.Recheck
	if d.MendedAt.IsZero() {
		return done, nil
	}
	var runs []runCheckRow
	if err := r.gorm().Order("until, id").Find(&runs, "mill = ? AND person = ? AND until > ?", mill, person, millis(d.MendedAt)).Error; err != nil {
		return done, err
	}
	for _, row := range runs {
		if !row.Doc.From.Before(d.MendedAt) && slices.Contains(row.Doc.Equipment, d.Equipment) {
			done.Run = row.Doc
		}
	}
	if d.Item == "" {
		return done, nil
	}
	from, err := one[inspectionRow](r, "inspection", "mill = ? AND id = ?", mill, d.Inspection)
	if errors.Is(err, ErrNotFound) {
		return done, nil
	}
	if err != nil {
		return done, err
	}
	var walked []inspectionRow
	if err := r.gorm().Order("at, id").Find(&walked, "mill = ? AND list = ? AND at > ?", mill, from.List, millis(d.MendedAt)).Error; err != nil {
		return done, err
	}
	var added []amendmentRow
	if err := r.gorm().Order("at, id").Find(&added, "mill = ? AND inspection = ?", mill, d.Inspection).Error; err != nil {
		return done, err
	}
	take := func(answers []checklists.Answer) {
		for _, a := range answers {
			if a.Item == d.Item && a.By == person && !a.At.Before(d.MendedAt) && a.At.After(done.Answer.At) {
				done.Answer = a
			}
		}
	}
	for _, row := range walked {
		take(row.Doc.Answers)
	}
	for _, row := range added {
		take(row.Doc.Answers)
	}
	return done, nil
}

// DefectsOf lists what an inspection and its amendments found, oldest first.
// from and until bound the times the answers were given.
func (m *Mill) DefectsOf(ctx context.Context, id checklists.InspectionID, from, until time.Time) ([]checklists.Defect, error) {
	var rows []defectRow
	err := m.gorm().WithContext(ctx).Order("at, id").
		Find(&rows, "mill = ? AND open IN ? AND at BETWEEN ? AND ?", m.id, []bool{true, false}, millis(from), millis(until)).Error
	var found []checklists.Defect
	for _, row := range rows {
		if row.Doc.Inspection == id {
			found = append(found, row.Doc)
		}
	}
	return found, err
}
