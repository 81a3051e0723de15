package store

import (
	"context"
	"time"

	"gorm.io/gorm/clause"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// MailState is how far a mail of the outbox has come.
type MailState string

const (
	MailQueued MailState = "queued"
	MailSent   MailState = "sent"
	MailFailed MailState = "failed" // given up
	MailNone   MailState = "none"   // there was nothing to say that day
)

// Mail is one mail to a person, once for each occasion.
type Mail struct {
	ID            string
	Person        procedures.PersonID
	Occasion      string // "day 2026-03-03", or what it was about
	State         MailState
	Made          time.Time
	Tries         int
	Next          time.Time // of the next try, while it is queued
	Sent          time.Time
	Wrong         string // what the last try said
	Subject, Body string

	Witness checklists.WitnessID // that it goes to, where it goes to no person
}

type outboxRow struct {
	Mill     string `gorm:"primaryKey"`
	ID       string `gorm:"primaryKey"`
	Person   string
	Occasion string
	State    string
	Made     int64
	Tries    int
	Next     int64
	Sent     int64
	Wrong    string
	Subject  string
	Body     string
}

func (outboxRow) TableName() string { return "mail_outbox" }

func (row outboxRow) mail() Mail {
	return Mail{ID: row.ID, Person: procedures.PersonID(row.Person), Occasion: row.Occasion, State: MailState(row.State), Made: timeOf(row.Made), Tries: row.Tries,
		Next: timeOf(row.Next), Sent: timeOf(row.Sent), Wrong: row.Wrong, Subject: row.Subject, Body: row.Body}
}

type mailToldRow struct {
	Mill     string `gorm:"primaryKey"`
	Person   string `gorm:"primaryKey"`
	Reminder string `gorm:"primaryKey"`
}

func (mailToldRow) TableName() string { return "mail_told" }

// outboxKept is how long what was sent is kept for the supervisor to look at.
const outboxKept = 60 * 24 * time.Hour

// PostMail puts a mail in the outbox, unless there is one to that person on that
// occasion, and keeps which overdue things the person has now been told of.
func (m *Mill) PostMail(ctx context.Context, mail Mail, told []string) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		row := outboxRow{Mill: string(m.id), ID: NewID(), Person: string(mail.Person), Occasion: mail.Occasion, State: string(mail.State), Made: millis(mail.Made),
			Next: millis(mail.Made), Subject: mail.Subject, Body: mail.Body}
		posted := tx.gorm().Clauses(clause.OnConflict{DoNothing: true}).Create(&row)
		if posted.Error != nil {
			return posted.Error
		}
		if mail.Witness != "" {
			return tx.postToWitness(mail, row, posted.RowsAffected == 1)
		}
		if err := tx.gorm().Delete(&outboxRow{}, "mill = ? AND made < ?", m.id, millis(mail.Made.Add(-outboxKept))).Error; err != nil {
			return err
		}
		if err := tx.gorm().Delete(&mailToldRow{}, "mill = ? AND person = ?", m.id, mail.Person).Error; err != nil {
			return err
		}
		rows := make([]mailToldRow, len(told))
		for i, id := range told {
			rows[i] = mailToldRow{Mill: string(m.id), Person: string(mail.Person), Reminder: id}
		}
		return createAll(tx, rows)
	})
}

// MailTold are the overdue things a person was told of by mail, and whether a mail
// on that occasion was posted already.
func (m *Mill) MailTold(ctx context.Context, who procedures.PersonID, occasion string) (told map[string]bool, posted bool, err error) {
	db := m.gorm().WithContext(ctx)
	var ids []string
	if err := db.Model(&mailToldRow{}).Where("mill = ? AND person = ?", m.id, who).Pluck("reminder", &ids).Error; err != nil {
		return nil, false, err
	}
	told = make(map[string]bool, len(ids))
	for _, id := range ids {
		told[id] = true
	}
	var n int64
	err = m.gorm().WithContext(ctx).Model(&outboxRow{}).Where("mill = ? AND person = ? AND occasion = ?", m.id, who, occasion).Count(&n).Error
	return told, n > 0, err
}

// MailDue lists the mails whose try has come, the oldest first.
func (m *Mill) MailDue(ctx context.Context, now time.Time) ([]Mail, error) {
	return m.outbox(ctx, -1, "made, id", "state = ? AND next <= ?", MailQueued, millis(now))
}

// Outbox lists what was sent and is to be sent, newest first, at most limit.
func (m *Mill) Outbox(ctx context.Context, limit int) ([]Mail, error) {
	return m.outbox(ctx, limit, "made DESC, id DESC", "state <> ?", MailNone)
}

func (m *Mill) outbox(ctx context.Context, limit int, order, where string, args ...any) ([]Mail, error) {
	var rows []outboxRow
	err := m.gorm().WithContext(ctx).Where("mill = ?", m.id).Where(where, args...).Order(order).Limit(limit).Find(&rows).Error
	if err != nil {
		return nil, err
	}
	witnesses, err := witnessMails(ctxReader{m, ctx}, m.id)
	all := make([]Mail, len(rows))
	for i := range rows {
		all[i] = rows[i].mail()
		all[i].Witness = witnesses[rows[i].ID]
	}
	return all, err
}

// BeginMail counts a try before it is made, so that a server that dies in it
// waits all the same before the next, and returns that try's number. A mail that
// waits no more is 0.
func (m *Mill) BeginMail(ctx context.Context, id string, now time.Time) (try int, err error) {
	var counted int
	err = m.s.writer.do(ctx, func(tx *Tx) error {
		row, err := one[outboxRow](tx, "mail", "mill = ? AND id = ?", m.id, id)
		if err != nil || row.State != string(MailQueued) || row.Next > millis(now) {
			return err
		}
		counted = row.Tries + 1
		wait, _ := checklists.MailWait(counted)
		return tx.gorm().Model(&outboxRow{}).Where("mill = ? AND id = ?", m.id, id).Updates(map[string]any{"tries": counted, "next": millis(now.Add(wait))}).Error
	})
	if err != nil {
		return 0, err
	}
	return counted, nil
}

// EndMail keeps what came of a try: wrong is "" where it was sent. A mail that is
// given up is not tried again.
func (m *Mill) EndMail(ctx context.Context, id, wrong string, givenUp bool, now time.Time) error {
	changes := map[string]any{"wrong": wrong}
	switch {
	case wrong == "":
		changes["state"], changes["sent"] = string(MailSent), millis(now)
	case givenUp:
		changes["state"] = string(MailFailed)
	}
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if err := tx.gorm().Model(&outboxRow{}).Where("mill = ? AND id = ?", m.id, id).Updates(changes).Error; err != nil {
			return err
		}
		return tx.mailedToWitness(m, id, wrong, givenUp, now)
	})
}

// RetryMail lets mails that were given up be tried again from now on.
func (m *Mill) RetryMail(ctx context.Context, by procedures.Person, now time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if !by.Supervises() {
			return refuseRole()
		}
		return tx.gorm().Model(&outboxRow{}).Where("mill = ? AND state IN ?", m.id, []MailState{MailFailed, MailQueued}).
			Updates(map[string]any{"state": string(MailQueued), "tries": 0, "next": millis(now)}).Error
	})
}
