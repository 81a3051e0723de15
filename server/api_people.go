package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func peopleOperations() []operation {
	return []operation{
		reads("listPeople", "/people", "/people", "Who is at the mill, with role and qualifications", listPeople),
		reads("getPerson", "/people/{person}", "/people/:id", "All that is kept of one person, for a token that writes as a supervisor", getPersonForAPI),
		writes("addPerson", fiber.MethodPost, "/people", "/people/new", "Enter a person, with the PIN or password to begin with", addPersonForAPI),
		writes("changePerson", fiber.MethodPut, "/people/{person}", "/people/:id", "Change what is kept of a person; a new PIN or password signs them out everywhere", changePersonForAPI),
	}
}

type apiPerson struct {
	ID                  procedures.PersonID `json:"id"`
	Name                string              `json:"name"`
	Role                string              `json:"role" oneof:"operator|supervisor|reader"`
	Deputy              bool                `json:"deputy"`
	Authorized          bool                `json:"authorized" says:"recorded as trained to lock out"`
	QualifiedElectrical bool                `json:"qualified_electrical"`
	QualifiedLifting    bool                `json:"qualified_lifting"`
	Left                bool                `json:"left"`
}

func listPeople(c *call) (items[apiPerson], error) {
	people, err := c.desk.People(c.ctx())
	return itemsOf(people, func(p procedures.Person) apiPerson {
		p = p.Now(c.now)
		return apiPerson{ID: p.ID, Name: p.Name, Role: string(p.Role), Deputy: p.Deputy, Authorized: p.Authorized,
			QualifiedElectrical: p.QualifiedElectrical, QualifiedLifting: p.QualifiedLifting, Left: p.Left}
	}), err
}

// apiPersonFields are what is entered of a person. Days end what holds for a
// while; left out, it has no end.
type apiPersonFields struct {
	Name                string `json:"name"`
	Role                string `json:"role" oneof:"operator|supervisor|reader"`
	Firm                string `json:"firm,omitzero" says:"of somebody from outside"`
	Deputy              bool   `json:"deputy,omitzero"`
	DeputyFrom          string `json:"deputy_from,omitzero" format:"date"`
	DeputyUntil         string `json:"deputy_until,omitzero" says:"the first day it no longer holds" format:"date"`
	Authorized          bool   `json:"authorized,omitzero"`
	QualifiedElectrical bool   `json:"qualified_electrical,omitzero"`
	ElectricalUntil     string `json:"electrical_until,omitzero" format:"date"`
	ElectricalNote      string `json:"electrical_note,omitzero" says:"what it rests on"`
	QualifiedLifting    bool   `json:"qualified_lifting,omitzero"`
	LiftingUntil        string `json:"lifting_until,omitzero" format:"date"`
	LiftingNote         string `json:"lifting_note,omitzero" says:"what it rests on"`
	Minor               bool   `json:"minor,omitzero" says:"under 18"`
	MinorUntil          string `json:"minor_until,omitzero" says:"the day of turning 18" format:"date"`
	Left                bool   `json:"left,omitzero" says:"the mill; what was signed keeps the name"`
}

type apiPersonKept struct {
	ID procedures.PersonID `json:"id"`
	seen
	apiPersonFields
}

func getPersonForAPI(c *call) (apiPersonKept, error) {
	p, err := c.desk.Person(c.ctx(), procedures.PersonID(c.Params("person")))
	days := c.daysOf(p)
	return apiPersonKept{p.ID, seen{store.Mark(p)}, apiPersonFields{Name: p.Name, Role: string(p.Role), Firm: p.Firm, Deputy: p.Deputy, DeputyFrom: days.DeputyFrom, DeputyUntil: days.DeputyUntil, Authorized: p.Authorized,
		QualifiedElectrical: p.QualifiedElectrical, ElectricalUntil: days.ElectricalUntil, ElectricalNote: p.ElectricalNote,
		QualifiedLifting: p.QualifiedLifting, LiftingUntil: days.LiftingUntil, LiftingNote: p.LiftingNote, Minor: p.Minor, MinorUntil: days.MinorUntil, Left: p.Left}}, err
}

// personOf is what was sent as a person. As on the form, what does not hold keeps
// no days and no evidence.
func (c *call) personOf(b apiPersonFields) (procedures.Person, plain.Problems) {
	p := procedures.Person{Name: b.Name, Role: procedures.Role(b.Role), Firm: b.Firm, Deputy: b.Deputy, Authorized: b.Authorized, QualifiedElectrical: b.QualifiedElectrical, QualifiedLifting: b.QualifiedLifting, Minor: b.Minor, Left: b.Left}
	var bad plain.Problems
	for _, one := range []struct {
		holds       bool
		field, sent string
		kept        *time.Time
	}{
		{b.Deputy, "deputy_from", b.DeputyFrom, &p.DeputyFrom}, {b.Deputy, "deputy_until", b.DeputyUntil, &p.DeputyUntil},
		{b.QualifiedElectrical, "electrical_until", b.ElectricalUntil, &p.ElectricalUntil}, {b.QualifiedLifting, "lifting_until", b.LiftingUntil, &p.LiftingUntil},
		{b.Minor, "minor_until", b.MinorUntil, &p.MinorUntil},
	} {
		if !one.holds {
			continue
		}
		day, err := c.dayOf(one.field, one.sent)
		bad.Add("", err)
		*one.kept = day
	}
	if b.QualifiedElectrical {
		p.ElectricalNote = b.ElectricalNote
	}
	if b.QualifiedLifting {
		p.LiftingNote = b.LiftingNote
	}
	return p, bad
}

type apiPersonPost struct {
	signature
	apiPersonFields
	NewPIN string `json:"new_pin" says:"PIN, or of a supervisor the password, to begin with; the person makes an own one"`
}

func addPersonForAPI(c *call, b apiPersonPost) (apiDone, error) {
	p, bad := c.personOf(b.apiPersonFields)
	digest, err := newDigest(p, append(bad, CheckSecret(p.Role, newSecret, b.NewPIN, c.newSecretNames(p)...)...), b.NewPIN)
	if err != nil {
		return apiDone{}, err
	}
	p.ID = procedures.PersonID(store.NewID())
	return done(c.desk.AddPerson(c.ctx(), c.submission(), p, digest, c.person, c.now))
}

type apiPersonPut struct {
	signature
	seen
	apiPersonFields
	NewPIN string `json:"new_pin,omitzero" says:"left out: it stays, unless the person becomes a supervisor"`
}

func changePersonForAPI(c *call, b apiPersonPut) (apiDone, error) {
	stored, err := c.desk.Person(c.ctx(), procedures.PersonID(c.Params("person")))
	if err != nil {
		return apiDone{}, err
	}
	p, bad := c.personOf(b.apiPersonFields)
	p.ID = stored.ID
	if b.NewPIN != "" || p.Role == procedures.Supervisor && stored.Role != procedures.Supervisor {
		bad = append(bad, CheckSecret(p.Role, newSecret, b.NewPIN, c.newSecretNames(p)...)...)
	}
	digest, err := newDigest(p, bad, b.NewPIN)
	if err != nil {
		return apiDone{}, err
	}
	return done(p.ID, c.desk.EditPerson(c.ctx(), c.submission(), b.Mark, p, digest, c.person, c.now))
}

// newDigest is the digest of a new PIN or password, "" for none; or all that is
// wrong with the person it is for.
func newDigest(p procedures.Person, bad plain.Problems, secret string) (string, error) {
	bad.Add("", p.Validate())
	if err := bad.Err(); err != nil || secret == "" {
		return "", err
	}
	return Hash(secret)
}
