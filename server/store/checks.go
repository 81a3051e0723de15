package store

import (
	"context"
	"errors"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Walk is an inspection under way: what was answered so far, kept at each
// answer so that a dead battery loses nothing.
type Walk struct {
	ID      checklists.InspectionID
	List    checklists.List
	Person  procedures.PersonID
	Began   time.Time
	Answers []checklists.Answer
}

// BeginWalk starts an inspection of the list's version in force, or returns the
// one the person has under way on it. One that was overtaken by a later version
// ([checklists.Facts.Overtaken]) goes on as one of that version, with everything
// entered kept to be answered again.
func (m *Mill) BeginWalk(ctx context.Context, submission string, id checklists.ListID, by procedures.Person, at time.Time) (checklists.InspectionID, error) {
	return m.BeginWalkAs(ctx, submission, Beginning{List: id}, by, at)
}

// Beginning is how an inspection is begun.
type Beginning struct {
	List checklists.ListID
	// Walk is the id the phone calls it by, and its answers to come; "" for any.
	Walk    checklists.InspectionID
	Version int       // of the list as the phone had it, without contact
	Seen    time.Time // when it was begun, without contact; zero: now
}

// BeginWalkAs begins an inspection as [Mill.BeginWalk] does, under the id it asks
// for. Where the person has one under way already that id is another name of it
// ([Mill.WalkNamed]). Begun without contact it goes by the version the phone had,
// if that was in force not longer ago than an answer may be signed.
func (m *Mill) BeginWalkAs(ctx context.Context, submission string, b Beginning, by procedures.Person, at time.Time) (checklists.InspectionID, error) {
	id := b.List
	result, err := m.do(ctx, submission, "walk", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Works() {
			return "", plain.Refuse("", "only somebody of the crew can check; you are signed in to read")
		}
		if err := tx.ofAge(m.id, by, at); err != nil {
			return "", err
		}
		under, err := one[walkRow](tx, "walk", "mill = ? AND list = ? AND person = ?", m.id, id, by.ID)
		if err == nil {
			if err := tx.nameWalk(m.id, b.Walk, under.ID); err != nil {
				return "", err
			}
			return under.ID, tx.walkAnew(m.id, under, at)
		}
		if !errors.Is(err, ErrNotFound) {
			return "", err
		}
		if b.Seen.IsZero() || b.Seen.After(at) {
			b.Seen = at
		}
		version, err := tx.versionBegun(m.id, b)
		if errors.Is(err, ErrNotFound) {
			return "", nothingInForce("list")
		}
		if err != nil {
			return "", err
		}
		row := walkRow{Mill: string(m.id), ID: string(b.Walk), List: string(id), Version: version, Person: string(by.ID), Began: millis(b.Seen)}
		if row.ID == "" {
			row.ID = NewID()
		} else if free, err := tx.freeForWalk(m.id, b.Walk); err != nil || !free {
			return row.ID, err
		}
		return row.ID, tx.gorm().Create(&row).Error
	})
	return checklists.InspectionID(result), err
}

// versionBegun is the version of the list that an inspection begun so goes by.
func (tx *Tx) versionBegun(mill checklists.MillID, b Beginning) (int, error) {
	inForce, err := listInForce(tx, mill, b.List, b.Seen)
	if err != nil || b.Version == 0 || b.Version >= inForce.Version {
		return inForce.Version, err
	}
	if before, err := versionThen(tx, mill, b.List, b.Seen.Add(-checklists.AnswerLasts)); err != nil || b.Version >= max(before, 1) {
		return b.Version, err
	}
	return inForce.Version, nil
}

// versionThen is the version of the list in force at a time gone by, 0 for none. By
// the mill's clock of then: it tells what a phone may have had, not what holds.
func versionThen(r reader, mill checklists.MillID, id checklists.ListID, then time.Time) (version int, err error) {
	err = r.gorm().Raw(`SELECT coalesce(max(version), 0) FROM publications WHERE mill = ? AND sort = ? AND id = ? AND at <= ?
		AND NOT EXISTS (SELECT 1 FROM releases WHERE releases.mill = ? AND releases.list = publications.id AND releases.version = publications.version AND releases.effective > ?)`,
		mill, Lists, id, millis(then), mill, millis(then)).Scan(&version).Error
	return version, err
}

