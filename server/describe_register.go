package server

import (
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// register says what an entry about the energy register reports, and where it is
// shown.
func (t teller) register(body any) (said plain.Sentence, href string, ok bool) {
	switch body := body.(type) {
	case store.Coast:
		return plain.Say("%[1]s: %[2]s stood still after %[3]g s, as measured by %[4]s.", t.machine(body.Equipment), energyIn(t.plant, body.Energy), body.Seconds, t.who(body.By)),
			machinePath(body.Equipment) + "/coast", true
	case procedures.Declaration:
		return t.declaration(body), machinePath(body.Equipment), true
	}
	return plain.Sentence{}, "", false
}

func (t teller) declaration(d procedures.Declaration) plain.Sentence {
	name := t.machine(d.Equipment)
	switch {
	case d.FullyDead && d.NoHazard:
		return plain.Say("%s: declared that locking its one source off takes all energy away, and that the work makes no hazard for others.", name)
	case d.FullyDead:
		return plain.Say("%s: declared that locking its one source off takes all energy away.", name)
	case d.NoHazard:
		return plain.Say("%s: declared that the work makes no hazard for others.", name)
	}
	return plain.Say("%s: neither of the two declared parts of the exception is declared any more.", name)
}

// registerKindWords names these kinds of entry, for headings and the filter.
func registerKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindCoast:
		return plain.Say("Coast measured"), true
	case store.KindDeclaration:
		return plain.Say("Exception declared"), true
	}
	return plain.Sentence{}, false
}
