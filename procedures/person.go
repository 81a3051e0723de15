package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// PersonID names one person of a mill.
type PersonID string

// Role is what a person is at the mill in general. The zero value may do nothing.
type Role string

const (
	Operator   Role = "operator"
	Supervisor Role = "supervisor"
	Reader     Role = "reader" // sees, signs nothing: an inspector or insurer
)

// Person is somebody the record can name.
type Person struct {
	ID   PersonID `json:"id"`
	Name string   `json:"name"`
	Role Role     `json:"role"`

	// Deputy: an operator who acts as supervisor while the supervisor is away.
	Deputy bool `json:"deputy"`
	// Authorized: trained to lock out, 29 CFR 1910.147(b) "authorized employee".
	Authorized bool `json:"authorized"`
	// QualifiedElectrical may prove absence of voltage with a meter.
	QualifiedElectrical bool `json:"qualified_electrical"`
	// QualifiedLifting may inspect lifting gear and word its return to service, 29 CFR 1910.265(c)(24)(iii).
	QualifiedLifting bool `json:"qualified_lifting"`
	// Left the mill: signs nothing more; what was signed keeps the name.
	Left bool `json:"left"`
	// Firm is the contractor somebody from outside works for, "" for the mill's own people.
	Firm string `json:"firm,omitzero"`

	// What holds for a while only; a zero time is no bound. An Until is the first
	// moment it no longer holds. See [Person.Now].
	DeputyFrom      time.Time `json:"deputy_from,omitzero"`
	DeputyUntil     time.Time `json:"deputy_until,omitzero"`
	ElectricalUntil time.Time `json:"electrical_until,omitzero"`
	LiftingUntil    time.Time `json:"lifting_until,omitzero"`

	// What a qualification rests on: a course, a certificate, years of doing it.
	ElectricalNote string `json:"electrical_note,omitzero"`
	LiftingNote    string `json:"lifting_note,omitzero"`

	// Minor: under 18 until MinorUntil, or until somebody takes the word off where
	// no day is kept. See [MinorRule].
	Minor      bool      `json:"minor,omitzero"`
	MinorUntil time.Time `json:"minor_until,omitzero"`
}

// Supervises tells whether p may do what a supervisor does.
func (p Person) Supervises() bool {
	return !p.Left && (p.Role == Supervisor || p.Role == Operator && p.Deputy)
}

// Works tells whether p may check, lift and report mending: everybody on the
// crew who has not left.
func (p Person) Works() bool {
	return !p.Left && (p.Role == Operator || p.Role == Supervisor)
}

// Reads tells whether p only looks on, and hasn't left.
func (p Person) Reads() bool { return !p.Left && p.Role == Reader }

// Validate returns nil or a [plain.Problems] for the fields "name", "role",
// "deputy", "authorized", "firm", "deputy_until", "electrical_note" and
// "lifting_note".
func (p Person) Validate() error {
	var bad plain.Problems
	bad.Unless(!blank(p.Name) && len(p.Name) <= longestName, "name", "a name, as the crew knows it")
	bad.Unless(p.Role == Operator || p.Role == Supervisor || p.Role == Reader, "role", "operator, supervisor or reader")
	bad.Unless(!p.Deputy || p.Role == Operator, "deputy", "only for an operator: a supervisor needs no such word, and a reader signs nothing")
	bad.Unless(!p.Authorized || p.Role != Reader, "authorized", "only for somebody of the crew: a reader signs nothing")
	bad.Unless(len(p.Firm) <= longestName, "firm", "the firm's name, in a few words")
	bad.Unless(p.DeputyFrom.IsZero() || p.DeputyUntil.IsZero() || p.DeputyUntil.After(p.DeputyFrom), "deputy_until", "a day after the first")
	bad.Unless(len(p.ElectricalNote) <= longestText, "electrical_note", "in fewer words")
	bad.Unless(len(p.LiftingNote) <= longestText, "lifting_note", "in fewer words")
	return bad.Err()
}

// MayKeep returns nil when p may turn before into after, and a [plain.Refusal]
// otherwise. before is the zero Person for somebody new; secret tells whether a
// new PIN or password is set with it. Both have the same id but for somebody new.
//
// A deputy stands in for the day's work and signs with a PIN, so what a person
// may do is not the deputy's to give: it would be a way to become supervisor.
// 29 CFR 1910.147(b) leaves it to the employer who is authorized; the rest is
// common practice, no source.
func (p Person) MayKeep(before, after Person, secret bool) error {
	switch {
	case !p.Supervises():
		return plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	case p.Role == Supervisor:
		return nil
	case before.ID == "" && after.ofAge().may() != (Person{Role: Operator}):
		return plain.Refuse("", "Only a supervisor adds anybody but an operator, and only a supervisor names a deputy or says who is authorized or qualified.")
	case before.ID == "":
		return nil
	case before.Role == Supervisor:
		return plain.Refuse("", "Only a supervisor changes what is kept of a supervisor.")
	case before.may() != after.may():
		return plain.Refuse("", "Only a supervisor changes a role, names a deputy or says who is authorized or qualified.")
	case before.Left && !after.Left:
		return plain.Refuse("", "Only a supervisor takes back somebody who has left.")
	case secret && before.ID != p.ID:
		return plain.Refuse("", "Only a supervisor sets a PIN or password for somebody else: a deputy changes nobody's PIN or password but their own.")
	}
	return nil
}

// may is what p may do and nothing about who p is, with times that are equal where
// they are the same moment.
func (p Person) may() Person {
	p.ID, p.Name, p.Left = "", "", false
	for _, at := range []*time.Time{&p.DeputyFrom, &p.DeputyUntil, &p.ElectricalUntil, &p.LiftingUntil, &p.MinorUntil} {
		*at = at.Round(0).UTC()
	}
	return p
}

// ofAge is p without the word that p is under 18, which takes and gives nothing.
func (p Person) ofAge() Person {
	p.Minor, p.MinorUntil = false, time.Time{}
	return p
}