// nameWalk keeps that a phone calls the walk by another name.
func (tx *Tx) nameWalk(mill checklists.MillID, name checklists.InspectionID, id string) error {
	if name == "" || string(name) == id {
		return nil
	}
	if free, err := tx.freeForWalk(mill, name); err != nil || !free {
		return err
	}
	return tx.put(&walkNameRow{Mill: string(mill), ID: string(name), Walk: id}, "walk")
}

// freeForWalk tells whether no inspection, signed or under way, is called by that id.
func (tx *Tx) freeForWalk(mill checklists.MillID, id checklists.InspectionID) (bool, error) {
	_, err := one[walkRow](tx, "walk", "mill = ? AND id = ?", mill, id)
	if errors.Is(err, ErrNotFound) {
		_, err = one[inspectionRow](tx, "inspection", "mill = ? AND id = ?", mill, id)
	}
	if errors.Is(err, ErrNotFound) {
		_, err = one[unsignedRow](tx, "check", "mill = ? AND id = ?", mill, id)
	}
	if errors.Is(err, ErrNotFound) {
		_, err = one[walkNameRow](tx, "walk", "mill = ? AND id = ?", mill, id)
	}
	if errors.Is(err, ErrNotFound) {
		return true, nil
	}
	return false, err
}

// walkAnew turns an inspection under way that was overtaken into one of the version
// in force.
func (tx *Tx) walkAnew(mill checklists.MillID, under walkRow, at time.Time) error {
	w, err := walk(tx, mill, checklists.InspectionID(under.ID))
	if err != nil {
		return err
	}
	inForce, err := listInForce(tx, mill, w.List.ID, at)
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	l, err := read[checklists.List](inForce.Doc)
	if err != nil || !(checklists.Facts{Lists: []checklists.List{l}}).Overtaken(w.List, w.Began, at) {
		return err
	}
	for _, a := range w.Answers {
		if err := tx.putWalked(under.Mill, under.ID, a.Carried()); err != nil {
			return err
		}
	}
	return tx.gorm().Model(&walkRow{}).Where("mill = ? AND id = ?", mill, under.ID).Updates(map[string]any{"version": l.Version, "began": millis(at)}).Error
}

// Walk loads an inspection under way.
func (m *Mill) Walk(ctx context.Context, id checklists.InspectionID) (Walk, error) {
	return walk(ctxReader{m, ctx}, m.id, id)
}

// Walks lists the inspections under way, newest first.
func (m *Mill) Walks(ctx context.Context) (walks []Walk, err error) {
	// One transaction, since a walk that is signed meanwhile is there no more.
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		var rows []walkRow
		if err := db.Order("began DESC").Find(&rows, "mill = ?", m.id).Error; err != nil {
			return err
		}
		walks = make([]Walk, 0, len(rows))
		for _, row := range rows {
			w, err := walkOf(&Tx{db: db}, row)
			if err != nil {
				return err
			}
			walks = append(walks, w)
		}
		return nil
	})
	return walks, err
}

func walk(r reader, mill checklists.MillID, id checklists.InspectionID) (Walk, error) {
	row, err := one[walkRow](r, "inspection under way", "mill = ? AND id = ?", mill, id)
	if err != nil {
		return Walk{}, err
	}
	return walkOf(r, row)
}

