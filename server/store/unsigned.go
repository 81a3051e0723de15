package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// KindUnsigned is the entry that a check was finished without contact and waits for
// its signature.
const KindUnsigned = "inspection-unsigned"

type unsignedRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Person string
	At     int64
	Open   bool
	Doc    checklists.Unsigned `gorm:"serializer:json"`
}

func (unsignedRow) TableName() string { return "unsigned_walks" }

// unsignedBody says nothing in anybody's own words: what was answered stands in the
// entry of the signature.
type unsignedBody struct {
	checklists.Unsigned
}

func (*unsignedBody) kind() (string, int) { return KindUnsigned, 1 }

func (b *unsignedBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *unsignedBody) project(tx *Tx, e entry) error {
	return tx.put(&unsignedRow{Mill: e.Mill, ID: string(b.Inspection), Person: string(b.By), At: millis(b.At), Open: true, Doc: b.Unsigned}, "person", "at", "open", "doc")
}

// signedNow ends the wait of a walk for its signature.
func signedNow(tx *Tx, mill string, id checklists.InspectionID) error {
	const signed = "UPDATE unsigned_walks SET open = ? WHERE mill = ? AND id = ? AND open = ?"
	if tx.ahead != nil {
		return tx.ahead.change("unsigned_walks", signed, false, mill, string(id), true)
	}
	return tx.straight(signed, false, mill, string(id), true)
}

// FinishWalk keeps that a walk was finished without contact and waits for the
// signature of by; seen is when, as far as the phone tells. Finished again by the
// same person it changes nothing. Its error is what [checklists.Finish] refuses.
func (m *Mill) FinishWalk(ctx context.Context, submission string, id checklists.InspectionID, by procedures.Person, seen, at time.Time) error {
	_, err := m.do(ctx, submission, "finish", at, func(tx *Tx, at time.Time) (string, error) {
		if err := tx.ofAge(m.id, by, at); err != nil {
			return "", err
		}
		w, err := walk(tx, m.id, id)
		if err != nil {
			return "", err
		}
		finished, waits, err := tx.waiting(m.id, id)
		switch {
		case err != nil:
			return "", err
		case waits && finished.By == by.ID:
			return string(id), nil
		case waits:
			return "", finished.MayAnswer(procedures.Person{})
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		if facts.Overtaken(w.List, w.Began, at) {
			return "", overtaken()
		}
		u, err := checklists.Finish(id, w.List, w.Answers, by, facts.Mill, w.Began, seen, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: u.Seen, Subject: string(id)}, &unsignedBody{u})
		return string(id), err
	})
	return err
}

// waitsFor refuses somebody who may not answer or sign a walk that waits for
// another's signature.
func (tx *Tx) waitsFor(mill checklists.MillID, id checklists.InspectionID, by procedures.Person) error {
	finished, waits, err := tx.waiting(mill, id)
	if err != nil || !waits {
		return err
	}
	return finished.MayAnswer(by)
}

// waiting is the walk finished without contact, if it waits for its signature.
func (tx *Tx) waiting(mill checklists.MillID, id checklists.InspectionID) (finished checklists.Unsigned, waits bool, err error) {
	row, err := one[unsignedRow](tx, "check", "mill = ? AND id = ? AND open = ?", mill, id, true)
	if errors.Is(err, ErrNotFound) {
		return finished, false, nil
	}
	return row.Doc, err == nil, err
}

// unsigned loads what was finished without contact and not signed, and the stops
// found in walks under way.
func (tx *Tx) unsigned(mill checklists.MillID, f *checklists.Facts) error {
	var some, found bool
	err := straightRow(tx, "unsigned", "SELECT EXISTS (SELECT 1 FROM unsigned_walks WHERE mill = ? AND open = ?), EXISTS (SELECT 1 FROM walk_answers WHERE mill = ? AND found = ?)",
		[]any{string(mill), true, string(mill), true}, &some, &found)
	if err != nil || !some && !found { // as most of the time
		return err
	}
	var rows []unsignedRow
	if err := tx.gorm().Order("at, id").Find(&rows, "mill = ? AND open = ?", mill, true).Error; err != nil {
		return err
	}
	for _, row := range rows {
		f.Unsigned = append(f.Unsigned, row.Doc)
	}
	var answers []walkAnswerRow
	if err := tx.gorm().Order("walk, item").Find(&answers, "mill = ? AND found = ?", mill, true).Error; err != nil {
		return err
	}
	lists := map[string]checklists.List{}
	for _, a := range answers {
		l, known := lists[a.Walk]
		if !known {
			row, err := one[walkRow](tx, "inspection under way", "mill = ? AND id = ?", mill, a.Walk)
			if err != nil {
				return err
			}
			if l, err = list(tx, mill, checklists.ListID(row.List), row.Version); err != nil {
				return err
			}
			lists[a.Walk] = l
		}
		l, err := tx.asking(mill, l, checklists.ItemID(a.Item))
		if err != nil {
			return err
		}
		f.FoundUnsigned = append(f.FoundUnsigned, checklists.Stops(checklists.InspectionID(a.Walk), l, []checklists.Answer{a.Doc})...)
	}
	return nil
}

// asking is the version of l, or the last before it, that asks the item: a walk
// begun anew keeps what was found at an item that is asked no more.
func (tx *Tx) asking(mill checklists.MillID, l checklists.List, item checklists.ItemID) (checklists.List, error) {
	for version := l.Version; version > 0; version-- {
		if _, known := l.Item(item); known {
			return l, nil
		}
		if version == 1 {
			break
		}
		var err error
		if l, err = list(tx, mill, l.ID, version-1); err != nil && !errors.Is(err, ErrNotFound) {
			return l, err
		}
	}
	return l, nil
}

type walkNameRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Walk string
}

func (walkNameRow) TableName() string { return "walk_names" }

// WalkNamed is the id of the walk that a phone without contact called id: id itself,
// unless one was under way already.
func (m *Mill) WalkNamed(ctx context.Context, id checklists.InspectionID) (checklists.InspectionID, error) {
	row, err := one[walkNameRow](ctxReader{m, ctx}, "walk", "mill = ? AND id = ?", m.id, id)
	if errors.Is(err, ErrNotFound) {
		return id, nil
	}
	return checklists.InspectionID(row.Walk), err
}
