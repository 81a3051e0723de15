package server

import (
	"regexp"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// lineWords are what the lines of the record say beside names and notes, in the
// reader's words: of each kind of entry, and of how one came out.
func lineWords(f *views.Frame) (kinds, outcomes map[string]string) {
	kinds, outcomes = map[string]string{}, map[string]string{}
	for _, kind := range store.Kinds() {
		kinds[kind] = f.Say(kindWords(kind))
		if said := kindLine(kind); !said.Empty() {
			kinds[kind] += " " + fixed(f, said)
		}
	}
	for _, outcome := range store.Outcomes() {
		outcomes[outcome] = fixed(f, outcomeLine(outcome))
		if outcome == store.OutcomeFound {
			outcomes[outcome] += " " + f.T("%d defects found", 1) // one has words of its own
		}
		if outcome == store.OutcomeSkipped {
			outcomes[outcome] += " " + fixed(f, plain.Say("%d items not checked", 0))
		}
	}
	return kinds, outcomes
}

// values are the places of a sentence where something is put in.
var values = regexp.MustCompile(`%[-+#0-9.]*(\[\d+\])?[-+#0-9.]*[a-z]`)

// fixed is what a sentence says whatever is put in.
func fixed(f *views.Frame, s plain.Sentence) string {
	return strings.TrimSpace(values.ReplaceAllString(f.T(s.Format), " "))
}

// kindLine is the line of a kind of entry that always says the same; empty where an
// outcome tells which.
func kindLine(kind string) plain.Sentence {
	body := map[string]any{
		store.KindMill: checklists.Mill{}, store.KindEquipment: procedures.Plant{}, store.KindRunCheck: checklists.RunCheck{},
		store.KindDefect: checklists.Defect{What: "-"}, store.KindDefectAssigned: checklists.Defect{What: "-"}, store.KindDescribed: checklists.Defect{What: "-"},
		store.KindMended: checklists.Defect{What: "-"}, store.KindReturned: checklists.Defect{What: "-"},
		store.KindDeparture: checklists.Departure{}, store.KindDepartureClosed: checklists.Departure{},
		store.KindLiftOfRun: store.LiftOfRun{Go: true}, store.KindClockConfirmed: checklists.ClockConfirmation{},
		store.KindWeighed: store.Weighing{}, store.KindLighter: store.Lighter{Allowed: true}, store.KindGearMeasured: store.GearMeasurement{},
		store.KindEmergencyCard: checklists.EmergencyCard{}, store.KindLogKey: store.LogKey{}, store.KindBlade: checklists.Blade{},
		store.KindSafetyItem: checklists.SafetyItem{}, store.KindCoast: store.Coast{}, store.KindProgram: procedures.Program{},
		store.KindPINReset: store.PINReset{},
	}[kind]
	if body == nil {
		return plain.Sentence{}
	}
	said, _ := teller{}.said(store.Entry{Kind: kind, Body: body})
	return said
}

func outcomeLine(outcome string) plain.Sentence {
	answered := func(results ...checklists.Result) plain.Sentence {
		var in checklists.Inspection
		for _, result := range results {
			in.Answers = append(in.Answers, checklists.Answer{Result: result})
		}
		return inspectionSaid(in)
	}
	var t teller
	switch outcome {
	case store.OutcomeGo, store.OutcomeNoGo:
		return t.lift(store.Lift{Go: outcome == store.OutcomeGo})
	case store.OutcomeFit, store.OutcomeNotFit:
		return t.gearInspection(store.GearInspection{Fit: outcome == store.OutcomeFit})
	case store.OutcomeAllOK:
		return answered()
	case store.OutcomeFound:
		return answered(checklists.Found)
	case store.OutcomeNoDefect:
		return answered(checklists.NotChecked)
	case store.OutcomeSkipped:
		return answered(checklists.Found, checklists.NotChecked)
	case string(store.Lists), string(store.Procedures), string(store.Rigs):
		said, _ := publicationSaid(store.Publication{Sort: store.Sort(outcome)})
		return said
	}
	for _, kind := range procedures.EventKinds() {
		if outcome == store.OutcomeOfLockout(kind) {
			return lockoutAct(procedures.Procedure{}, procedures.Event{Kind: kind})
		}
	}
	return plain.Sentence{}
}
