package server

import (
	"net/url"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) reminderRoutes() {
	s.get("/reminders", signedIn, s.showReminders)
	s.post("/reminders/mail", crew, s.askForMail)
}

// reminderLine is one reminder as a page or a mail shows it.
type reminderLine struct {
	Said plain.Sentence
	Word plain.Sentence
	Href string // where it is seen to, "" where the reader may not go
	Over bool
}

// reminderPath is where p sees to what r is about.
func reminderPath(r checklists.Reminder, p procedures.Person) string {
	subject := url.PathEscape(r.Subject)
	switch r.Kind {
	case checklists.AboutList:
		if r.State != checklists.ReminderLater && p.Works() {
			return "/inspections/new?list=" + url.QueryEscape(r.Subject)
		}
		return "/due"
	case checklists.AboutDefect:
		return "/defects/" + subject
	case checklists.AboutAction:
		return "/incidents/" + subject
	case checklists.AboutSafety:
		return "/safety/" + subject
	case checklists.AboutGear:
		if r.Part == "" {
			return "/gear/" + subject
		}
		return gearPath(r.Subject, r.Part)
	case checklists.AboutProcedure:
		if p.Works() {
			return "/procedures/" + subject + "/inspections/new"
		}
		return "/procedures/" + subject
	case checklists.AboutTraining:
		return "/people/" + subject + "/training"
	case checklists.AboutPerson:
		if p.Supervises() {
			return "/people/" + subject
		}
		return "/registers"
	case checklists.AboutCard:
		if p.Supervises() {
			return "/help/emergency/edit"
		}
		return "/help/emergency"
	case checklists.AboutBackup:
		if p.Supervises() {
			return "/backups"
		}
	}
	return ""
}

func reminderOn(r checklists.Reminder, p procedures.Person) reminderLine {
	return reminderLine{Said: r.What, Word: r.State.Words(), Href: reminderPath(r, p), Over: r.State == checklists.ReminderOverdue}
}

// ahead is all that is to be seen to at the mill, also later.
func ahead(v *visit, facts checklists.Facts) ([]checklists.Reminder, error) {
	all, err := v.desk.Remindable(v.ctx(), facts, v.now)
	if err != nil {
		return nil, err
	}
	return all.Ahead(v.now), nil
}

// remindersOnFront is how many the first page has room for.
const remindersOnFront = 4

// frontReminders are the most pressing for who is signed in, without the lists
// and procedures that stand on the first page anyway, and how many there are of
// every kind.
func (v *visit) frontReminders(facts checklists.Facts) (first []reminderLine, count int, err error) {
	if !v.person.Works() {
		return nil, 0, nil
	}
	all, err := ahead(v, facts)
	if err != nil {
		return nil, 0, err
	}
	for _, r := range all {
		if r.State == checklists.ReminderLater || !r.Concerns(v.person) {
			continue
		}
		count++
		if r.Kind != checklists.AboutList && r.Kind != checklists.AboutProcedure && len(first) < remindersOnFront {
			first = append(first, reminderOn(r, v.person))
		}
	}
	return first, count, nil
}

type remindersPage struct {
	*views.Frame
	Own, Others []reminderLine
	Later       []reminderLine // of one's own, with a known time
	Works       bool
	Mail        bool   // it is set up
	Hour        string // at which it goes out
	Address     string // own, as it stands or was typed
	Asked       bool   // it is on for oneself
}

// laterShown is how many later things the page lists.
const laterShown = 12

func (s *Server) showReminders(v *visit) error { return v.remindersPage("", nil) }

func (v *visit) remindersPage(typed string, problems plain.Problems) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	all, err := ahead(v, facts)
	if err != nil {
		return err
	}
	page := remindersPage{Frame: v.frame("Nothing to be reminded of"), Works: v.person.Works(), Address: typed}
	page.Problems = problems
	over := 0
	for _, r := range all {
		own := r.Concerns(v.person)
		switch {
		case r.State == checklists.ReminderLater:
			if (own || !page.Works) && r.ShownTo(v.person) && len(page.Later) < laterShown {
				page.Later = append(page.Later, reminderOn(r, v.person))
			}
		case own:
			page.Own = append(page.Own, reminderOn(r, v.person))
			if r.State == checklists.ReminderOverdue {
				over++
			}
		case r.ShownTo(v.person):
			page.Others = append(page.Others, reminderOn(r, v.person))
		}
	}
	switch {
	case over > 0:
		page.Title = plain.Say("Reminders for you: %[1]d, overdue: %[2]d", len(page.Own), over)
	case len(page.Own) > 0:
		page.Title = plain.Say("Reminders for you: %d, none overdue", len(page.Own))
	case page.Works || len(page.Others) > 0:
		page.Title = plain.Say("Nothing to remind you of")
	}
	if err := v.ownMail(&page); err != nil {
		return err
	}
	return v.show("reminders", page, problems)
}

// ownMail tells whether the reader gets mail.
func (v *visit) ownMail(page *remindersPage) error {
	settings, err := v.desk.MailSettings(v.ctx())
	if err != nil {
		return err
	}
	page.Mail, page.Hour = settings.On, timeOfDay(settings.Hour*60)
	recipients, err := v.desk.MailRecipients(v.ctx())
	if err != nil {
		return err
	}
	for _, r := range recipients {
		if r.Person == v.person.ID {
			page.Asked = true
			if page.Address == "" {
				page.Address = r.Address
			}
		}
	}
	return nil
}

// askForMail turns the own mail on, or off.
func (s *Server) askForMail(v *visit) error {
	address := v.typed("address")
	done := "mail-on"
	if v.typed("off") == "yes" {
		address, done = "", "mail-off"
	} else if address == "" {
		return v.remindersPage("", plain.Problems{{Field: "address", Want: plain.Say("an e-mail address, such as name@example.com")}})
	}
	if err := v.desk.KeepMailRecipient(v.ctx(), v.person.ID, address, v.person, v.now); err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.remindersPage(address, problems)
	}
	if err := v.keepLanguage(); err != nil {
		return err
	}
	return v.moveOn("/reminders", done)
}

// reminded loads what is to be seen to at the mill, outside of any request.
func (s *Server) reminded(desk *store.Mill, now time.Time) ([]checklists.Reminder, error) {
	facts, err := desk.Facts(s.under, now)
	if err != nil {
		return nil, err
	}
	all, err := desk.Remindable(s.under, facts, now)
	if err != nil {
		return nil, err
	}
	return all.Reminders(now), nil
}
