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
	word string
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

// note puts the word in place of what somebody wrote, where anything was.
func (u unseen) note(texts ...*string) {
	for _, text := range texts {
		if u.Notes && *text != "" {
			*text = u.word
		}
	}
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

func (u unseen) answers(all []checklists.Answer) []checklists.Answer {
	shown := slices.Clone(all)
	for i := range shown {
		u.note(&shown[i].Text, &shown[i].Note, &shown[i].StopGap)
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
		u.note(&e.Note, &e.NotHere)
		if u.Names && e.Told != "" || u.Notes && e.Told != "" {
			e.Told = u.word
		}
		e.Tries = slices.Clone(e.Tries)
		for j := range e.Tries {
			u.note(&e.Tries[j].Way, &e.Tries[j].Result)
		}
		u.note(&e.Tag.Where)
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
	for _, text := range []*string{&i.Present, &i.Harmed} {
		if u.Names && *text != "" {
			*text = u.word
		}
	}
	return i
}
