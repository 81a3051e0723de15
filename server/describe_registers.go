package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// registers says what an entry of the saw register or of the safety equipment
// reports, and where it is shown.
func (t teller) registers(body any) (said plain.Sentence, href string, ok bool) {
	switch body := body.(type) {
	case checklists.Blade:
		return plain.Say("Saw %[1]s as it stands in the register from now on: marked for %.0[2]f rpm.", body.Serial, body.Marked), "/blades/" + string(body.ID), true
	case checklists.BladeAct:
		return bladeActSaid(body), "/blades/" + string(body.Blade), true
	case checklists.SafetyItem:
		if !body.Retired.IsZero() {
			return plain.Say("%[1]s, %[2]s: no longer there.", body.Place, body.Kind.Words()), "/safety/" + string(body.ID), true
		}
		return plain.Say("%[1]s, %[2]s: entered as it stands from now on.", body.Place, body.Kind.Words()), "/safety/" + string(body.ID), true
	case store.SafetyChecked:
		found := plain.Say("right")
		if !body.Right {
			found = plain.Say("not right")
		}
		return plain.Say("%[1]s, %[2]s: %[3]s, found %[4]s.", body.Place, body.Kind.Words(), body.Work.Words(), found), "/safety/" + string(body.Item), true
	}
	return plain.Sentence{}, "", false
}

func bladeActSaid(a checklists.BladeAct) plain.Sentence {
	switch {
	case a.Crack != nil && *a.Crack > 0:
		return plain.Say("A saw %[1]s; longest crack %[2]s.", a.Work.Words(), plain.Gauged(*a.Crack))
	case a.Crack != nil:
		return plain.Say("A saw %s; no crack found.", a.Work.Words())
	}
	return plain.Say("A saw %s.", a.Work.Words())
}

// registersKindWords names these kinds of entry, for headings and the filter.
func registersKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindBlade:
		return plain.Say("Saw"), true
	case store.KindBladeAct:
		return plain.Say("Work on a saw"), true
	case store.KindSafetyItem:
		return plain.Say("Safety equipment"), true
	case store.KindSafetyCheck:
		return plain.Say("Safety equipment looked at"), true
	}
	return plain.Sentence{}, false
}
