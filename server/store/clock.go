package store

import (
	"context"
	"errors"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// clockRow is when a mill's clock was last confirmed.
type clockRow struct {
	Mill      string `gorm:"primaryKey"`
	Seq       int64
	Confirmed int64
}

func (clockRow) TableName() string { return "clocks" }

// misdatedRow names an inspection, amendment or run check whose time a later
// confirmation of the clock has shown to be wrong. It counts for no shift: that
// time will come, and nobody will have looked then.
type misdatedRow struct {
	Mill string `gorm:"primaryKey"`
	Kind string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
}

func (misdatedRow) TableName() string { return "misdated" }

type clockBody struct {
	everywhere
	checklists.ClockConfirmation
}

func (*clockBody) kind() (string, int) { return KindClockConfirmed, 1 }

func (b *clockBody) project(tx *Tx, e entry) error {
	row := clockRow{Mill: e.Mill, Seq: e.Seq, Confirmed: millis(b.Confirmed)}
	if err := tx.db.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "mill"}}, UpdateAll: true}).Create(&row).Error; err != nil {
		return err
	}
	if err := tx.uncount(e.Mill, row.Confirmed); err != nil {
		return err
	}
	var wrong []misdatedRow
	for kind, table := range map[string]any{KindInspection: &inspectionRow{}, KindAmendment: &amendmentRow{}} {
		var ids []string
		if err := tx.gorm().Model(table).Where("mill = ? AND at > ?", e.Mill, row.Confirmed).Pluck("id", &ids).Error; err != nil {
			return err
		}
		for _, id := range ids {
			wrong = append(wrong, misdatedRow{e.Mill, kind, id})
		}
	}
	var runs []runCheckRow
	if err := tx.gorm().Find(&runs, "mill = ? AND until > ?", e.Mill, row.Confirmed).Error; err != nil {
		return err
	}
	for _, r := range runs {
		if r.Doc.From.After(b.Confirmed) {
			wrong = append(wrong, misdatedRow{e.Mill, KindRunCheck, r.ID})
		}
	}
	if len(wrong) == 0 {
		return nil
	}
	return tx.db.Clauses(clause.OnConflict{DoNothing: true}).CreateInBatches(wrong, 100).Error
}

// ConfirmClock keeps a supervisor's word that the clock is right: entries with
// a later time no longer hold the mill. Answers of walks under way with a later
// time are asked again.
func (m *Mill) ConfirmClock(ctx context.Context, submission string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "clock", at, func(tx *Tx, at time.Time) (string, error) {
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		confirmed, err := checklists.ConfirmClock(facts, by, at)
		if err != nil {
			return "", err
		}
		if err := tx.dropWalked(m.id, at); err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, &clockBody{ClockConfirmation: confirmed})
		return string(m.id), err
	})
	return err
}

// dropWalked takes what has a later time out of the walks under way.
func (tx *Tx) dropWalked(mill checklists.MillID, at time.Time) error {
	if err := tx.gorm().Model(&walkRow{}).Where("mill = ? AND began > ?", mill, millis(at)).Update("began", millis(at)).Error; err != nil {
		return err
	}
	var answers []walkAnswerRow
	if err := tx.gorm().Find(&answers, "mill = ?", mill).Error; err != nil {
		return err
	}
	for _, a := range answers {
		if !a.Doc.At.After(at) {
			continue
		}
		if a.Doc.Result == checklists.Found && a.Doc.Severity != checklists.Mend { // when is not known, what was found still holds
			if err := tx.putWalked(a.Mill, a.Walk, a.Doc.Carried()); err != nil {
				return err
			}
			continue
		}
		if err := tx.gorm().Delete(&a).Error; err != nil {
			return err
		}
	}
	return nil
}

// clockConfirmed is when the mill's clock was last confirmed, zero for never.
func clockConfirmed(r reader, mill checklists.MillID) (time.Time, error) {
	row, err := one[clockRow](r, "clock", "mill = ?", mill)
	if errors.Is(err, ErrNotFound) {
		return time.Time{}, nil
	}
	return timeOf(row.Confirmed), err
}

// rightly keeps what was not misdated: for queries on the table of that kind.
func rightly(tx *Tx, mill checklists.MillID, kind string) *gorm.DB {
	return tx.gorm().Where("id NOT IN (?)", tx.gorm().Model(&misdatedRow{}).Select("id").Where("mill = ? AND kind = ?", mill, kind))
}
