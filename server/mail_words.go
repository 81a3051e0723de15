package server

import (
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/views"
)

// letterWords writes a mail to one person.
type letterWords struct {
	*views.Frame
	to   procedures.Person
	base string
	now  time.Time
}

func (m mailing) words(to procedures.Person) letterWords {
	return letterWords{to: to, base: m.settings.Base, now: m.now,
		// Without a now it says no "today": a mail is read when it is read.
		Frame: &views.Frame{Words: m.s.words.For(), Mill: m.mill.Name, Zone: m.zone, Units: m.mill.Units}}
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
