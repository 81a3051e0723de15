package store

import (
	"context"
	"time"

	"stillsaw/procedures"
)

// Calendar is a secret address somebody reads their reminders from as a calendar.
// The address itself is kept nowhere, only its digest.
type Calendar struct {
	ID     string
	Person procedures.PersonID
	By     procedures.PersonID // who made it
	Made   time.Time
}

type calendarRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Person string
	Digest []byte
	Author string
	Made   int64
}

func (calendarRow) TableName() string { return "calendars" }

// calendarsMost is how many one person may have open: one for each device.
const calendarsMost = 12

// OpenCalendar keeps the digest of a new address for a person: their own, or
// anybody's by a supervisor. With the id of one that is open it takes that one's
// place, as when a form is sent twice. The oldest beyond a dozen end.
func (m *Mill) OpenCalendar(ctx context.Context, id string, person procedures.PersonID, digest [32]byte, by procedures.Person, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if err := tx.mayKeepFor(m, person, by); err != nil {
			return err
		}
		row := calendarRow{Mill: string(m.id), ID: id, Person: string(person), Digest: digest[:], Author: string(by.ID), Made: millis(at)}
		if err := tx.put(&row, "digest", "made"); err != nil {
			return err
		}
		newest := tx.gorm().Model(&calendarRow{}).Select("id").Where("mill = ? AND person = ?", m.id, person).Order("made DESC, id DESC").Limit(calendarsMost)
		return tx.gorm().Delete(&calendarRow{}, "mill = ? AND person = ? AND id NOT IN (?)", m.id, person, newest).Error
	})
}

// mayKeepFor lets people keep something of their own, and supervisors for anybody
// of the mill.
func (tx *Tx) mayKeepFor(m *Mill, who procedures.PersonID, by procedures.Person) error {
	if by.ID != who && !by.Supervises() {
		return refuseRole()
	}
	_, err := person(tx, m.id, who)
	return err
}

// CloseCalendar ends an address: one's own, or anybody's by a supervisor.
func (m *Mill) CloseCalendar(ctx context.Context, id string, by procedures.Person) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		row, err := one[calendarRow](tx, "calendar", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return err
		}
		if err := tx.mayKeepFor(m, procedures.PersonID(row.Person), by); err != nil {
			return err
		}
		return tx.gorm().Delete(&calendarRow{}, "mill = ? AND id = ?", m.id, id).Error
	})
}

// Calendars lists the addresses that are open, the newest first.
func (m *Mill) Calendars(ctx context.Context) ([]Calendar, error) {
	var rows []calendarRow
	err := m.gorm().WithContext(ctx).Order("made DESC, id DESC").Find(&rows, "mill = ?", m.id).Error
	all := make([]Calendar, len(rows))
	for i, row := range rows {
		all[i] = Calendar{ID: row.ID, Person: procedures.PersonID(row.Person), By: procedures.PersonID(row.Author), Made: timeOf(row.Made)}
	}
	return all, err
}

// CalendarFor finds the person an address was made for. ErrNotFound: it was never
// made or has ended, or the person has left.
func (m *Mill) CalendarFor(ctx context.Context, digest [32]byte, now time.Time) (procedures.Person, error) {
	row, err := one[calendarRow](ctxReader{m, ctx}, "calendar", "mill = ? AND digest = ?", m.id, digest[:])
	if err != nil {
		return procedures.Person{}, err
	}
	p, err := m.Person(ctx, procedures.PersonID(row.Person))
	if err == nil && p.Left {
		err = ErrNotFound
	}
	return p.Now(now), err
}
