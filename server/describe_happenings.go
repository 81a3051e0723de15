package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// happening says what was reported that calls for a check, and why one was not done.
func (t teller) happening(body any) (plain.Sentence, string, bool) {
	switch body := body.(type) {
	case checklists.Event:
		if body.Note == "" {
			return plain.Say("%[1]s: %[2]s.", t.machine(body.Equipment), body.Kind.Said()), "/due", true
		}
		return plain.Say("%[1]s: %[2]s. %[3]s", t.machine(body.Equipment), body.Kind.Said(), body.Note), "/due", true
	case checklists.Excuse:
		return plain.Say("A check from %[1]s that was not done, excused: %[2]s", body.Starts, body.Reason), "/lists/" + string(body.List), true
	}
	return plain.Sentence{}, "", false
}

func happeningKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindEvent:
		return plain.Say("Event"), true
	case store.KindExcuse:
		return plain.Say("Check excused"), true
	}
	return plain.Sentence{}, false
}
