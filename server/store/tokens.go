package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Kinds of entries about tokens, as they stand in the record for good.
const (
	KindTokenMade    = "token-made"
	KindTokenRevoked = "token-revoked"
)

type tokenRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	At   int64
	Doc  checklists.Token `gorm:"serializer:json"`
}

func (tokenRow) TableName() string { return "tokens" }

type tokenSecretRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Digest []byte
	Used   int64
}

func (tokenSecretRow) TableName() string { return "token_secrets" }

// tokenPart is a token without its secret, and without the name somebody wrote.
type tokenPart struct {
	everywhere
	checklists.Token
	Name record.Personal `json:"name"`
}

func newTokenPart(t checklists.Token) tokenPart {
	return tokenPart{Token: t, Name: record.Personal(t.Name)}
}

func (b tokenPart) token() checklists.Token {
	t := b.Token
	t.Name = string(b.Name)
	return t
}

func (b tokenPart) project(tx *Tx, e entry) error {
	return tx.put(&tokenRow{Mill: e.Mill, ID: string(b.ID), At: millis(e.At), Doc: b.token()}, "doc")
}

type tokenMadeBody struct{ tokenPart }

func (*tokenMadeBody) kind() (string, int) { return KindTokenMade, 1 }

type tokenRevokedBody struct{ tokenPart }

func (*tokenRevokedBody) kind() (string, int) { return KindTokenRevoked, 1 }

// tokenBodyOf is bodyOf for these kinds, nil for any other.
func tokenBodyOf(kind string) body {
	switch kind {
	case KindTokenMade:
		return &tokenMadeBody{}
	case KindTokenRevoked:
		return &tokenRevokedBody{}
	}
	return nil
}

// tokenDomainOf is domainOf for the bodies of these kinds, nil for any other.
func tokenDomainOf(b body) any {
	switch b := b.(type) {
	case *tokenMadeBody:
		return b.token()
	case *tokenRevokedBody:
		return b.token()
	}
	return nil
}

// MakeToken makes a token known by digest; of t the name, use, person and end
// count. Its error is what [checklists.Token.Make] refuses.
func (m *Mill) MakeToken(ctx context.Context, submission string, t checklists.Token, digest [32]byte, by procedures.Person, at time.Time) (checklists.TokenID, error) {
	id, err := m.do(ctx, submission, "token", at, func(tx *Tx, at time.Time) (string, error) {
		of, err := personOrNone(tx, m.id, t.Person)
		if err != nil {
			return "", err
		}
		made, err := t.Make(checklists.TokenID(NewID()), by, of, at)
		if err != nil {
			return "", err
		}
		if err := tx.gorm().Create(&tokenSecretRow{Mill: string(m.id), ID: string(made.ID), Digest: digest[:]}).Error; err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(made.ID)}, &tokenMadeBody{newTokenPart(made)})
		return string(made.ID), err
	})
	return checklists.TokenID(id), err
}

// RevokeToken ends a token and forgets its secret.
func (m *Mill) RevokeToken(ctx context.Context, submission string, id checklists.TokenID, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "token-revoked", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[tokenRow](tx, "token", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		revoked, err := row.Doc.Revoke(by, at)
		if err != nil {
			return "", err
		}
		if err := tx.gorm().Delete(&tokenSecretRow{}, "mill = ? AND id = ?", m.id, id).Error; err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &tokenRevokedBody{newTokenPart(revoked)})
		return string(id), err
	})
	return err
}

// TokenState is a token with when it was last used, zero for never.
type TokenState struct {
	checklists.Token
	Used time.Time
}

// Tokens lists every token that was ever made, the newest first.
func (m *Mill) Tokens(ctx context.Context) ([]TokenState, error) {
	r := ctxReader{m, ctx}
	var rows []tokenRow
	if err := r.gorm().Order("at DESC, id DESC").Find(&rows, "mill = ?", m.id).Error; err != nil {
		return nil, err
	}
	var secrets []tokenSecretRow
	err := r.gorm().Find(&secrets, "mill = ?", m.id).Error
	used := map[string]int64{}
	for _, s := range secrets {
		used[s.ID] = s.Used
	}
	all := make([]TokenState, len(rows))
	for i, row := range rows {
		all[i] = TokenState{Token: row.Doc, Used: timeOf(used[row.ID])}
	}
	return all, err
}

// tokenSeen is how exactly the last use of a token is kept: not every request is
// worth a write.
const tokenSeen = 10 * time.Minute

// TokenFor finds the token known by digest and the person it writes as: the zero
// Person for one that reads. ErrNotFound: there is none that is still good, or the
// person has left.
func (m *Mill) TokenFor(ctx context.Context, digest [32]byte, now time.Time) (checklists.Token, procedures.Person, error) {
	r := ctxReader{m, ctx}
	var id, doc string
	var used int64
	err := straightRow(r, "token", "SELECT s.id, s.used, t.doc FROM token_secrets s JOIN tokens t ON t.mill = s.mill AND t.id = s.id WHERE s.mill = ? AND s.digest = ?",
		[]any{string(m.id), digest[:]}, &id, &used, &doc)
	if err != nil {
		return checklists.Token{}, procedures.Person{}, err
	}
	token, err := readOnce[checklists.Token](r, doc)
	if err != nil {
		return checklists.Token{}, procedures.Person{}, err
	}
	of, err := personOrNone(r, m.id, token.Person)
	switch {
	case err != nil:
		return checklists.Token{}, procedures.Person{}, err
	case !token.Good(now), of.Left, token.Use == checklists.TokenWrites && of.ID == "":
		return checklists.Token{}, procedures.Person{}, ErrNotFound
	}
	if timeOf(used).Add(tokenSeen).Before(now) {
		err = m.s.writer.do(ctx, func(tx *Tx) error {
			return tx.gorm().Model(&tokenSecretRow{}).Where("mill = ? AND id = ?", m.id, id).Update("used", millis(now)).Error
		})
	}
	return token, of.Now(now), err
}

// ofToken is the kind of attempts with a token that is none, by address.
const ofToken = "token"

// WrongToken counts a token that is none against the address it came from, unless
// too many came already: then it says how long to wait.
func (m *Mill) WrongToken(ctx context.Context, address string, limits TryLimits, at time.Time) (wait time.Duration, err error) {
	row, err := one[attemptRow](ctxReader{m, ctx}, "attempts", "mill = ? AND kind = ? AND who = ?", m.id, ofToken, address)
	switch {
	case errors.Is(err, ErrNotFound):
	case err != nil:
		return 0, err
	case timeOf(row.Last).Add(limits.Forget).After(at):
		if wait = timeOf(row.Last).Add(limits.Address(row.Failed)).Sub(at); wait > 0 {
			return wait, nil
		}
	}
	return 0, m.s.writer.do(ctx, func(tx *Tx) error {
		forgotten := millis(at.Add(-limits.Forget))
		if err := tx.gorm().Delete(&attemptRow{}, "mill = ? AND kind = ? AND last <= ?", m.id, ofToken, forgotten).Error; err != nil {
			return err
		}
		return m.countTry(tx, ofToken, address, at)
	})
}
