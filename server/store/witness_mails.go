package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
)

type witnessMailRow struct {
	Mill    string `gorm:"primaryKey"`
	Mail    string `gorm:"primaryKey"`
	Witness string
}

func (witnessMailRow) TableName() string { return "witness_mails" }

// postToWitness keeps which witness a mail just put in the outbox goes to.
func (tx *Tx) postToWitness(mail Mail, row outboxRow, fresh bool) error {
	if !fresh {
		return nil
	}
	if err := tx.gorm().Create(&witnessMailRow{Mill: row.Mill, Mail: row.ID, Witness: string(mail.Witness)}).Error; err != nil {
		return err
	}
	if err := tx.gorm().Delete(&outboxRow{}, "mill = ? AND made < ?", row.Mill, millis(mail.Made.Add(-outboxKept))).Error; err != nil {
		return err
	}
	return tx.gorm().Exec("DELETE FROM witness_mails WHERE mill = ? AND mail NOT IN (SELECT id FROM mail_outbox WHERE mill = ?)", row.Mill, row.Mill).Error
}

// Posted tells whether a mail that goes to no person was posted on an occasion.
func (m *Mill) Posted(ctx context.Context, occasion string) (bool, error) {
	var n int64
	err := m.gorm().WithContext(ctx).Model(&outboxRow{}).Where("mill = ? AND person = '' AND occasion = ?", m.id, occasion).Count(&n).Error
	return n > 0, err
}

// witnessMails are the mails of the outbox that go to a witness.
func witnessMails(r reader, mill checklists.MillID) (map[string]checklists.WitnessID, error) {
	var rows []witnessMailRow
	err := r.gorm().Find(&rows, "mill = ?", mill).Error
	to := make(map[string]checklists.WitnessID, len(rows))
	for _, row := range rows {
		to[row.Mail] = checklists.WitnessID(row.Witness)
	}
	return to, err
}

// mailedToWitness keeps with the witness what came of a mail to it, if it was to one.
func (tx *Tx) mailedToWitness(m *Mill, mail, wrong string, givenUp bool, now time.Time) error {
	row, err := one[witnessMailRow](tx, "mail", "mill = ? AND mail = ?", m.id, mail)
	switch {
	case errors.Is(err, ErrNotFound):
		return nil
	case err != nil:
		return err
	}
	changes := map[string]any{"tried": millis(now), "why": wrong}
	switch {
	case wrong == "":
		changes["answer"], changes["sent"] = string(checklists.WitnessTook), millis(now)
	case givenUp:
		changes["answer"] = string(checklists.WitnessUnreached)
	}
	return tx.gorm().Model(&witnessRow{}).Where("mill = ? AND id = ?", m.id, row.Witness).Updates(changes).Error
}
