package store

import (
	"context"
	"crypto/rand"
	"errors"
	"os"
	"time"

	"golang.org/x/mod/sumdb/note"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// KindLogKey is the entry that names the key checkpoints are signed with from
// there on.
const KindLogKey = "log-key"

// Why a key was named.
const (
	FirstKey   = "first"     // the mill had none
	RotatedKey = "rotated"   // by a supervisor
	LostKey    = "not-found" // the former key's file was not on the computer
)

// LogKey is a key that signs the mill's checkpoints, as the record names it.
type LogKey struct {
	Verifier string // note.NewVerifier reads it
	From     int64  // seq of the entry that named it
	At       time.Time
	Until    int64 // seq of the entry that replaced it, 0 while in use

	Why    string
	By     procedures.PersonID // "" where the program did
	Reason string              // a supervisor's, for a rotation
}

// Held tells whether k was the key of a record of size entries.
func (k LogKey) Held(size int64) bool {
	return size > k.From && (k.Until == 0 || size <= k.Until)
}

type logKeyRow struct {
	Mill     string `gorm:"primaryKey"`
	Seq      int64  `gorm:"primaryKey;autoIncrement:false"`
	Verifier string
	At       int64
	Until    int64
	Why      string
	Actor    string
	Reason   string
}

func (logKeyRow) TableName() string { return "log_keys" }

func (row logKeyRow) key() LogKey {
	return LogKey{Verifier: row.Verifier, From: row.Seq, At: timeOf(row.At), Until: row.Until, Why: row.Why, By: procedures.PersonID(row.Actor), Reason: row.Reason}
}

type logKeyBody struct {
	everywhere
	Verifier string          `json:"verifier"`
	Why      string          `json:"why"`
	Reason   record.Personal `json:"reason"`
}

func (*logKeyBody) kind() (string, int) { return KindLogKey, 1 }

func (b *logKeyBody) project(tx *Tx, e entry) error {
	if err := tx.db.Model(&logKeyRow{}).Where("mill = ? AND until = 0", e.Mill).Update("until", e.Seq).Error; err != nil {
		return err
	}
	return tx.add(&logKeyRow{Mill: e.Mill, Seq: e.Seq, Verifier: b.Verifier, At: millis(e.At), Why: b.Why, Actor: string(e.Actor), Reason: string(b.Reason)})
}

// named is the key as its entry names it.
func (b *logKeyBody) named() LogKey {
	return LogKey{Verifier: b.Verifier, Why: b.Why, Reason: string(b.Reason)}
}

// LogKeys lists the keys the record names, the one in use last.
func (m *Mill) LogKeys(ctx context.Context) ([]LogKey, error) {
	return logKeys(ctxReader{m, ctx}, string(m.id))
}

func logKeys(r reader, mill string) ([]LogKey, error) {
	var rows []logKeyRow
	err := r.gorm().Order("seq").Find(&rows, "mill = ?", mill).Error
	keys := make([]LogKey, len(rows))
	for i, row := range rows {
		keys[i] = row.key()
	}
	return keys, err
}

// EnsureKey makes and names a key where the mill has none, or where the file of
// the one it has is not on this computer, and ends a rotation that was cut off.
// It is called at set-up and at each start; with a key in place it does nothing.
func (m *Mill) EnsureKey(ctx context.Context, at time.Time) (LogKey, error) {
	m.s.keys.making.Lock()
	defer m.s.keys.making.Unlock()
	named, err := m.LogKeys(ctx)
	if err != nil {
		return LogKey{}, err
	}
	why := FirstKey
	if len(named) > 0 {
		switch _, _, err := m.s.keys.signer(m.id, named[len(named)-1].Verifier); {
		case err == nil:
			return named[len(named)-1], m.settleKey(ctx, named, at)
		case !errors.Is(err, ErrNoKey):
			return LogKey{}, err
		}
		why = LostKey
	}
	if err := m.s.keys.setAside(m.id); err != nil {
		return LogKey{}, err
	}
	return m.nameKey(ctx, at, func(verifier string, at time.Time) error {
		return m.s.writer.do(ctx, func(tx *Tx) error {
			at, err := tx.inTurn(m, at)
			if err != nil {
				return err
			}
			_, err = tx.append(m.id, act{Subject: string(m.id), At: at}, &logKeyBody{Verifier: verifier, Why: why})
			return err
		})
	})
}

// RotateKey replaces the key by a new one. The next checkpoint, kept at once, is
// signed by both; after it the old private part is gone for good. Its error is a
// [plain.Refusal], or a [plain.Problems] for the field "reason".
func (m *Mill) RotateKey(ctx context.Context, submission, reason string, by procedures.Person, at time.Time) error {
	if !by.Supervises() {
		return refuseRole()
	}
	var bad plain.Problems
	bad.Unless(reason != "" && len(reason) <= 500, "reason", "why the key is replaced, in a sentence")
	if err := bad.Err(); err != nil {
		return err
	}
	m.s.keys.making.Lock()
	defer m.s.keys.making.Unlock()
	if done, err := m.Answered(ctx, submission); done || err != nil {
		return err
	}
	_, err := m.nameKey(ctx, at, func(verifier string, at time.Time) error {
		_, err := m.do(ctx, submission, "rotate-key", at, func(tx *Tx, at time.Time) (string, error) {
			_, err := tx.append(m.id, act{Actor: by.ID, Subject: string(m.id), At: at}, &logKeyBody{Verifier: verifier, Why: RotatedKey, Reason: record.Personal(reason)})
			return verifier, err
		})
		return err
	})
	return err
}

// nameKey makes a key, has enter name it in the record and settles it. The
// private part is on the disk before the entry is, so that a key the record
// names is there after a power cut.
func (m *Mill) nameKey(ctx context.Context, at time.Time, enter func(verifier string, at time.Time) error) (LogKey, error) {
	private, verifier, err := record.NewKey(string(m.id), rand.Reader)
	if err != nil {
		return LogKey{}, err
	}
	if err := m.s.keys.write(m.s.keys.next(m.id), private); err != nil {
		return LogKey{}, err
	}
	if err := enter(verifier, at); err != nil {
		if ctx.Err() == nil { // else the entry may be written yet
			err = errors.Join(err, os.Remove(m.s.keys.next(m.id)))
		}
		return LogKey{}, err
	}
	named, err := m.LogKeys(ctx)
	if err != nil {
		return LogKey{}, err
	}
	return named[len(named)-1], m.settleKey(ctx, named, at)
}

// settleKey puts the key in use into its place. Where the key before it is here
// still, both sign a checkpoint first, which says that the one hands on to the other.
func (m *Mill) settleKey(ctx context.Context, named []LogKey, at time.Time) error {
	present := named[len(named)-1]
	signer, path, err := m.s.keys.signer(m.id, present.Verifier)
	if err != nil {
		return err
	}
	if len(named) > 1 && present.Why == RotatedKey && path != m.s.keys.path(m.id) {
		former, _, err := m.s.keys.signer(m.id, named[len(named)-2].Verifier)
		if err == nil {
			err = m.keepHandover(ctx, []note.Signer{former, signer}, at)
		}
		if err != nil && !errors.Is(err, ErrNoKey) {
			return err
		}
	}
	return m.s.keys.settle(m.id, path)
}

func (m *Mill) keepHandover(ctx context.Context, signers []note.Signer, at time.Time) error {
	head, err := m.Head(ctx)
	if err != nil {
		return err
	}
	text, err := head.Sign(signers...)
	if err != nil {
		return err
	}
	return m.KeepCheckpoint(ctx, Checkpoint{Head: head, Text: text}, KeptForRotation, at)
}

// KeyExposed tells whether others on this computer may read the private key.
func (m *Mill) KeyExposed() bool { return m.s.keys.exposed(m.id) }

// HasKey tells whether the private part of the key in use is on this computer.
func (m *Mill) HasKey(ctx context.Context) (bool, error) {
	named, err := m.LogKeys(ctx)
	if err != nil || len(named) == 0 {
		return false, err
	}
	_, _, err = m.s.keys.signer(m.id, named[len(named)-1].Verifier)
	if errors.Is(err, ErrNoKey) {
		return false, nil
	}
	return err == nil, err
}

// EnsureKeys is [Mill.EnsureKey] for every mill of the database.
func (s *Store) EnsureKeys(ctx context.Context, at time.Time) error {
	mills, err := s.millsIn(s.reads.WithContext(ctx))
	if err != nil {
		return err
	}
	for _, mill := range mills {
		if _, err := s.Of(mill).EnsureKey(ctx, at); err != nil {
			return err
		}
	}
	return nil
}

// KeysFolder is where the keys lie that sign checkpoints of the record.
func (s *Store) KeysFolder() string { return s.keys.dir }