// walkOf is the walk of a row, with its list and what was answered.
func walkOf(r reader, row walkRow) (Walk, error) {
	l, err := list(r, checklists.MillID(row.Mill), checklists.ListID(row.List), row.Version)
	if err != nil {
		return Walk{}, err
	}
	w := Walk{ID: checklists.InspectionID(row.ID), List: l, Person: procedures.PersonID(row.Person), Began: timeOf(row.Began)}
	var rows []walkAnswerRow
	if err := r.gorm().Find(&rows, "mill = ? AND walk = ?", row.Mill, row.ID).Error; err != nil {
		return Walk{}, err
	}
	given := make(map[string]checklists.Answer, len(rows))
	for _, row := range rows {
		given[row.Item] = row.Doc
	}
	for _, item := range l.Asks() { // in the list's order, whatever order they came in
		if a, ok := given[string(item.ID)]; ok {
			w.Answers = append(w.Answers, a)
		}
	}
	return w, nil
}

// refuse adds what is wrong with one answer to bad, at its item, and returns any
// other error.
func refuse(bad *plain.Problems, item checklists.ItemID, err error) error {
	var problems plain.Problems
	var refusal *plain.Refusal
	switch {
	case errors.As(err, &problems):
		bad.Add(string(item)+".", problems)
	case errors.As(err, &refusal):
		*bad = append(*bad, plain.Problem{Field: string(item) + ".result", Want: refusal.Why})
	default:
		return err
	}
	return nil
}

// AllowRunCheck gives by leave to turn the equipment for the running items of
// the walk, or of an inspection signed before, as the rules allow.
func (m *Mill) AllowRunCheck(ctx context.Context, submission string, id checklists.InspectionID, equipment []procedures.EquipmentID, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "run-check", at, func(tx *Tx, at time.Time) (string, error) {
		w, err := walk(tx, m.id, id)
		if errors.Is(err, ErrNotFound) {
			w, err = tx.signed(m.id, id, at)
		}
		if err != nil {
			return "", err
		}
		return tx.allowRunCheck(m.id, w, equipment, by, at)
	})
	return err
}

// signed is what a run check asked from a signed inspection rests on: the list
// in force and nothing beside what was signed.
func (tx *Tx) signed(mill checklists.MillID, id checklists.InspectionID, at time.Time) (Walk, error) {
	row, err := one[inspectionRow](tx, "inspection", "mill = ? AND id = ?", mill, id)
	if err != nil {
		return Walk{}, err
	}
	inForce, err := listInForce(tx, mill, row.Doc.List, at)
	if err != nil {
		return Walk{}, err
	}
	l, err := read[checklists.List](inForce.Doc)
	return Walk{List: l}, err
}

func (tx *Tx) allowRunCheck(mill checklists.MillID, w Walk, equipment []procedures.EquipmentID, by procedures.Person, at time.Time) (string, error) {
	facts, err := tx.facts(mill, at)
	if err != nil {
		return "", err
	}
	if err := tx.ofAgeFor(mill, by, at, equipment...); err != nil {
		return "", err
	}
	run, err := checklists.AllowRunCheck(checklists.RunCheckID(NewID()), facts, w.List, w.Answers, equipment, by, at)
	if err != nil {
		return "", err
	}
	run.Inspection = w.ID
	_, err = tx.append(mill, act{Actor: by.ID, At: at, Subject: string(run.ID)}, &runCheckBody{RunCheck: run})
	return string(run.ID), err
}

// SignInspection signs the walk: the inspection, the defects it found and their
// entry, or nothing. phone is the phone's own clock, zero if it told none.
func (m *Mill) SignInspection(ctx context.Context, submission string, id checklists.InspectionID, by procedures.Person, at, phone time.Time) (checklists.InspectionID, error) {
	result, err := m.do(ctx, submission, "inspection", at, func(tx *Tx, at time.Time) (string, error) {
		if err := tx.ofAge(m.id, by, at); err != nil {
			return "", err
		}
		w, err := walk(tx, m.id, id)
		if err != nil {
			return "", err
		}
		if err := tx.waitsFor(m.id, id, by); err != nil {
			return "", err
		}
		facts, err := tx.factsToSign(m.id, w.List.ID, at)
		if err != nil {
			return "", err
		}
		if facts.Overtaken(w.List, w.Began, at) {
			return "", overtaken()
		}
		if err := tx.gorm().Delete(&walkRow{}, "mill = ? AND id = ?", m.id, id).Error; err != nil {
			return "", err
		}
		return m.signWalk(tx, w, facts, by, at, phone)
	})
	return checklists.InspectionID(result), err
}

