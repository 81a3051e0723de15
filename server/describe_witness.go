package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// witnessSaid says what an entry about a witness reports.
func witnessSaid(body any) (plain.Sentence, bool) {
	switch body := body.(type) {
	case store.WitnessAct:
		switch body.Act {
		case store.WitnessSetUp:
			if body.Kind == checklists.WitnessOther {
				return plain.Say("This Stillsaw is a witness of the record of another mill from now on."), true
			}
			return plain.Say("A witness of the record was set up: %s.", body.Kind.Words()), true
		case store.WitnessOn:
			return plain.Say("A witness of the record was switched on again: %s.", body.Kind.Words()), true
		case store.WitnessOff:
			return plain.Say("A witness of the record was switched off: %s.", body.Kind.Words()), true
		}
		if body.Kind == checklists.WitnessOther {
			return plain.Say("This Stillsaw is no longer a witness of the record of another mill."), true
		}
		return plain.Say("A witness of the record was removed: %s.", body.Kind.Words()), true
	case checklists.WitnessAlarm:
		if body.Reason == "" {
			return plain.Say("An alarm was closed, and its reason is not kept. %s", body.Said()), true
		}
		return plain.Say("An alarm was closed: %[2]s %[1]s", body.Said(), body.Reason), true
	}
	return plain.Sentence{}, false
}

// witnessKindWords names these kinds of entry.
func witnessKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindWitness:
		return plain.Say("Witness of the record"), true
	case store.KindWitnessAlarm:
		return plain.Say("Witness alarm closed"), true
	}
	return plain.Sentence{}, false
}
