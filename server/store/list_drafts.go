package store

import (
	"context"
	"errors"
	"time"

	"gorm.io/gorm/clause"

	"stillsaw/procedures"
)

// Save is one saving of a list's draft: what it left, and who saved it when.
type Save struct {
	Revision int
	By       procedures.PersonID
	At       time.Time
	Doc      string
}

type draftSaveRow struct {
	Mill     string `gorm:"primaryKey"`
	Sort     string `gorm:"primaryKey"`
	ID       string `gorm:"primaryKey"`
	Revision int    `gorm:"primaryKey"`
	Person   string
	At       int64
	Doc      string
}

func (draftSaveRow) TableName() string { return "draft_saves" }

// savesMost is how many savings of one draft are kept to tell two people's
// changes apart; whoever types on a form older than that is still told.
const savesMost = 40

// KeepList stores the draft of a list's next version as KeepDraft does, and with
// it who saved it. over is the newest version the draft's author had seen: a
// version put in force meanwhile is ErrChanged too, since a draft made without
// knowing it would undo it unseen.
func (m *Mill) KeepList(ctx context.Context, d Draft, over int, by procedures.Person, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if !by.Supervises() {
			return refuseRole()
		}
		stands, err := one[draftRow](tx, "draft", "mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID)
		if err != nil && !errors.Is(err, ErrNotFound) {
			return err
		}
		if err == nil && stands.Title == d.Title && stands.Doc == d.Doc {
			return nil // sent twice
		}
		if err := m.seen(tx, d, over); err != nil {
			return err
		}
		if err := m.keepDraft(tx, d, at); err != nil {
			return err
		}
		if err := m.remember(tx, stands); err != nil {
			return err
		}
		revision := d.Revision + 1
		if d.Revision == 0 {
			if revision, err = m.numberOn(tx, d); err != nil {
				return err
			}
		}
		saved := draftSaveRow{Mill: string(m.id), Sort: string(d.Sort), ID: d.ID, Revision: revision, Person: string(by.ID), At: millis(at), Doc: d.Doc}
		if err := tx.gorm().Create(&saved).Error; err != nil {
			return err
		}
		return tx.gorm().Delete(&draftSaveRow{}, "mill = ? AND sort = ? AND id = ? AND revision <= ?", m.id, d.Sort, d.ID, saved.Revision-savesMost).Error
	})
}

// numberOn gives a new draft a revision behind those of one discarded before it,
// so that a form made from that one is not taken for one of this.
func (m *Mill) numberOn(tx *Tx, d Draft) (int, error) {
	var last int
	err := tx.gorm().Raw("SELECT coalesce(max(revision), 0) FROM draft_saves WHERE mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID).Scan(&last).Error
	if err != nil || last == 0 {
		return 1, err
	}
	return last + 1, tx.gorm().Model(&draftRow{}).Where("mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID).Update("revision", last+1).Error
}

// remember keeps what a draft was that nobody saved by name, as a starter.
func (m *Mill) remember(tx *Tx, was draftRow) error {
	if was.Revision == 0 {
		return nil
	}
	return tx.gorm().Clauses(clause.OnConflict{DoNothing: true}).
		Create(&draftSaveRow{Mill: was.Mill, Sort: was.Sort, ID: was.ID, Revision: was.Revision, At: was.At, Doc: was.Doc}).Error
}

// seen holds the newest version against the one the author of a draft knew.
func (m *Mill) seen(tx *Tx, d Draft, over int) error {
	last, err := lastVersion(tx, m.id, d.Sort, d.ID)
	if err == nil && last != over {
		return ErrChanged
	}
	return err
}

// Saved loads what a draft was after that revision; ErrNotFound where that is
// too long ago, or nobody saved it by name.
func (m *Mill) Saved(ctx context.Context, sort Sort, id string, revision int) (Save, error) {
	row, err := one[draftSaveRow](ctxReader{m, ctx}, "saved draft", "mill = ? AND sort = ? AND id = ? AND revision = ?", m.id, sort, id, revision)
	return Save{Revision: row.Revision, By: procedures.PersonID(row.Person), At: timeOf(row.At), Doc: row.Doc}, err
}
