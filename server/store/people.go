package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

type credentialRow struct {
	Mill   string `gorm:"primaryKey"`
	Person string `gorm:"primaryKey"`
	Digest string
	Since  int64
}

func (credentialRow) TableName() string { return "credentials" }

type sessionRow struct {
	Mill    string `gorm:"primaryKey"`
	Token   []byte `gorm:"primaryKey"` // digest of the token; the token itself is only in the cookie
	Person  string
	Made    int64
	Expires int64
}

func (sessionRow) TableName() string { return "sessions" }

// TheMill is the mill this database serves, or ErrNotFound before set-up. Whoever
// gets it changes no element of its slices: others have the same.
func (s *Store) TheMill(ctx context.Context) (checklists.Mill, error) {
	statement, of := "SELECT doc FROM mills ORDER BY id LIMIT 1", []any(nil)
	if s.mill != "" {
		statement, of = "SELECT doc FROM mills WHERE id = ?", []any{string(s.mill)}
	}
	mill, err := straightDoc[checklists.Mill](ctxReader{s.Of(""), ctx}, "mill", statement, of...)
	mill.Shifts, mill.Closed, mill.Kinds, mill.Zones = slices.Clip(mill.Shifts), slices.Clip(mill.Closed), slices.Clip(mill.Kinds), slices.Clip(mill.Zones)
	return mill, err
}

// millsIn are the mills of the database that are set up, of one of many the only one
// this store sees.
func (s *Store) millsIn(db *gorm.DB) (mills []checklists.MillID, err error) {
	db = db.Table("mills").Order("id")
	if s.mill != "" {
		db = db.Where("id = ?", s.mill)
	}
	err = db.Pluck("id", &mills).Error
	return mills, err
}

// SetUp is the first act at a mill: the mill itself, its plant, its supervisor
// with the digest of a password, and starter documents as drafts to read.
type SetUp struct {
	Mill       checklists.Mill
	Plant      procedures.Plant
	Supervisor procedures.Person
	Digest     string
	Trained    []procedures.Training // what the supervisor declares of the own training
	Drafts     []Draft
	Tasks      []procedures.Task // starters; nobody has answered for them yet
	At         time.Time
}

// SetUp makes the mill. A database holds one mill in this version: a second
// set-up is refused.
func (s *Store) SetUp(ctx context.Context, set SetUp) error {
	return s.writer.do(ctx, func(tx *Tx) error {
		there, err := s.millsIn(tx.gorm())
		if err != nil {
			return err
		}
		if len(there) > 0 {
			return plain.Refuse("", "this mill is set up already; sign in instead")
		}
		if set.Supervisor.Role != procedures.Supervisor || set.Digest == "" {
			return errors.New("set-up needs a supervisor with a password")
		}
		if err := set.Plant.Validate(); err != nil {
			return err
		}
		if onPostgres(tx.db) {
			if err := tx.gorm().Exec("UPDATE tenants SET code = '' WHERE id = ?", set.Mill.ID).Error; err != nil {
				return err
			}
		}
		a := act{Actor: set.Supervisor.ID, At: set.At, Subject: string(set.Mill.ID)}
		bodies := []body{newMillBody(set.Mill), newPersonBody(set.Supervisor), &plantBody{Plant: set.Plant}}
		for _, t := range set.Trained {
			t.ID = procedures.TrainingID(NewID())
			entered, err := t.Enter(set.Supervisor, set.At)
			if err != nil {
				return err
			}
			bodies = append(bodies, newTrainingBody(entered))
		}
		for _, b := range bodies {
			if _, err := tx.append(set.Mill.ID, a, b); err != nil {
				return err
			}
		}
		for _, t := range set.Tasks {
			of := a
			of.Subject = string(t.ID)
			if _, err := tx.append(set.Mill.ID, of, newTaskBody(asStarter(t))); err != nil {
				return err
			}
		}
		if err := tx.keepDigest(set.Mill.ID, set.Supervisor.ID, set.Digest, set.At); err != nil {
			return err
		}
		for _, d := range set.Drafts {
			if err := tx.put(&draftRow{Mill: string(set.Mill.ID), Sort: string(d.Sort), ID: d.ID, Title: d.Title, Revision: 1, At: millis(set.At), Doc: d.Doc}, "title", "revision", "at", "doc"); err != nil {
				return err
			}
		}
		return nil
	})
}

// ChangeMill sets what holds for the mill as a whole.
func (m *Mill) ChangeMill(ctx context.Context, submission string, changed checklists.Mill, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "mill", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		changed.ID = m.id
		_, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, newMillBody(changed))
		return string(m.id), err
	})
	return err
}

// People lists everybody the record can name, by name.
func (m *Mill) People(ctx context.Context) ([]procedures.Person, error) {
	return people(ctxReader{m, ctx}, m.id)
}

