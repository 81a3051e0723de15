package server

import (
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type pastAct struct {
	What        plain.Sentence
	Who         string
	At          time.Time
	Note, Photo string
	Seq         int64 // place in the record; -1 where that is the inspection's
}

// mostActs is how much of a defect's story its page shows.
const mostActs = 200

// history is what was done about d, oldest first.
func (v *visit) history(f *views.Frame, d checklists.Defect, names map[procedures.PersonID]string) ([]pastAct, error) {
	entries, _, err := v.desk.Entries(v.ctx(), store.Filter{Subject: string(d.ID), Limit: mostActs})
	if err != nil {
		return nil, err
	}
	slices.Reverse(entries)
	return historyIn(f, d, entries, names), nil
}

// historyIn is what entries of d, oldest first, say was done about it.
func historyIn(f *views.Frame, d checklists.Defect, entries []store.Entry, names map[procedures.PersonID]string) []pastAct {
	past := []pastAct{}
	if d.Inspection != "" {
		past = append(past, pastAct{What: plain.Say("Found in a check"), Who: reporter(f, d.By, names), At: d.At, Note: d.What, Seq: -1})
	}
	for _, e := range entries {
		a := pastAct{Who: reporter(f, e.Actor, names), At: e.At, Seq: e.Seq}
		switch then := e.Body.(type) {
		case checklists.Defect:
			a.lived(e.Kind, then, names)
		case checklists.NewDate:
			a.What, a.Note = plain.Say("To mend by %[1]s, it was %[2]s; until then: %[3]s", then.Defect.MendBy, then.Was, then.Defect.StopGap), then.Reason
		case checklists.DefectNote:
			a.What, a.Note, a.Photo = noteWords(then.Kind), then.Text, photoAddress(then.Photo)
		default:
			continue
		}
		past = append(past, a)
	}
	return past
}

// lived says what an act of a defect's life was.
func (a *pastAct) lived(kind string, then checklists.Defect, names map[procedures.PersonID]string) {
	switch kind {
	case store.KindDefect:
		a.What, a.Note = plain.Say("Stopped"), then.What
	case store.KindDescribed:
		a.What, a.Note = plain.Say("Said what is wrong"), then.What
	case store.KindDefectAssigned:
		a.What = plain.Say("Given to %[1]s, by %[2]s", names[then.Assigned], then.Due)
	case store.KindMended:
		a.What, a.Note, a.Photo = plain.Say("Reported as mended"), then.MendNote, photoAddress(then.MendPhoto)
	case store.KindReturned:
		a.What, a.Note = plain.Say("Returned to service"), then.ReturnNote
		if then.NoSecond {
			a.What = plain.Say("Returned to service by the one who mended it: no second person")
		}
	}
}

// noteWords names what a note to a defect is about.
func noteWords(kind checklists.NoteKind) plain.Sentence {
	switch kind {
	case checklists.Ordered:
		return plain.Say("Part ordered")
	case checklists.Arrived:
		return plain.Say("Part came in")
	case checklists.Used:
		return plain.Say("Part used")
	}
	return plain.Say("Note")
}