// factsToSign loads of the facts what a signature is held against: answers were
// judged as they were given. What else there is costs far more than the signature.
func (tx *Tx) factsToSign(mill checklists.MillID, list checklists.ListID, at time.Time) (f checklists.Facts, err error) {
	if f.Mill, err = tx.Mill(mill); err != nil {
		return f, err
	}
	inForce, err := listInForce(tx, mill, list, at)
	switch {
	case errors.Is(err, ErrNotFound):
	case err != nil:
		return f, err
	default:
		l, err := readOnce[checklists.List](tx, inForce.Doc)
		if err != nil {
			return f, err
		}
		f.Lists = []checklists.List{l}
	}
	f.Defects, err = tx.openDefects(mill)
	return f, err
}

func overtaken() error {
	return plain.Refuse("", "A later version of this list is in force, and this check was begun too long ago to be signed. Begin it again: what was entered comes along, and is answered again.")
}

func equipmentOf(l checklists.List) []procedures.EquipmentID {
	var ids []procedures.EquipmentID
	for _, item := range l.Items {
		if !item.NotFitted {
			ids = append(ids, item.Equipment)
		}
	}
	return ids
}

// AmendInspection answers items of a signed inspection again, as a further
// signed entry; the inspection itself stays as it was.
func (m *Mill) AmendInspection(ctx context.Context, submission string, id checklists.InspectionID, answers []checklists.Answer, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "amendment", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[inspectionRow](tx, "inspection", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		l, err := list(tx, m.id, row.Doc.List, row.Doc.Version)
		if err != nil {
			return "", err
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		if err := tx.ofAge(m.id, by, at); err != nil {
			return "", err
		}
		var bad plain.Problems
		taken := make([]checklists.Answer, 0, len(answers))
		for _, a := range answers {
			answer, err := checklists.Take(l, a.Item, a, by, facts, at)
			if err := refuse(&bad, a.Item, err); err != nil {
				return "", err
			}
			taken = append(taken, answer)
		}
		if err := bad.Err(); err != nil {
			return "", err
		}
		amendment, found, err := checklists.Amend(row.Doc, l, taken, by, NewID, at, facts.Defects)
		if err != nil {
			return "", err
		}
		if err := tx.recurring(m.id, found, at); err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, newAmendmentBody(amendment, found, l))
		return string(amendment.ID), err
	})
	return err
}

// Amendments lists what was added to an inspection, oldest first.
func (m *Mill) Amendments(ctx context.Context, id checklists.InspectionID) ([]checklists.Amendment, error) {
	var rows []amendmentRow
	err := m.gorm().WithContext(ctx).Order("at, id").Find(&rows, "mill = ? AND inspection = ?", m.id, id).Error
	amendments := make([]checklists.Amendment, len(rows))
	for i := range rows {
		amendments[i] = rows[i].Doc
	}
	return amendments, err
}

// Inspection loads a signed inspection and its place in the record.
func (m *Mill) Inspection(ctx context.Context, id checklists.InspectionID) (checklists.Inspection, int64, error) {
	row, err := one[inspectionRow](ctxReader{m, ctx}, "inspection", "mill = ? AND id = ?", m.id, id)
	return row.Doc, row.Seq, err
}

// StopIt raises a stop defect at once, by anyone: of d its equipment, what is
// wrong and the photo count. by is zero for somebody not signed in; the machine
// is held all the same.
func (m *Mill) StopIt(ctx context.Context, submission string, d checklists.Defect, by procedures.Person, at time.Time) (checklists.DefectID, error) {
	result, err := m.do(ctx, submission, "stop-it", at, func(tx *Tx, at time.Time) (string, error) {
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		if standing, ok := checklists.StandingStop(facts.Defects, d.Equipment); ok && by.ID == "" {
			return string(standing), nil
		}
		raised, err := checklists.Raise(checklists.DefectID(NewID()), d.Equipment, d.What, d.Photo, by.ID, facts.Plant, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(raised.ID)}, &defectBody{newDefectPart(raised)})
		return string(raised.ID), err
	})
	return checklists.DefectID(result), err
}

