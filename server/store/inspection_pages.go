package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// InspectionPage lists signed inspections by their place in the record, newest
// first, those before the entry before (0: from the newest), of every list where
// list is "". places are their entries; more: there are older ones.
func (m *Mill) InspectionPage(ctx context.Context, list checklists.ListID, before int64, limit int) (page []checklists.Inspection, places []int64, more bool, err error) {
	q := m.gorm().WithContext(ctx).Order("seq DESC").Limit(limit + 1)
	if list != "" {
		q = q.Where("list = ?", list)
	}
	if before > 0 {
		q = q.Where("seq < ?", before)
	}
	var rows []inspectionRow
	if err := q.Find(&rows, "mill = ?", m.id).Error; err != nil {
		return nil, nil, false, err
	}
	if more = len(rows) > limit; more {
		rows = rows[:limit]
	}
	for _, row := range rows {
		page, places = append(page, row.Doc), append(places, row.Seq)
	}
	return page, places, more, nil
}

// InspectWhole takes the answers to every item of a list and signs them at once,
// or keeps nothing. version is the one they were given to: ErrChanged when another
// is in force. Its error is what [Mill.TakeAnswers] and [Mill.SignInspection] refuse.
func (m *Mill) InspectWhole(ctx context.Context, submission string, id checklists.ListID, version int, answers []checklists.Answer, by procedures.Person, at time.Time) (checklists.InspectionID, error) {
	result, err := m.do(ctx, submission, "inspection", at, func(tx *Tx, at time.Time) (string, error) {
		if err := tx.ofAge(m.id, by, at); err != nil {
			return "", err
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		of := slices.IndexFunc(facts.Lists, func(l checklists.List) bool { return l.ID == id })
		if of < 0 {
			return "", fmt.Errorf("%s: %w", Lists, ErrNotFound)
		}
		w := Walk{ID: checklists.InspectionID(NewID()), Person: by.ID, Began: at, List: facts.Lists[of]}
		if w.List.Version != version {
			return "", ErrChanged
		}
		var bad plain.Problems
		given := make(map[checklists.ItemID]checklists.Answer, len(answers))
		for _, a := range answers {
			_, twice := given[a.Item]
			bad.Unless(!twice, string(a.Item)+".result", "one answer to an item")
			taken, err := checklists.Take(w.List, a.Item, a, by, facts, at)
			if err != nil {
				if err := refuse(&bad, a.Item, err); err != nil {
					return "", err
				}
			}
			given[a.Item] = taken
		}
		if err := bad.Err(); err != nil {
			return "", err
		}
		w.Answers = make([]checklists.Answer, 0, len(given))
		for _, item := range w.List.Asks() {
			if a, ok := given[item.ID]; ok {
				w.Answers = append(w.Answers, a)
			}
		}
		return m.signWalk(tx, w, facts, by, at, time.Time{})
	})
	return checklists.InspectionID(result), err
}

// signWalk enters a whole walk as a signed inspection, with what it found.
func (m *Mill) signWalk(tx *Tx, w Walk, facts checklists.Facts, by procedures.Person, at, phone time.Time) (string, error) {
	in, found, err := checklists.Complete(w.List, w.Answers, by, NewID, facts.Mill, w.Began, at, phone, facts.Defects)
	if err != nil {
		return "", err
	}
	in.ID = w.ID
	for i := range found {
		found[i].Inspection = w.ID
	}
	if err := tx.recurring(m.id, found, at); err != nil {
		return "", err
	}
	_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(in.ID)}, newInspectionBody(in, found, equipmentOf(w.List)))
	return string(in.ID), err
}
