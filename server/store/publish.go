package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Number is the check and numbering a document goes through when published; nil
// for a list.
type Number func(doc string, version int) (string, error)

// PublishDraft puts d itself in force as the next version, whether or not it was
// kept as a draft before, and forgets the draft. Its error is ErrChanged when
// the draft is no longer the one of d.Revision (0: there was none).
func (m *Mill) PublishDraft(ctx context.Context, submission string, d Draft, by procedures.Person, at time.Time, number Number) error {
	_, err := m.do(ctx, submission, "publish", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[draftRow](tx, "draft", "mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID)
		if err != nil && !errors.Is(err, ErrNotFound) {
			return "", err
		}
		if row.Revision != d.Revision {
			return "", ErrChanged
		}
		return d.ID, m.putInForce(tx, d, by, at, number)
	})
	return err
}

// PublishAll puts several drafts in force as they were read, all or none, each
// as an entry of its own: one signature for the starters of a new mill. Problems
// go by the field "publish." with sort and id, as in "publish.list.pre-shift".
func (m *Mill) PublishAll(ctx context.Context, submission string, read []Draft, by procedures.Person, at time.Time, numbers func(Sort) Number) error {
	_, err := m.do(ctx, submission, "publish-all", at, func(tx *Tx, at time.Time) (string, error) {
		var bad plain.Problems
		for _, d := range read {
			field := "publish." + string(d.Sort) + "." + d.ID
			row, err := one[draftRow](tx, "draft", "mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID)
			if err != nil && !errors.Is(err, ErrNotFound) {
				return "", err
			}
			if row.Revision != d.Revision || row.Revision == 0 {
				bad.Unless(false, field, "read it once more: somebody changed or published it meanwhile")
				continue
			}
			err = m.putInForce(tx, draftOf(row), by, at, numbers(d.Sort))
			var gaps plain.Problems
			if errors.As(err, &gaps) {
				bad.Unless(false, field, "not ready to publish: open it and fill in what is missing, and for a procedure what changed")
			} else if err != nil {
				return "", err
			}
		}
		return fmt.Sprint(len(read)), bad.Err()
	})
	return err
}

// putInForce publishes d and forgets its draft.
func (m *Mill) putInForce(tx *Tx, d Draft, by procedures.Person, at time.Time, number Number) error {
	if err := m.publishAs(tx, d, by, at, number); err != nil {
		return err
	}
	if err := tx.gorm().Delete(&draftSaveRow{}, "mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID).Error; err != nil {
		return err
	}
	return tx.gorm().Delete(&draftRow{}, "mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID).Error
}

// publishAs enters d as the next version.
func (m *Mill) publishAs(tx *Tx, d Draft, by procedures.Person, at time.Time, number Number) error {
	if !by.Supervises() {
		return refuseRole()
	}
	last, err := lastVersion(tx, m.id, d.Sort, d.ID)
	if err != nil {
		return err
	}
	var doc string
	if d.Sort == Lists {
		doc, err = m.numbered(tx, d, last+1, at)
	} else {
		doc, err = number(d.Doc, last+1)
	}
	if err != nil {
		return err
	}
	if d.Sort == Rigs {
		if err := mayPublishRig(tx, m.id, d.ID, doc, by.Now(at)); err != nil {
			return err
		}
	}
	b, err := newPublishedBody(d.Sort, d.ID, last+1, d.Title, doc)
	if err != nil {
		return err
	}
	if b.Renewal, err = renewed(tx, m.id, d, last, doc); err != nil {
		return err
	}
	_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: d.ID}, b)
	return err
}

// mayPublishRig holds a rig about to be published against the version in force
// and the register.
func mayPublishRig(tx *Tx, mill checklists.MillID, id, doc string, by procedures.Person) error {
	rig, err := ReadRig(doc)
	if err != nil {
		return err
	}
	rig.ID = id
	known, err := gear(tx, string(mill), id)
	if err != nil {
		return err
	}
	change := procedures.RigChange{After: rig, Register: known.Register}
	for _, version := range known.Register.Versions {
		if version.InForce && version.Rig.ID == id {
			change.Before = version.Rig
		}
	}
	var bad plain.Problems
	bad.Add("", rig.KeepsDestroyed(known.Register.Versions))
	bad.Add("", procedures.MayPublishRig(change, by))
	return bad.Err()
}