// MendDefect reports a defect mended.
func (m *Mill) MendDefect(ctx context.Context, submission string, id checklists.DefectID, note, photo string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "mend", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[defectRow](tx, "defect", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		confirmed, err := clockConfirmed(tx, m.id)
		if err != nil {
			return "", err
		}
		if err := tx.ofAgeFor(m.id, by, at, row.Doc.Equipment); err != nil {
			return "", err
		}
		d, err := row.Doc.Redated(confirmed, at).Mended(by, note, photo, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &mendedBody{newDefectPart(d)})
		return string(id), err
	})
	return err
}

// Defect loads one defect.
func (m *Mill) Defect(ctx context.Context, id checklists.DefectID) (checklists.Defect, error) {
	row, err := one[defectRow](ctxReader{m, ctx}, "defect", "mill = ? AND id = ?", m.id, id)
	return row.Doc, err
}

// Defects lists defects, newest first, at most limit of them.
func (m *Mill) Defects(ctx context.Context, open bool, limit int) ([]checklists.Defect, error) {
	var rows []defectRow
	err := m.gorm().WithContext(ctx).Order("at DESC, id DESC").Limit(limit).Find(&rows, "mill = ? AND open = ?", m.id, open).Error
	defects := make([]checklists.Defect, len(rows))
	for i := range rows {
		defects[i] = rows[i].Doc
	}
	return defects, err
}

// EnterDeparture keeps what happened against the rule: of d its equipment, what
// happened, when, the photo and the lockout count. A fact is never refused.
func (m *Mill) EnterDeparture(ctx context.Context, submission string, d checklists.Departure, by procedures.Person, at time.Time) (checklists.DepartureID, error) {
	result, err := m.do(ctx, submission, "departure", at, func(tx *Tx, at time.Time) (string, error) {
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		entered, err := checklists.EnterDeparture(checklists.DepartureID(NewID()), d.Equipment, d.What, d.Happened, d.Photo, by.ID, facts.Plant, at)
		if err != nil {
			return "", err
		}
		entered.Lockout = d.Lockout
		entered.Unexpected = d.Unexpected
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: entered.Happened, Subject: string(entered.ID)}, &departureBody{newDeparturePart(entered)})
		return string(entered.ID), err
	})
	return checklists.DepartureID(result), err
}

// CloseDeparture releases a departure's hold with a supervisor's reason.
func (m *Mill) CloseDeparture(ctx context.Context, submission string, id checklists.DepartureID, reason string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "close-departure", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[departureRow](tx, "departure", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		confirmed, err := clockConfirmed(tx, m.id)
		if err != nil {
			return "", err
		}
		d, err := checklists.CloseDeparture(row.Doc.Redated(confirmed, at), by, reason, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &departureClosedBody{newDeparturePart(d)})
		return string(id), err
	})
	return err
}

// Departure loads one departure.
func (m *Mill) Departure(ctx context.Context, id checklists.DepartureID) (checklists.Departure, error) {
	row, err := one[departureRow](ctxReader{m, ctx}, "departure", "mill = ? AND id = ?", m.id, id)
	return row.Doc, err
}

// Departures lists departures, newest first, at most limit of them.
func (m *Mill) Departures(ctx context.Context, open bool, limit int) ([]checklists.Departure, error) {
	var rows []departureRow
	err := m.gorm().WithContext(ctx).Order("at DESC, id DESC").Limit(limit).Find(&rows, "mill = ? AND open = ?", m.id, open).Error
	departures := make([]checklists.Departure, len(rows))
	for i := range rows {
		departures[i] = rows[i].Doc
	}
	return departures, err
}
