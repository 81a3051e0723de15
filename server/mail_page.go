package server

import (
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/mail"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) mailRoutes() {
	s.get("/mill/mail", supervisors, s.showMail)
	s.post("/mill/mail", supervisors, s.keepMail)
	s.post("/mill/mail/test", supervisors, s.tryMail)
	s.post("/mill/mail/retry", supervisors, s.retryMail)
	s.post("/mill/mail/end", supervisors, s.endMailTo)
}

// mailForm is what was typed.
type mailForm struct {
	Host, Port, Security, User, From, Hour string
	On                                     bool
}

// recipientLine is somebody who asked for mail.
type recipientLine struct {
	ID, Name, Address string
	Since             time.Time
}

// outboxLine is a mail as the page shows it.
type outboxLine struct {
	Who, Subject string
	State        plain.Sentence
	At           time.Time
	Wrong        string
	Tries        int
	Failed       bool
}

type mailPage struct {
	*views.Frame
	Submission string
	Form       mailForm
	Secret     bool // there is one
	Set        bool // somebody has set it up
	To         string
	Tried      string // what a test mail came to
	Recipients []recipientLine
	Outbox     []outboxLine
	Waiting    bool // something is waiting or was given up
}

// Securities offers how the connection is protected.
func (p mailPage) Securities() []views.Choice {
	return []views.Choice{{Value: "starttls", Text: p.T("Turned encrypted (STARTTLS, port 587)")}, {Value: string(checklists.MailTLS), Text: p.T("Encrypted from the start (TLS, port 465)")},
		{Value: string(checklists.MailOffered), Text: p.T("Encrypted where the server offers it")}, {Value: string(checklists.MailOpen), Text: p.T("Never: only for a server on the mill's own network")}}
}

// outboxShown is how many mails the page goes back.
const outboxShown = 20

func (s *Server) showMail(v *visit) error {
	settings, err := v.desk.MailSettings(v.ctx())
	if err != nil {
		return err
	}
	form := mailForm{Host: settings.Host, Port: strconv.Itoa(settings.Port), Security: string(settings.Security), User: settings.User, From: settings.From, Hour: strconv.Itoa(settings.Hour), On: settings.On}
	if settings.At.IsZero() {
		form.Port, form.Hour, form.On = "587", "6", true
	}
	if form.Security == "" {
		form.Security = "starttls"
	}
	return v.mailPage(form, "", "", nil)
}

func (v *visit) mailPage(form mailForm, to, tried string, problems plain.Problems) error {
	page := mailPage{Frame: v.frame("Mail is not set up"), Submission: store.NewID(), Form: form, To: to, Tried: tried}
	page.Problems = problems
	settings, err := v.desk.MailSettings(v.ctx())
	if err != nil {
		return err
	}
	secret, err := v.desk.MailSecret(v.ctx())
	if err != nil {
		return err
	}
	page.Secret, page.Set = secret != "", !settings.At.IsZero()
	names, err := v.names()
	if err != nil {
		return err
	}
	recipients, err := v.desk.MailRecipients(v.ctx())
	if err != nil {
		return err
	}
	for _, r := range recipients {
		page.Recipients = append(page.Recipients, recipientLine{ID: string(r.Person), Name: names[r.Person], Address: r.Address, Since: r.Since})
	}
	out, err := v.desk.Outbox(v.ctx(), outboxShown)
	if err != nil {
		return err
	}
	failed := 0
	for _, one := range out {
		line := outboxLine{Who: names[one.Person], Subject: one.Subject, At: one.Made, Wrong: one.Wrong, Tries: one.Tries, Failed: one.Wrong != "", State: plain.Say("to be sent, next try %s", one.Next)}
		switch one.State {
		case store.MailSent:
			line.State, line.Failed = plain.Say("sent %s", one.Sent), false
		case store.MailFailed:
			line.State = plain.Say("given up after %d tries", one.Tries)
		}
		if line.Failed {
			failed++
		}
		page.Waiting = page.Waiting || one.State != store.MailSent
		page.Outbox = append(page.Outbox, line)
	}
	switch {
	case failed > 0:
		page.Title = plain.Say("Mail: %d did not go out", failed)
	case settings.On:
		page.Title = plain.Say("Mail goes out from %[1]s to %[2]d people", timeOfDay(settings.Hour*60), len(recipients))
	case page.Set:
		page.Title = plain.Say("Mail is switched off")
	}
	return v.show("mail", page, problems)
}

func (v *visit) typedMail() (mailForm, checklists.MailSettings) {
	form := mailForm{Host: v.typed("host"), Port: v.typed("port"), Security: v.typed("security"), User: v.typed("user"), From: v.typed("from"), Hour: v.typed("hour"), On: v.typed("on") == "yes"}
	settings := checklists.MailSettings{On: form.On, Host: form.Host, Port: whole(form.Port), Security: checklists.MailSecurity(form.Security), User: form.User, From: form.From, Hour: whole(form.Hour), Base: v.BaseURL()}
	if form.Security == "starttls" {
		settings.Security = checklists.MailStartTLS
	}
	return form, settings
}

func (s *Server) keepMail(v *visit) error {
	form, settings := v.typedMail()
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		var secret *string
		if typed := v.FormValue("password"); typed != "" || form.User == "" {
			secret = &typed
		}
		err := v.desk.KeepMailSettings(v.ctx(), settings, secret, v.person, v.now)
		if err == nil {
			return v.moveOn("/mill/mail", "mail")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.mailPage(form, "", "", problems)
}

// tryMail sends a test by the settings that are kept, and says what came of it.
func (s *Server) tryMail(v *visit) error {
	settings, err := v.desk.MailSettings(v.ctx())
	if err != nil {
		return err
	}
	to := v.typed("to")
	form := mailForm{Host: settings.Host, Port: strconv.Itoa(settings.Port), Security: string(settings.Security), User: settings.User, From: settings.From, Hour: strconv.Itoa(settings.Hour), On: settings.On}
	if form.Security == "" {
		form.Security = "starttls"
	}
	if !checklists.MailAddress(to) {
		return v.mailPage(form, to, "", plain.Problems{{Field: "to", Want: plain.Say("an e-mail address, such as name@example.com")}})
	}
	through, err := s.mailServer(v.ctx(), v.desk, settings)
	if err != nil {
		return err
	}
	f := v.frame("Mail")
	letter := mail.Message{ID: store.NewID(), From: settings.From, FromName: v.mill.Name, To: to, Date: v.now, Subject: f.T("%s: a test mail", v.mill.Name),
		Body: f.T("This is a test. %[1]s sent it from Stillsaw at %[2]s. Reminders come the same way.", v.person.Name, v.mill.Name) + "\n"}
	if err := through.Send(v.ctx(), letter); err != nil {
		return v.mailPage(form, to, err.Error(), plain.Problems{{Field: "to", Want: plain.Say("the test did not go out: %s", err.Error())}})
	}
	return v.moveOn("/mill/mail", "mail-test")
}

func (s *Server) retryMail(v *visit) error {
	if err := v.desk.RetryMail(v.ctx(), v.person, v.now); err != nil {
		return err
	}
	return v.moveOn("/mill/mail", "mail-retry")
}

// endMailTo takes somebody's address away, as when it is not theirs any more.
func (s *Server) endMailTo(v *visit) error {
	if err := v.desk.KeepMailRecipient(v.ctx(), procedures.PersonID(v.typed("person")), "", v.person, v.now); err != nil {
		return err
	}
	return v.moveOn("/mill/mail", "mail-end")
}
