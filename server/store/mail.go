package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

type mailSettingsRow struct {
	Mill string `gorm:"primaryKey"`
	At   int64
	Doc  checklists.MailSettings `gorm:"serializer:json"`
}

func (mailSettingsRow) TableName() string { return "mail_settings" }

type mailSecretRow struct {
	Mill   string `gorm:"primaryKey"`
	At     int64
	Secret string
}

func (mailSecretRow) TableName() string { return "mail_secrets" }

type mailRecipientRow struct {
	Mill    string `gorm:"primaryKey"`
	Person  string `gorm:"primaryKey"`
	Address string
	At      int64
}

func (mailRecipientRow) TableName() string { return "mail_recipients" }

// KeepMailSettings sets how mail is sent. A nil secret leaves the one there is.
// Neither goes into the record. Its error is what [checklists.MailSettings.Keep]
// refuses.
func (m *Mill) KeepMailSettings(ctx context.Context, s checklists.MailSettings, secret *string, by procedures.Person, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		kept, err := s.Keep(by, at)
		if err != nil {
			return err
		}
		if secret != nil {
			if err := tx.put(&mailSecretRow{Mill: string(m.id), At: millis(at), Secret: *secret}, "at", "secret"); err != nil {
				return err
			}
		}
		return tx.put(&mailSettingsRow{Mill: string(m.id), At: millis(at), Doc: kept}, "at", "doc")
	})
}

// MailSettings loads how mail is sent, the zero value where nobody has said.
func (m *Mill) MailSettings(ctx context.Context) (checklists.MailSettings, error) {
	row, err := one[mailSettingsRow](ctxReader{m, ctx}, "mail settings", "mill = ?", m.id)
	if errors.Is(err, ErrNotFound) {
		return checklists.MailSettings{}, nil
	}
	return row.Doc, err
}

// MailSecret loads the password of the mail server, "" where there is none.
func (m *Mill) MailSecret(ctx context.Context) (string, error) {
	row, err := one[mailSecretRow](ctxReader{m, ctx}, "mail secret", "mill = ?", m.id)
	if errors.Is(err, ErrNotFound) {
		return "", nil
	}
	return row.Secret, err
}

// MailRecipient is somebody who asked for reminders by mail.
type MailRecipient struct {
	Person  procedures.PersonID
	Address string
	Since   time.Time
}

// KeepMailRecipient sends a person's reminders to an address from now on, or with
// "" no more: the address is then gone. People do it for themselves; a supervisor
// may only end it. Its error is a [plain.Problems] for the field "address", or a
// [plain.Refusal].
func (m *Mill) KeepMailRecipient(ctx context.Context, who procedures.PersonID, address string, by procedures.Person, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if by.ID != who && address != "" {
			return plain.Refuse("", "Only the person asks for mail to their own address.")
		}
		if err := tx.mayKeepFor(m, who, by); err != nil {
			return err
		}
		if address == "" {
			if err := tx.gorm().Delete(&mailToldRow{}, "mill = ? AND person = ?", m.id, who).Error; err != nil {
				return err
			}
			return tx.gorm().Delete(&mailRecipientRow{}, "mill = ? AND person = ?", m.id, who).Error
		}
		var bad plain.Problems
		bad.Unless(checklists.MailAddress(address), "address", "an e-mail address, such as name@example.com")
		if err := bad.Err(); err != nil {
			return err
		}
		return tx.put(&mailRecipientRow{Mill: string(m.id), Person: string(who), Address: address, At: millis(at)}, "address", "at")
	})
}

// MailRecipients lists who asked for mail, in the order they did.
func (m *Mill) MailRecipients(ctx context.Context) ([]MailRecipient, error) {
	var rows []mailRecipientRow
	err := m.gorm().WithContext(ctx).Order("at, person").Find(&rows, "mill = ?", m.id).Error
	all := make([]MailRecipient, len(rows))
	for i, row := range rows {
		all[i] = MailRecipient{Person: procedures.PersonID(row.Person), Address: row.Address, Since: timeOf(row.At)}
	}
	return all, err
}
