package store

import (
	"context"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// KindSetAside is the entry that a check finished without contact is not to be
// signed.
const KindSetAside = "inspection-set-aside"

// asideBody is the walk with all its answers and what was found in it.
type asideBody struct {
	checklists.Unsigned
	Aside   asidePart    `json:"aside"`
	Answers []answerPart `json:"answers"`
	Defects []defectPart `json:"defects"`
}

type asidePart struct {
	checklists.Aside
	Reason record.Personal `json:"reason"`
}

func newAsideBody(s checklists.SetAside, found []checklists.Defect) *asideBody {
	b := &asideBody{Unsigned: s.Unsigned, Aside: asidePart{s.Aside, record.Personal(s.Aside.Reason)}, Answers: answerParts(s.Given)}
	for _, d := range found {
		b.Defects = append(b.Defects, newDefectPart(d))
	}
	return b
}

func (b *asideBody) setAside() checklists.SetAside {
	s := checklists.SetAside{Unsigned: b.Unsigned, Given: answersOf(b.Answers)}
	s.Unsigned.Aside, s.Unsigned.Answers = b.Aside.Aside, len(b.Answers)
	s.Unsigned.Aside.Reason = string(b.Aside.Reason)
	return s
}

func (*asideBody) kind() (string, int) { return KindSetAside, 1 }

func (b *asideBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *asideBody) project(tx *Tx, e entry) error {
	s := b.setAside()
	if err := tx.put(&unsignedRow{Mill: e.Mill, ID: string(b.Inspection), Person: string(b.By), At: millis(b.At), Open: true, Doc: s.Unsigned}, "person", "at", "open", "doc"); err != nil {
		return err
	}
	for _, d := range b.Defects {
		if err := d.project(tx, e); err != nil {
			return err
		}
	}
	return nil
}

// SetAside says of a walk finished without contact that it is not to be signed.
// What was answered and found goes on the record, the walk itself is over, and what
// it checks stays held. Its error is what [checklists.Unsigned.SetAside] refuses, or
// ErrNotFound where no such walk waits.
func (m *Mill) SetAside(ctx context.Context, submission string, id checklists.InspectionID, reason string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "set-aside", at, func(tx *Tx, at time.Time) (string, error) {
		u, waits, err := tx.waiting(m.id, id)
		if err != nil {
			return "", err
		}
		if !waits {
			return "", ErrNotFound
		}
		w, err := walk(tx, m.id, id)
		if err != nil && !u.IsAside() {
			return "", err
		}
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		asked := func(item checklists.ItemID) bool {
			return slices.ContainsFunc(w.Answers, func(a checklists.Answer) bool { return a.Item == item })
		}
		var gone []checklists.FoundUnsigned
		for _, s := range facts.FoundUnsigned {
			if s.Inspection == id && !asked(s.Item) {
				gone = append(gone, s)
			}
		}
		aside, found, err := u.SetAside(w.List, w.Answers, gone, reason, by, NewID, facts.Defects, at)
		if err != nil {
			return "", err
		}
		if err := tx.recurring(m.id, found, at); err != nil {
			return "", err
		}
		if err := tx.gorm().Delete(&walkRow{}, "mill = ? AND id = ?", m.id, id).Error; err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, newAsideBody(aside, found))
		return string(id), err
	})
	return err
}

// AsideWalk is a walk that is not to be signed and the place of the entry that says
// so; ErrNotFound for any other.
func (m *Mill) AsideWalk(ctx context.Context, id checklists.InspectionID) (checklists.SetAside, int64, error) {
	entries, _, err := m.Entries(ctx, Filter{Subject: string(id), Kind: KindSetAside, Limit: 1})
	if err != nil {
		return checklists.SetAside{}, 0, err
	}
	for _, e := range entries {
		if s, read := e.Body.(checklists.SetAside); read {
			return s, e.Seq, nil
		}
	}
	return checklists.SetAside{}, 0, ErrNotFound
}
