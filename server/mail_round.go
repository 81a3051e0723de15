package server

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/mail"
	"stillsaw/server/store"
)

// mailEvery is how often it is looked whether mail is to go out.
const mailEvery = time.Minute

// mailUntilStopped sends what is to be sent, again and again, until the server stops.
func (s *Server) mailUntilStopped() {
	s.untilStopped(mailEvery, "mail", s.mailRound)
}

// mailRound puts into the outbox what is to be said now, and tries to send what
// stands in it. What a mail server refuses is no error of the round: it is kept
// with the mail.
func (s *Server) mailRound(ctx context.Context) error {
	s.mailing.Lock()
	defer s.mailing.Unlock()
	mill, err := s.store.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	desk, now := s.store.Of(mill.ID), s.now().UTC()
	settings, err := desk.MailSettings(ctx)
	if err != nil || !settings.On {
		return err
	}
	round := mailing{s: s, desk: desk, mill: mill, settings: settings, now: now}
	if round.zone, err = mill.LocationAt(now); err != nil {
		return err
	}
	recipients, err := desk.MailRecipients(ctx)
	if err != nil {
		return err
	}
	if len(recipients) > 0 {
		if err := round.post(ctx, recipients); err != nil {
			return err
		}
	}
	return round.send(ctx, recipients)
}

// mailing is one round.
type mailing struct {
	s        *Server
	desk     *store.Mill
	mill     checklists.Mill
	settings checklists.MailSettings
	zone     *time.Location
	now      time.Time
}

// post puts the day's mail of each recipient into the outbox, and after it one
// more whenever something is newly overdue. Before the hour of the day nothing is
// posted: what went over in the night stands in the day's mail.
func (m mailing) post(ctx context.Context, recipients []store.MailRecipient) error {
	day := m.settings.Daily(m.now, m.zone)
	if day == "" {
		return nil
	}
	all, err := m.s.reminded(m.desk, m.now)
	if err != nil {
		return err
	}
	for _, r := range recipients {
		person, err := m.desk.Person(ctx, r.Person)
		if err != nil {
			return err
		}
		if person = person.Now(m.now); !person.Works() {
			continue
		}
		if err := m.postTo(ctx, person, all, day); err != nil {
			return err
		}
	}
	return nil
}

func (m mailing) postTo(ctx context.Context, person procedures.Person, all []checklists.Reminder, day string) error {
	var own []checklists.Reminder
	for _, r := range all {
		if r.Concerns(person) {
			own = append(own, r)
		}
	}
	told, posted, err := m.desk.MailTold(ctx, person.ID, day)
	if err != nil {
		return err
	}
	var over []string
	var fresh []checklists.Reminder
	for _, r := range checklists.Overdue(own) {
		over = append(over, r.ID())
		if !told[r.ID()] {
			fresh = append(fresh, r)
		}
	}
	words, err := m.words(ctx, person)
	if err != nil {
		return err
	}
	letter := store.Mail{Person: person.ID, Occasion: day, State: store.MailQueued, Made: m.now}
	switch {
	case !posted && len(own) == 0:
		letter.State = store.MailNone
	case !posted:
		letter.Subject, letter.Body = words.daily(own)
	case len(fresh) > 0:
		letter.Occasion = "overdue " + digestOf(day, fresh)
		letter.Subject, letter.Body = words.overdue(fresh)
	default:
		return nil
	}
	return m.desk.PostMail(ctx, letter, over)
}

// digestOf is the same for the same things on one day.
func digestOf(day string, all []checklists.Reminder) string {
	ids := make([]string, len(all))
	for i, r := range all {
		ids[i] = r.ID()
	}
	slices.Sort(ids)
	sum := sha256.New()
	part(sum, append(ids, day)...)
	return hex.EncodeToString(sum.Sum(nil)[:12])
}

// send tries every mail whose time has come.
func (m mailing) send(ctx context.Context, recipients []store.MailRecipient) error {
	due, err := m.desk.MailDue(ctx, m.now)
	if err != nil || len(due) == 0 {
		return err
	}
	through, err := m.s.mailServer(ctx, m.desk, m.settings)
	if err != nil {
		return err
	}
	for _, one := range due {
		if ctx.Err() != nil {
			return nil
		}
		try, err := m.desk.BeginMail(ctx, one.ID, m.now)
		if err != nil || try == 0 {
			return err
		}
		wrong, givenUp := "the person no longer asks for mail", true
		to, err := m.addressOf(ctx, one, recipients)
		if err != nil {
			return err
		}
		if to != "" {
			wrong, givenUp = "", false
			letter := mail.Message{ID: one.ID, From: m.settings.From, FromName: m.mill.Name, To: to, Subject: one.Subject, Body: one.Body, Date: m.now}
			if err := through.Send(ctx, letter); err != nil {
				_, again := checklists.MailWait(try)
				wrong, givenUp = err.Error(), mail.Permanent(err) || !again
			}
		}
		// Also where the server stops meanwhile: what was taken must be known to be.
		ending, cancel := context.WithTimeout(context.WithoutCancel(ctx), requestLasts)
		err = m.desk.EndMail(ending, one.ID, wrong, givenUp, m.now)
		cancel()
		if err != nil {
			return err
		}
	}
	return nil
}

// addressOf is where a mail goes, "" where nobody asks for it any more.
func (m mailing) addressOf(ctx context.Context, one store.Mail, recipients []store.MailRecipient) (string, error) {
	if one.Witness != "" {
		witness, err := m.desk.Witness(ctx, one.Witness)
		switch {
		case errors.Is(err, store.ErrNotFound), err == nil && !witness.On:
			return "", nil
		}
		return witness.Place, err
	}
	for _, r := range recipients {
		if r.Person == one.Person {
			return r.Address, nil
		}
	}
	return "", nil
}

// mailServer is where mail is handed in, with its secret.
func (s *Server) mailServer(ctx context.Context, desk *store.Mill, settings checklists.MailSettings) (mail.Server, error) {
	secret, err := desk.MailSecret(ctx)
	return mail.Server{Host: settings.Host, Port: settings.Port, Security: string(settings.Security), User: settings.User, Secret: secret, Trust: s.mailTrust}, err
}
