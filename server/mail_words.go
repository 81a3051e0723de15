package server

import (
	"context"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/views"
)

// letterWords writes a mail to one person.
type letterWords struct {
	*views.Frame
	to   procedures.Person
	base string
	now  time.Time
}

// words writes to a person in the language, units and marks the person chose; what
// was not chosen is the mill's, and English.
func (m mailing) words(ctx context.Context, to procedures.Person) (letterWords, error) {
	chosen, _, err := m.desk.Settings(ctx, to.ID)
	if err != nil {
		return letterWords{}, err
	}
	return letterWords{Frame: m.s.frameOf(chosen, m.mill, m.zone), to: to, base: m.settings.Base, now: m.now}, nil
}

// frameOf writes for somebody who chose so and reads it elsewhere and later.
// Without a now it says no "today". preferences are languages for where none was chosen.
func (s *Server) frameOf(chosen store.Settings, mill checklists.Mill, zone *time.Location, preferences ...string) *views.Frame {
	f := &views.Frame{Words: s.words.For(append([]string{chosen.Language}, preferences...)...).WithMark(chosen.Mark), Mill: mill.Name, Zone: zone, Units: mill.Units}
	if chosen.Units != "" {
		f.Units = chosen.Units
	}
	return f
}

// daily is the mail of a day: all that is overdue, due or lapsing for the person.
func (w letterWords) daily(own []checklists.Reminder) (subject, body string) {
	subject = w.T("%[1]s: reminders for you: %[2]d", w.Mill, len(own))
	if over := len(checklists.Overdue(own)); over > 0 {
		subject = w.T("%[1]s: overdue: %[2]d, reminders in all: %[3]d", w.Mill, over, len(own))
	}
	return subject, w.letter(own)
}

// overdue is the mail that something has come to be overdue.
func (w letterWords) overdue(fresh []checklists.Reminder) (subject, body string) {
	return w.T("%[1]s: newly overdue: %[2]d", w.Mill, len(fresh)), w.letter(fresh)
}

func (w letterWords) letter(all []checklists.Reminder) string {
	var out strings.Builder
	out.WriteString(w.to.Name + ",\n")
	var word string
	for _, r := range all {
		if state := w.Say(r.State.Words()); state != word {
			word = state
			out.WriteString("\n" + strings.ToUpper(word) + "\n")
		}
		out.WriteString("- " + w.Say(r.What) + "\n")
		if w.base != "" {
			out.WriteString("  " + w.base + reminderPath(r, w.to) + "\n")
		}
	}
	out.WriteString("\n" + w.T("As known to Stillsaw %s. Mail may come late or not at all: before anything runs, look at Stillsaw and at the machine.", w.Day(w.now)+", "+w.Clock(w.now)) + "\n")
	out.WriteString(w.T("You asked for this mail. On the page Reminders you end it.") + "\n")
	return out.String()
}
