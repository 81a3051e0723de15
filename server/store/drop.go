package store

import (
	"context"
	"errors"
	"strings"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// SetKeepFor sets for how long one sort of record is kept. Its error is what
// [checklists.KeepPolicy.Keep] refuses.
func (m *Mill) SetKeepFor(ctx context.Context, submission string, p checklists.KeepPolicy, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "keep-for", at, func(tx *Tx, at time.Time) (string, error) {
		kept, err := p.Keep(by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: keepForSubject(kept.Sort)}, newKeepForBody(kept))
		return string(kept.Sort), err
	})
	return err
}

// keepForSubject is what entries about the keeping of one sort are about.
func keepForSubject(sort checklists.KeepSort) string { return "keep-for " + string(sort) }

// SetHold keeps everything the hold names, whatever the policies say. Its error is
// what [checklists.KeepHold.Set] refuses.
func (m *Mill) SetHold(ctx context.Context, submission string, h checklists.KeepHold, by procedures.Person, at time.Time) (checklists.KeepHoldID, error) {
	id, err := m.do(ctx, submission, "hold", at, func(tx *Tx, at time.Time) (string, error) {
		set, err := h.Set(checklists.KeepHoldID(NewID()), by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(set.ID)}, &holdBody{newHoldPart(set)})
		return string(set.ID), err
	})
	return checklists.KeepHoldID(id), err
}

// LiftHold ends a hold. Its error is what [checklists.KeepHold.Lift] refuses, or
// ErrNotFound.
func (m *Mill) LiftHold(ctx context.Context, submission string, id checklists.KeepHoldID, reason string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "hold-lifted", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[keepHoldRow](tx, "hold", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		lifted, err := row.Doc.Lift(by, reason, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &holdLiftedBody{newHoldPart(lifted)})
		return string(id), err
	})
	return err
}

// KeepHolds lists the holds, the newest first, lifted ones too.
func (m *Mill) KeepHolds(ctx context.Context) ([]checklists.KeepHold, error) {
	return keepHolds(ctxReader{m, ctx}, m.id)
}

// DropDue drops what the policies let go at now, at most a night's share of each
// sort, each sort with an entry that names the policy's. It returns what went.
func (m *Mill) DropDue(ctx context.Context, now time.Time) ([]Dropped, error) {
	var plans []Dropped
	err := m.drop(ctx, "", act{At: now}, func(tx *Tx) (_ []Dropped, err error) {
		plans, err = duePlans(tx, m.id, now)
		return plans, err
	})
	if err != nil {
		return nil, err
	}
	return plans, nil
}

// DropByHand drops what g names for good, on by's word. seen is the [Mark] of what
// was shown. Its error is what [checklists.DropByHand.Allow] refuses, ErrNotFound,
// or ErrChanged where something else would go than was shown.
func (m *Mill) DropByHand(ctx context.Context, submission, seen string, g Going, word checklists.DropByHand, by procedures.Person, now time.Time) error {
	if err := word.Validate(); err != nil {
		return err
	}
	if answered, err := m.Answered(ctx, submission); err != nil || answered {
		return err
	}
	return m.drop(ctx, submission, act{Actor: by.ID, At: now, Subject: string(g.Person)}, func(tx *Tx) ([]Dropped, error) {
		shown, err := showDrop(tx, m.id, g, by, now)
		if err != nil {
			return nil, err
		}
		if Mark(shown) != seen {
			return nil, ErrChanged
		}
		shown.Reason, shown.Rule = strings.TrimSpace(word.Reason), strings.TrimSpace(word.Rule)
		return []Dropped{shown.Dropped}, nil
	})
}

// dropTries is how often a drop is begun again because somebody wrote meanwhile
// about what is to go.
const dropTries = 3

// drop carries out what plan says is to go. Planning and making the tables again
// goes on beside the writer; in one command of the writer come the entries, the
// openings and photos, and the rows that held what went: all of it or nothing.
func (m *Mill) drop(ctx context.Context, submission string, a act, plan func(*Tx) ([]Dropped, error)) error {
	if !m.s.dropping.TryLock() {
		return plain.Refuse("", "Something is being dropped already; wait until that is done.")
	}
	defer m.s.dropping.Unlock()
	for range dropTries {
		again, err := m.dropOnce(ctx, submission, a, plan)
		if err != nil || !again {
			return err
		}
	}
	return plain.Refuse("", "Somebody is writing about what is to be dropped. Nothing was dropped; do it again later.")
}

func (m *Mill) dropOnce(ctx context.Context, submission string, a act, plan func(*Tx) ([]Dropped, error)) (again bool, err error) {
	g := &going{m: m, ctx: ctx, submission: submission}
	defer func() { err = errors.Join(err, g.close()) }()
	// One transaction, so that the entries and the tables are of one moment.
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) (err error) {
		tx := &Tx{db: db}
		if g.drops, err = plan(tx); err != nil || len(g.drops) == 0 {
			return err
		}
		return g.prepare(tx)
	})
	if err != nil || len(g.drops) == 0 {
		return false, err
	}
	err = m.s.writer.do(ctx, func(tx *Tx) error {
		if again, err = g.touched(tx); err != nil || again {
			return err
		}
		if err := g.catchUp(tx); err != nil {
			return err
		}
		return g.carryOut(tx, a)
	})
	if err != nil || again {
		return again, err
	}
	m.s.kept.forget()
	return false, m.s.foldLog(ctx)
}
