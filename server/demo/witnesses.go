package demo

import (
	"crypto/rand"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// setUpWitnesses has the insurer get the checkpoints by mail, and makes this mill
// the witness of a neighbour. Nothing goes out: mail is not set up.
func (m *mill) setUpWitnesses() {
	m.later(4)
	m.do("set up a witness", func() error {
		_, err := m.desk.SetUpWitness(m.ctx, store.NewID(), checklists.Witness{Kind: checklists.WitnessMail, Place: "records@insurer.example"}, m.marta.Person, m.clock)
		return err
	})
	m.later(2)
	m.do("be a witness for a neighbour", func() error {
		_, verifier, err := record.NewKey(store.NewID(), rand.Reader) // of a mill nobody runs
		if err != nil {
			return err
		}
		return m.desk.EnterLog(m.ctx, store.NewID(), checklists.WitnessedLog{Name: "Harrow Creek Mill", Verifier: []string{verifier}}, m.marta.Person, m.clock)
	})
}
