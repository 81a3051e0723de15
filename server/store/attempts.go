package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"stillsaw/procedures"
)

type attemptRow struct {
	Mill   string `gorm:"primaryKey"`
	Kind   string `gorm:"primaryKey"`
	Who    string `gorm:"primaryKey"`
	Failed int
	Last   int64
}

func (attemptRow) TableName() string { return "attempts" }

// Kinds of attempts.
const (
	ofPerson  = "person"
	ofSigned  = "signed-in" // of a person, where they are signed in
	ofAddress = "address"
)

// TryLimits is how fast PINs may be tried.
type TryLimits struct {
	// How long after the last of so many failed tries the next may come.
	Person, Address func(failed int) time.Duration
	// After so long without a failed try an address starts anew. A person's
	// tries are only forgotten when the right PIN or a new one comes: else
	// somebody patient would get more of them.
	Forget time.Duration
}

// TryWait is how long to wait before trying again, and whether tries failed before.
type TryWait struct {
	Person, Address time.Duration
	Failed          bool
}

// None tells whether the try may go on.
func (w TryWait) None() bool { return w.Person <= 0 && w.Address <= 0 }

// MayTry tells how long to wait before a person's PIN may be tried from an address,
// by the tries that failed. One person's tries must come one after the other, each
// counted by [Mill.WrongTry] before the next asks: else many at once would go free.
//
// With no address the try is made where the person is signed in. Those are counted
// by themselves: whoever guesses from elsewhere keeps nobody from signing, and a
// signature gives no further tries to who guesses from elsewhere.
func (m *Mill) MayTry(ctx context.Context, person procedures.PersonID, address string, limits TryLimits, at time.Time) (wait TryWait, err error) {
	kind := ofPerson
	if address == "" {
		kind = ofSigned
	}
	var row attemptRow
	err = scanned(ctxReader{m, ctx}, []any{&row.Kind, &row.Failed, &row.Last}, func() error {
		last := timeOf(row.Last)
		switch {
		case row.Kind != ofAddress:
			wait.Person = last.Add(limits.Person(row.Failed)).Sub(at)
		case last.After(at.Add(-limits.Forget)):
			wait.Address = last.Add(limits.Address(row.Failed)).Sub(at)
		}
		wait.Failed = true
		return nil
	}, "SELECT kind, failed, last FROM attempts WHERE mill = ? AND (kind = ? AND who = ? OR kind = ? AND who = ?)",
		string(m.id), kind, string(person), ofAddress, address)
	return wait, err
}

// WrongTry counts a try that turned out wrong against the person, and against the
// address too, if there is one: many people share it.
func (m *Mill) WrongTry(ctx context.Context, person procedures.PersonID, address string, limits TryLimits, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if address == "" {
			return m.countTry(tx, ofSigned, string(person), at)
		}
		err := tx.straight("DELETE FROM attempts WHERE mill = ? AND kind = ? AND last <= ?", string(m.id), ofAddress, millis(at.Add(-limits.Forget)))
		if err != nil {
			return err
		}
		if err := m.countTry(tx, ofPerson, string(person), at); err != nil {
			return err
		}
		return m.countTry(tx, ofAddress, address, at)
	})
}

func (m *Mill) countTry(tx *Tx, kind, who string, at time.Time) error {
	return tx.straight("INSERT INTO attempts (mill, kind, who, failed, last) VALUES (?, ?, ?, 1, ?) ON CONFLICT (mill, kind, who) DO UPDATE SET failed = attempts.failed + 1, last = excluded.last",
		string(m.id), kind, who, millis(at))
}

// RightTry follows a try that turned out right where others had failed. The person's
// failed tries are forgotten and those of the address halved: a phone that is
// shared is not held back for long by what somebody else typed, and who tries
// other people's PINs does not wipe it clean with the own one. With no address only
// those made where the person is signed in are forgotten.
//
// It is done ahead of whatever is written next, which is mostly what the PIN was
// given for; lost with the power, they stay counted.
func (m *Mill) RightTry(person procedures.PersonID, address string) {
	m.s.writer.along(func(tx *Tx) error {
		if address == "" {
			return m.forgetTries(tx, person, ofSigned)
		}
		if err := m.forgetTries(tx, person, ofPerson); err != nil {
			return err
		}
		return tx.gorm().Model(&attemptRow{}).Where("mill = ? AND kind = ? AND who = ? AND failed > 0", m.id, ofAddress, address).
			Update("failed", gorm.Expr("failed / 2")).Error
	})
}

func (m *Mill) forgetTries(tx *Tx, person procedures.PersonID, kinds ...string) error {
	return tx.gorm().Delete(&attemptRow{}, "mill = ? AND kind IN ? AND who = ?", m.id, kinds, person).Error
}
