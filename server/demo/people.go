package demo

import (
	"strings"

	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/store"
)

// hand is one of the invented people.
type hand struct {
	procedures.Person
	secret, what string
	locks        string // what the numbers on the own locks begin with
}

// crew is who works at the mill, and who looks in.
type crew struct {
	marta, oren, delphine, imre, hollis, perrin, ruth *hand
	more                                              []*hand // of a mill of several shifts
}

func newCrew() crew {
	person := func(name string, role procedures.Role, locks, secret, what string) *hand {
		return &hand{Person: procedures.Person{ID: procedures.PersonID(store.NewID()), Name: name, Role: role}, locks: locks, secret: secret, what: what}
	}
	c := crew{
		marta:    person("Marta Ostrow", procedures.Supervisor, "M", "kerf-and-set", "supervisor, qualified for lifting gear"),
		oren:     person("Oren Tolliver", procedures.Operator, "T", "4071", "sawyer and deputy, may lock out"),
		delphine: person("Delphine Roux", procedures.Operator, "R", "8265", "off-bearer, may lock out"),
		imre:     person("Imre Calloway", procedures.Operator, "C", "3906", "millwright, may lock out, qualified for lifting gear"),
		hollis:   person("Hollis Quade", procedures.Operator, "Q", "7520", "hook-up, may lock out"),
		perrin:   person("Perrin Voss", procedures.Operator, "V", "6143", "has left"),
		ruth:     person("Ruth Penhale", procedures.Reader, "", "5938", "insurer, reads only"),
	}
	for _, h := range []*hand{c.marta, c.oren, c.delphine, c.imre} {
		h.Authorized = true
	}
	for _, h := range []*hand{c.marta, c.imre} {
		h.QualifiedLifting = true
	}
	c.imre.QualifiedElectrical, c.oren.Deputy = true, true
	return c
}

func (c crew) all() []*hand {
	return append([]*hand{c.marta, c.oren, c.delphine, c.imre, c.hollis, c.perrin, c.ruth}, c.more...)
}

// present names who works at the mill now, as an item asks for it.
func (c crew) present() string {
	var names []string
	for _, h := range c.all() {
		if h.Works() {
			names = append(names, h.Name)
		}
	}
	return strings.Join(names, ", ")
}

// signIns are those of everybody who has not left.
func (m *mill) signIns() []SignIn {
	var list []SignIn
	for _, h := range m.all() {
		if !h.Left {
			list = append(list, SignIn{Name: h.Name, Secret: h.secret, What: h.what})
		}
	}
	return list
}

// keep enters a person, or what changed about one. A new person brings a secret.
func (m *mill) keep(h *hand, secret string) {
	m.do("keep "+h.Name, func() error {
		digest := ""
		if secret != "" {
			var err error
			if digest, err = server.Hash(secret); err != nil {
				return err
			}
		}
		return m.desk.KeepPerson(m.ctx, store.NewID(), h.Person, digest, m.marta.Person, m.clock)
	})
}