func people(r reader, mill checklists.MillID) ([]procedures.Person, error) {
	var docs []string
	if err := r.gorm().Model(&personRow{}).Order("name, id").Where("mill = ?", mill).Pluck("doc", &docs).Error; err != nil {
		return nil, err
	}
	return readAllOnce[procedures.Person](r, docs)
}

// Person loads one person.
func (m *Mill) Person(ctx context.Context, id procedures.PersonID) (procedures.Person, error) {
	return person(ctxReader{m, ctx}, m.id, id)
}

func person(r reader, mill checklists.MillID, id procedures.PersonID) (procedures.Person, error) {
	return straightDoc[procedures.Person](r, "person", "SELECT doc FROM people WHERE mill = ? AND id = ?", string(mill), string(id))
}

// KeepPerson adds a person or changes one. digest, when given, is their new PIN
// or password. What by may not change is refused by [procedures.Person.MayKeep];
// the last supervisor can't be demoted or leave. Whoever leaves the mill with a
// lock on leaves a departure for the supervisor to see to.
func (m *Mill) KeepPerson(ctx context.Context, submission string, p procedures.Person, digest string, by procedures.Person, at time.Time) error {
	_, err := m.AddPerson(ctx, submission, p, digest, by, at)
	return err
}

// AddPerson is [Mill.KeepPerson] for a new person, and returns their id: where the
// submission was carried out before, the one they got then.
func (m *Mill) AddPerson(ctx context.Context, submission string, p procedures.Person, digest string, by procedures.Person, at time.Time) (procedures.PersonID, error) {
	id, err := m.do(ctx, submission, "person", at, func(tx *Tx, at time.Time) (string, error) { return m.keepPerson(tx, p, digest, by, at) })
	return procedures.PersonID(id), err
}

func (m *Mill) keepPerson(tx *Tx, p procedures.Person, digest string, by procedures.Person, at time.Time) (string, error) {
	before, err := person(tx, m.id, p.ID)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return "", err
	}
	if err := by.MayKeep(before, p, digest != ""); err != nil {
		return "", err
	}
	if err := p.Validate(); err != nil {
		return "", err
	}
	rule, err := tx.minorRule(m.id)
	if err != nil {
		return "", err
	}
	if err := rule.MayBe(p, at); err != nil {
		return "", err
	}
	if err := tx.keepsASupervisor(m.id, p); err != nil {
		return "", err
	}
	if err := tx.nameIsFree(m.id, p); err != nil {
		return "", err
	}
	if _, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(p.ID)}, newPersonBody(p)); err != nil {
		return "", err
	}
	if p.Left || p.Role != before.Role || p.Deputy != before.Deputy {
		if err := tx.gorm().Delete(&sessionRow{}, "mill = ? AND person = ?", m.id, p.ID).Error; err != nil {
			return "", err
		}
	}
	if p.Left && !before.Left {
		if err := m.leftBehind(tx, p, by.ID, at); err != nil {
			return "", err
		}
	}
	if digest == "" {
		return string(p.ID), nil
	}
	how := "by-supervisor"
	if by.ID == p.ID {
		how = "by-owner"
	}
	return string(p.ID), m.resetPIN(tx, p.ID, digest, how, by.ID, at)
}

// nameIsFree asks that no two people who can sign in go by one name.
func (tx *Tx) nameIsFree(mill checklists.MillID, p procedures.Person) error {
	var rows []personRow
	if err := tx.gorm().Find(&rows, "mill = ?", mill).Error; err != nil {
		return err
	}
	var bad plain.Problems
	for _, row := range rows {
		bad.Unless(p.Left || row.Doc.Left || row.Doc.ID == p.ID || !strings.EqualFold(row.Doc.Name, p.Name), "name", "a name nobody else here goes by; add an initial")
	}
	return bad.Err()
}

func (tx *Tx) keepsASupervisor(mill checklists.MillID, changed procedures.Person) error {
	if changed.Role == procedures.Supervisor && !changed.Left {
		return nil
	}
	var rows []personRow
	if err := tx.gorm().Find(&rows, "mill = ?", mill).Error; err != nil {
		return err
	}
	for _, row := range rows {
		if row.Doc.Role == procedures.Supervisor && !row.Doc.Left && row.Doc.ID != changed.ID {
			return nil
		}
	}
	return plain.Refuse("", "the mill would be left without a supervisor; name another first")
}

