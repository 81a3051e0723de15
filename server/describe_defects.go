package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// defectStory says what an entry about a defect before its mending, or about an
// incident, reports and where it is shown.
func (t teller) defectStory(body any) (plain.Sentence, string, bool) {
	switch body := body.(type) {
	case checklists.NewDate:
		d := body.Defect
		if body.Reason == "" {
			return plain.Say("%[1]s, to mend by %[2]s, it was %[3]s.", t.machine(d.Equipment), d.MendBy, body.Was), "/defects/" + string(d.ID), true
		}
		return plain.Say("%[1]s, to mend by %[2]s, it was %[3]s: %[4]s", t.machine(d.Equipment), d.MendBy, body.Was, body.Reason), "/defects/" + string(d.ID), true
	case checklists.DefectNote:
		return plain.Say("%[1]s, %[2]s: %[3]s", t.machine(body.Equipment), noteWords(body.Kind), body.Text), "/defects/" + string(body.Defect), true
	case checklists.Incident:
		return plain.Say("%[1]s, %[2]s: %[3]s", t.machine(body.Equipment), kindOfIncident(body.Kind), body.What), "/incidents/" + string(body.ID), true
	case checklists.IncidentAction:
		if !body.Open() {
			return plain.Say("Done after an incident: %s", body.Done), "/incidents/" + string(body.Incident), true
		}
		return plain.Say("To be done after an incident by %[1]s: %[2]s", t.who(body.Person), body.What), "/incidents/" + string(body.Incident), true
	case store.IncidentHarm:
		return plain.Say("%[1]s, harm learnt of later: %[2]s", t.machine(body.Equipment), harmWords(body.Harm)), "/incidents/" + string(body.Incident), true
	case store.IncidentClosed:
		return plain.Say("%[1]s, incident closed with the reason: %[2]s", t.machine(body.Equipment), body.Reason), "/incidents/" + string(body.Incident), true
	}
	return plain.Sentence{}, "", false
}

// defectKindWords names the kinds of entries of defects and incidents.
func defectKindWords(kind string) (plain.Sentence, bool) {
	switch kind {
	case store.KindDefectAssigned:
		return plain.Say("Defect given"), true
	case store.KindDefectRedated:
		return plain.Say("Date of a defect changed"), true
	case store.KindDefectNoted:
		return plain.Say("Note to a defect"), true
	case store.KindIncident:
		return plain.Say("Incident"), true
	case store.KindIncidentAction:
		return plain.Say("Incident, what is to be done"), true
	case store.KindIncidentActionDone:
		return plain.Say("Incident, what was done"), true
	case store.KindIncidentHarm:
		return plain.Say("Harm learnt of later"), true
	case store.KindIncidentClosed:
		return plain.Say("Incident closed"), true
	}
	return plain.Sentence{}, false
}
