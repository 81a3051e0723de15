package store

import (
	"context"
	"errors"
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

// TryWait is how long to wait before trying again. Zero: the try was counted.
type TryWait struct{ Person, Address time.Duration }

// None tells whether the try may go on.
func (w TryWait) None() bool { return w.Person <= 0 && w.Address <= 0 }

// CountTry asks leave to try a person's PIN from an address. In one command it
// reads what failed before and either says how long to wait or counts the try
// against the person, before anybody knows whether it is right: tries that come
// together are counted one after another. RightTry takes it back; WrongTry
// counts it against the address too, which many people share and which is
// therefore never charged with tries under way.
//
// With no address the try is made where the person is signed in. Those are counted
// by themselves: whoever guesses from elsewhere keeps nobody from signing, and a
// signature gives no further tries to who guesses from elsewhere.
func (m *Mill) CountTry(ctx context.Context, person procedures.PersonID, address string, limits TryLimits, at time.Time) (TryWait, error) {
	var wait TryWait
	err := m.s.writer.do(ctx, func(tx *Tx) error {
		if address == "" {
			var err error
			if wait.Person, err = m.waitOf(tx, ofSigned, string(person), limits.Person, at); err != nil || !wait.None() {
				return err
			}
			return m.countTry(tx, ofSigned, string(person), at)
		}
		forgotten := millis(at.Add(-limits.Forget))
		if err := tx.gorm().Delete(&attemptRow{}, "mill = ? AND kind = ? AND last <= ?", m.id, ofAddress, forgotten).Error; err != nil {
			return err
		}
		var err, err2 error
		wait.Person, err = m.waitOf(tx, ofPerson, string(person), limits.Person, at)
		wait.Address, err2 = m.waitOf(tx, ofAddress, address, limits.Address, at)
		if err := errors.Join(err, err2); err != nil || !wait.None() {
			return err
		}
		return m.countTry(tx, ofPerson, string(person), at)
	})
	if err != nil {
		return TryWait{}, err // wait may still be written to by a command that outlives ctx
	}
	return wait, nil
}

func (m *Mill) waitOf(tx *Tx, kind, who string, wait func(int) time.Duration, at time.Time) (time.Duration, error) {
	row, err := one[attemptRow](tx, "attempts", "mill = ? AND kind = ? AND who = ?", m.id, kind, who)
	if errors.Is(err, ErrNotFound) {
		return 0, nil
	}
	return timeOf(row.Last).Add(wait(row.Failed)).Sub(at), err
}

func (m *Mill) countTry(tx *Tx, kind, who string, at time.Time) error {
	return tx.gorm().Exec("INSERT INTO attempts (mill, kind, who, failed, last) VALUES (?, ?, ?, 1, ?) ON CONFLICT (mill, kind, who) DO UPDATE SET failed = attempts.failed + 1, last = excluded.last",
		m.id, kind, who, millis(at)).Error
}

// WrongTry counts a try that turned out wrong against the address.
func (m *Mill) WrongTry(ctx context.Context, address string, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error { return m.countTry(tx, ofAddress, address, at) })
}

// RightTry takes back a counted try that turned out right. The person's
// failed tries are forgotten and those of the address halved: a phone that is
// shared is not held back for long by what somebody else typed, and who tries
// other people's PINs does not wipe it clean with the own one. With no address only
// those made where the person is signed in are forgotten.
//
// It is done ahead of whatever is written next, which is mostly what the PIN was
// given for; lost with the power, the try stays counted.
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