// ResetPIN gives a person a new PIN or password, signs them out everywhere and
// forgets their failed tries. how tells who let them: "by-supervisor",
// "by-owner", or "at-the-pc" where nobody is signed in.
func (m *Mill) ResetPIN(ctx context.Context, submission string, id procedures.PersonID, digest, how string, by procedures.PersonID, at time.Time) error {
	_, err := m.do(ctx, submission, "pin-reset", at, func(tx *Tx, at time.Time) (string, error) {
		p, err := person(tx, m.id, id)
		if err != nil {
			return "", err
		}
		if err := m.mayReset(tx, p, how, by); err != nil {
			return "", err
		}
		return string(id), m.resetPIN(tx, id, digest, how, by, at)
	})
	return err
}

// mayReset asks whether by may give p a new secret in the way that how names.
func (m *Mill) mayReset(tx *Tx, p procedures.Person, how string, by procedures.PersonID) error {
	switch {
	case how == "by-owner" && by == p.ID, how == "at-the-pc" && by == "":
		return nil
	case how == "by-supervisor":
		setter, err := person(tx, m.id, by)
		if err != nil {
			return err
		}
		return setter.MayKeep(p, p, true)
	}
	return fmt.Errorf("nobody sets a PIN %q as %q", how, by)
}

func (m *Mill) resetPIN(tx *Tx, id procedures.PersonID, digest, how string, by procedures.PersonID, at time.Time) error {
	if _, err := tx.append(m.id, act{Actor: by, At: at, Subject: string(id)}, &pinResetBody{Person: id, How: how}); err != nil {
		return err
	}
	if err := tx.gorm().Delete(&sessionRow{}, "mill = ? AND person = ?", m.id, id).Error; err != nil {
		return err
	}
	if err := m.forgetTries(tx, id, ofPerson, ofSigned); err != nil {
		return err
	}
	return tx.keepDigest(m.id, id, digest, at)
}

func (tx *Tx) keepDigest(mill checklists.MillID, id procedures.PersonID, digest string, at time.Time) error {
	return tx.put(&credentialRow{Mill: string(mill), Person: string(id), Digest: digest, Since: millis(at)}, "digest", "since")
}

// Digest is the stored digest of a person's PIN or password.
func (m *Mill) Digest(ctx context.Context, id procedures.PersonID) (string, error) {
	var digest string
	err := straightRow(ctxReader{m, ctx}, "PIN", "SELECT digest FROM credentials WHERE mill = ? AND person = ?", []any{string(m.id), string(id)}, &digest)
	return digest, err
}

// Session is a signed-in phone or PC.
type Session struct {
	Token   [32]byte // digest of the cookie's token
	Person  procedures.PersonID
	Made    time.Time
	Expires time.Time
}

// OpenSession keeps a session and forgets those that have run out.
func (m *Mill) OpenSession(ctx context.Context, session Session) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if err := tx.gorm().Delete(&sessionRow{}, "mill = ? AND expires < ?", m.id, millis(session.Made)).Error; err != nil {
			return err
		}
		return tx.gorm().Create(&sessionRow{Token: session.Token[:], Mill: string(m.id), Person: string(session.Person),
			Made: millis(session.Made), Expires: millis(session.Expires)}).Error
	})
}

// Session finds the person a token was given to, as of now, unless it has run out.
func (m *Mill) Session(ctx context.Context, token [32]byte, now time.Time) (procedures.Person, error) {
	row, err := one[sessionRow](ctxReader{m, ctx}, "session", "token = ? AND mill = ? AND expires > ?", token[:], m.id, millis(now))
	if err != nil {
		return procedures.Person{}, err
	}
	p, err := m.Person(ctx, procedures.PersonID(row.Person))
	return p.Now(now), err
}

// Sessions lists where a person is signed in, the newest first.
func (m *Mill) Sessions(ctx context.Context, person procedures.PersonID, now time.Time) ([]Session, error) {
	var rows []sessionRow
	err := m.gorm().WithContext(ctx).Order("made DESC, token").Find(&rows, "mill = ? AND person = ? AND expires > ?", m.id, person, millis(now)).Error
	sessions := make([]Session, len(rows))
	for i, row := range rows {
		sessions[i] = Session{Token: [32]byte(row.Token), Person: procedures.PersonID(row.Person), Made: timeOf(row.Made), Expires: timeOf(row.Expires)}
	}
	return sessions, err
}

// CloseSession signs one phone out.
func (m *Mill) CloseSession(ctx context.Context, token [32]byte) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		return tx.gorm().Delete(&sessionRow{}, "token = ? AND mill = ?", token[:], m.id).Error
	})
}

func refuseRole() error {
	return plain.Refuse("", "only a supervisor or deputy may do this; ask one to sign in")
}

type ctxReader struct {
	m   *Mill
	ctx context.Context
}

func (r ctxReader) lasting() *lasting { return r.m.s.kept }

func (r ctxReader) gorm() *gorm.DB { return r.m.gorm().WithContext(r.ctx) }
