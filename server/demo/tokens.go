package demo

import (
	"crypto/sha256"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// makeTokens makes tokens for two programs nobody runs, and takes one back. What
// would open them is made up and thrown away.
func (m *mill) makeTokens() {
	one := func(t checklists.Token) (id checklists.TokenID) {
		t.Until = m.clock.Add(300 * 24 * time.Hour)
		m.do("make a token", func() (err error) {
			id, err = m.desk.MakeToken(m.ctx, store.NewID(), t, sha256.Sum256([]byte(store.NewID())), m.marta.Person, m.clock)
			return err
		})
		m.later(1)
		return id
	}
	one(checklists.Token{Name: "Board in the break room", Use: checklists.TokenReads})
	one(checklists.Token{Name: "Kiln shed PC", Use: checklists.TokenWrites, Person: m.hollis.ID})
	old := one(checklists.Token{Name: "Old tablet", Use: checklists.TokenReads})
	m.do("take a token back", func() error { return m.desk.RevokeToken(m.ctx, store.NewID(), old, m.marta.Person, m.clock) })
	m.later(1)
}
