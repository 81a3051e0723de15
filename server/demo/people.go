package demo

import (
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
	marta, oren, delphine, imre, hollis, perrin, reader *hand
}

func newCrew() crew {
	works := func(name string, role procedures.Role, locks, secret, what string) *hand {
		return &hand{Person: procedures.Person{ID: procedures.PersonID(store.NewID()), Name: name, Role: role}, locks: locks, secret: secret, what: what}
	}
	c := crew{
		marta:    works("Marta Ostrow", procedures.Supervisor, "M", "kerf-and-set", "supervisor, qualified for lifting gear"),
		oren:     works("Oren Tolliver", procedures.Operator, "T", "4071", "sawyer and deputy, may lock out"),
		delphine: works("Delphine Roux", procedures.Operator, "R", "8265", "off-bearer, may lock out"),
		imre:     works("Imre Calloway", procedures.Operator, "C", "3906", "millwright, may lock out, qualified for lifting gear"),
		hollis:   works("Hollis Quade", procedures.Operator, "Q", "7520", "hook-up, learning"),
		perrin:   works("Perrin Voss", procedures.Operator, "V", "6143", "edger, has left"),
		reader:   works("Ruth Penhale", procedures.Reader, "", "5938", "insurer's inspector, reads only"),
	}
	for _, h := range []*hand{c.marta, c.oren, c.delphine, c.imre} {
		h.Authorized = true
	}
	c.marta.QualifiedLifting, c.imre.QualifiedLifting = true, true
	c.imre.QualifiedElectrical = true
	c.oren.Deputy = true
	return c
}

func (c crew) all() []*hand {
	return []*hand{c.marta, c.oren, c.delphine, c.imre, c.hollis, c.perrin, c.reader}
}

// signIns are those of everybody still there.
func (m *mill) signIns() []SignIn {
	var list []SignIn
	for _, h := range m.all() {
		if !h.Left {
			list = append(list, SignIn{Name: h.Name, Secret: h.secret, What: h.what})
		}
	}
	return list
}

func (h *hand) digest() (string, error) { return server.Hash(h.secret) }
