package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Mark tells one state of a thing from another. A form carries the mark of what
// it was filled in against, so that a change made meanwhile is not written over.
func Mark(thing any) string {
	text, err := json.Marshal(thing)
	if err != nil {
		return "" // no state has this mark, so nothing is written over
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:12])
}

// EditPerson changes the person the form was filled in against, or is
// ErrChanged when their entry was changed meanwhile. digest, when given, is
// their new PIN or password.
func (m *Mill) EditPerson(ctx context.Context, submission, seen string, p procedures.Person, digest string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "person", at, func(tx *Tx, at time.Time) (string, error) {
		now, err := person(tx, m.id, p.ID)
		if err != nil {
			return "", err
		}
		if Mark(now) != seen {
			return "", ErrChanged
		}
		return m.keepPerson(tx, p, digest, by, at)
	})
	return err
}

// EditMill sets what holds for the mill as a whole, or is ErrChanged when that
// was changed since the form was shown.
func (m *Mill) EditMill(ctx context.Context, submission, seen string, changed checklists.Mill, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "mill", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		now, err := tx.Mill(m.id)
		if err != nil {
			return "", err
		}
		if Mark(now) != seen {
			return "", ErrChanged
		}
		changed.ID = m.id
		if err := changed.Validate(); err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, newMillBody(changed))
		return string(m.id), err
	})
	return err
}

// EditEquipment changes one piece, or is ErrChanged when that piece was changed
// since the form was shown; others may have been.
func (m *Mill) EditEquipment(ctx context.Context, submission, seen string, id procedures.EquipmentID, w procedures.Particulars, by procedures.Person, at time.Time) error {
	return m.editPlant(ctx, submission, by, at, func(tx *Tx, p procedures.Plant) (procedures.Plant, error) {
		e, known := p.Find(id)
		if !known {
			return nil, ErrNotFound
		}
		if Mark(e) != seen {
			return nil, ErrChanged
		}
		return p.Changed(id, w)
	})
}

// AddEquipment adds a piece.
func (m *Mill) AddEquipment(ctx context.Context, submission string, e procedures.Equipment, by procedures.Person, at time.Time) error {
	return m.editPlant(ctx, submission, by, at, func(_ *Tx, p procedures.Plant) (procedures.Plant, error) { return p.Added(e) })
}

// RemoveEquipment removes a piece that nothing in force speaks of and nothing
// open holds.
func (m *Mill) RemoveEquipment(ctx context.Context, submission string, id procedures.EquipmentID, by procedures.Person, at time.Time) error {
	return m.editPlant(ctx, submission, by, at, func(tx *Tx, p procedures.Plant) (procedures.Plant, error) {
		if err := tx.spokenOf(m.id, id, at); err != nil {
			return nil, err
		}
		return p.Removed(id)
	})
}

// spokenOf refuses while a list or procedure in force, or something open, is
// about the equipment.
func (tx *Tx) spokenOf(mill checklists.MillID, id procedures.EquipmentID, at time.Time) error {
	facts, err := tx.facts(mill, at)
	if err != nil {
		return err
	}
	for _, l := range facts.Lists {
		if l.Covers(id) {
			return plain.Refuse("", "The list %s asks about it; take its items out and publish that first.", l.Title)
		}
	}
	published, err := inForce(tx, mill, Procedures)
	if err != nil {
		return err
	}
	for _, one := range published {
		p, err := read[procedures.Procedure](one.Doc)
		if err != nil {
			return err
		}
		if slices.Contains(p.Equipment, id) || slices.Contains(p.Holds, id) {
			return plain.Refuse("", "The procedure %s is for it.", p.Title)
		}
	}
	for _, d := range facts.Defects {
		if d.Equipment == id {
			return plain.Refuse("", "A defect of it is open; return it to service first.")
		}
	}
	for _, d := range facts.Departures {
		if d.Equipment == id {
			return plain.Refuse("", "A departure of it is open; close that first.")
		}
	}
	return nil
}

func (m *Mill) editPlant(ctx context.Context, submission string, by procedures.Person, at time.Time, edit func(*Tx, procedures.Plant) (procedures.Plant, error)) error {
	_, err := m.do(ctx, submission, "equipment", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		now, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		changed, err := edit(tx, now)
		if err != nil {
			return "", err
		}
		if err := changed.Validate(); err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, &plantBody{Plant: changed})
		return string(m.id), err
	})
	return err
}
