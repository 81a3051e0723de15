package server

import (
	"slices"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// unseen is what an export keeps back, and the word that stands in its place.
// The zero value keeps nothing back.
type unseen struct {
	store.Withhold
	known store.Names // whom the mill knows, where names are kept back
	word  string
}

// unseen is what an export keeps back, with whom the mill knows.
func (v *visit) unseen(w store.Withhold, word string) (u unseen, err error) {
	u = unseen{Withhold: w, word: word}
	if w.Names {
		u.known, err = v.desk.Names(v.ctx())
	}
	return u, err
}

// names are those of people, or the word for each.
func (u unseen) names(names map[procedures.PersonID]string) map[procedures.PersonID]string {
	if !u.Names {
		return names
	}
	hidden := make(map[procedures.PersonID]string, len(names))
	for id := range names {
		hidden[id] = u.word
	}
	return hidden
}

// note puts the word in place of what somebody wrote, where it is kept back.
func (u unseen) note(texts ...*string) {
	for _, text := range texts {
		if u.Note(u.known, *text) {
			*text = u.word
		}
	}
}

// who puts the word in place of people somebody wrote down.
func (u unseen) who(texts ...*string) {
	for _, text := range texts {
		if *text != "" && (u.Names || u.Notes) {
			*text = u.word
		}
	}
}

// sentence is text, or the word where it calls somebody by a name: titles and the
// like, and what older entries hold in the clear.
func (u unseen) sentence(text string) string {
	if u.Names && u.known.Called(text) {
		return u.word
	}
	return text
}

func (u unseen) mill(m checklists.Mill) checklists.Mill {
	m.Closed = slices.Clone(m.Closed)
	for i := range m.Closed {
		u.note(&m.Closed[i].Reason)
	}
	return m
}

func (u unseen) defect(d checklists.Defect) checklists.Defect {
	u.note(&d.What, &d.StopGap, &d.MendNote, &d.ReturnNote)
	return d
}

func (u unseen) defects(all []checklists.Defect) []checklists.Defect {
	shown := slices.Clone(all)
	for i := range shown {
		shown[i] = u.defect(shown[i])
	}
	return shown
}

func (u unseen) departure(d checklists.Departure) checklists.Departure {
	u.note(&d.What, &d.Reason)
	return d
}

// answers keeps back what was answered to list in words.
func (u unseen) answers(list checklists.List, all []checklists.Answer) []checklists.Answer {
	shown := slices.Clone(all)
	for i := range shown {
		if item, known := list.Item(shown[i].Item); u.Answer(u.known, item, known, shown[i].Text) {
			shown[i].Text = u.word
		}
		u.note(&shown[i].Note, &shown[i].StopGap)
	}
	return shown
}

// lockout keeps back what people wrote in its events. Nothing the rules read is
// changed.
func (u unseen) lockout(l procedures.Lockout) procedures.Lockout {
	l.Events = slices.Clone(l.Events)
	u.note(&l.Task)
	for i := range l.Events {
		e := &l.Events[i]
		u.note(&e.Note, &e.NotHere, &e.Where, &e.Craft)
		u.who(&e.Told)
		e.Tries = slices.Clone(e.Tries)
		for j := range e.Tries {
			u.note(&e.Tries[j].Way, &e.Tries[j].Result)
		}
		u.note(&e.Tag.Hazard, &e.Tag.Where)
	}
	l.Members = slices.Clone(l.Members)
	for i := range l.Members {
		u.note(&l.Members[i].Craft)
	}
	return l
}

// day keeps back what people wrote that day.
func (u unseen) day(d store.Day) store.Day {
	d.Raised, d.Mended, d.Returned = u.defects(d.Raised), u.defects(d.Mended), u.defects(d.Returned)
	d.Departures, d.Excuses, d.Lockouts = slices.Clone(d.Departures), slices.Clone(d.Excuses), slices.Clone(d.Lockouts)
	for i := range d.Departures {
		d.Departures[i] = u.departure(d.Departures[i])
	}
	for i := range d.Excuses {
		u.note(&d.Excuses[i].Reason)
	}
	for i := range d.Lockouts {
		d.Lockouts[i] = u.lockout(d.Lockouts[i])
	}
	return d
}

func (u unseen) incident(i checklists.Incident) checklists.Incident {
	u.note(&i.Where, &i.What, &i.Reason)
	u.who(&i.Present, &i.Harmed)
	return i
}
