package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// TokenID names one token.
type TokenID string

// TokenUse is what a token is for. The zero value is for nothing and refused.
type TokenUse string

const (
	TokenReads  TokenUse = "read"  // sees what a reader sees
	TokenWrites TokenUse = "write" // and writes as one person of the mill
)

// LongestToken is how long a token may be good for. Common practice, no source:
// one that nobody renews in a year is one nobody looks after.
const LongestToken = 366 * 24 * time.Hour

// Token lets a program read the mill, or also write as a person of it. It is no
// signature: what needs a PIN on the screens needs that person's PIN here too.
type Token struct {
	ID     TokenID             `json:"id"`
	Name   string              `json:"name"` // which program, where it runs
	Use    TokenUse            `json:"use"`
	Person procedures.PersonID `json:"person"` // as whom it writes, "" for one that reads
	Until  time.Time           `json:"until"`  // from here on it is good for nothing
	By     procedures.PersonID `json:"by"`
	At     time.Time           `json:"at"`

	RevokedBy procedures.PersonID `json:"revoked_by,omitzero"`
	RevokedAt time.Time           `json:"revoked_at,omitzero"`
}

// Good tells whether the token still opens anything.
func (t Token) Good(now time.Time) bool { return t.RevokedAt.IsZero() && now.Before(t.Until) }

// Make returns the token as a supervisor makes it for of, the zero Person for one
// that only reads: of t the name, use and end count. A deputy makes none: one that
// writes as the supervisor would be a way to become one. Its error is a
// [plain.Problems] for "name", "use", "person" and "until", or a [plain.Refusal].
func (t Token) Make(id TokenID, by, of procedures.Person, now time.Time) (Token, error) {
	if by.Role != procedures.Supervisor || !by.Supervises() {
		return Token{}, plain.Refuse("", "Only a supervisor makes tokens and takes them back.")
	}
	made := Token{ID: id, Name: strings.TrimSpace(t.Name), Use: t.Use, Until: t.Until, By: by.ID, At: now}
	var bad plain.Problems
	bad.Unless(worded(made.Name, LongestText), "name", "which program it is for, in at most %d letters", LongestText)
	bad.Unless(made.Use == TokenReads || made.Use == TokenWrites, "use", "read, or read and write")
	bad.Unless(made.Until.After(now) && made.Until.Sub(now) <= LongestToken, "until", "a day to come, within a year")
	if made.Use == TokenWrites {
		bad.Unless(of.ID != "" && of.Works(), "person", "somebody of the crew")
		made.Person = of.ID
	}
	if err := bad.Err(); err != nil {
		return Token{}, err
	}
	return made, nil
}

// Revoke ends the token for good. Its error is a [plain.Refusal].
func (t Token) Revoke(by procedures.Person, now time.Time) (Token, error) {
	switch {
	case by.Role != procedures.Supervisor || !by.Supervises():
		return Token{}, plain.Refuse("", "Only a supervisor makes tokens and takes them back.")
	case !t.RevokedAt.IsZero():
		return Token{}, plain.Refuse("", "This token was taken back already.")
	}
	t.RevokedBy, t.RevokedAt = by.ID, now
	return t, nil
}
