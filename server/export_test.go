package server

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/views"
)

// The tests of package server_test stand outside, since the demo they need
// imports this package; they look at its pages with the same browser.
var (
	NewServerAt   = onTheNetwork
	LookAtScreens = lookAtScreens
	DriverName    = driverName
)

// WithPages is a server that shares pages parsed before.
func WithPages(c Config) Config {
	c.pages, c.words = testPages(), testWords()
	return c
}

// WithWords is a server that speaks by another catalogue.
func WithWords(c Config, words *views.Catalogue) Config {
	c.words = words
	return c
}

// RoutesOf are the screens' addresses with who may come to them.
func RoutesOf(s *Server) []Route { return s.routes }

// Admits tells whether somebody may come to a route.
func Admits(r Route, p procedures.Person) bool { return r.May.admits(p) }

// LookAtForms is of every form shown again.
var LookAtForms = lookAtForms

// RoundsOf makes each round of what goes on beside requests once, at the server's
// now; next is what to begin the next with.
func RoundsOf(ctx context.Context, s *Server, from time.Time) (next time.Time, err error) {
	if next, err = s.dropRound(ctx, from); err != nil {
		return next, err
	}
	return next, errors.Join(s.checkpointRound(ctx, store.KeptInPassing), s.mailRound(ctx), s.witnessRound(ctx), s.backupRound(ctx))
}

// LettersOf are the mails that can go out now, in a language: the daily one, that
// of what is newly overdue, as if everybody's things were one person's, and that to
// a witness.
func LettersOf(ctx context.Context, s *Server, language string) ([]string, error) {
	mill, err := s.store.TheMill(ctx)
	if err != nil {
		return nil, err
	}
	now := s.now().UTC()
	zone, err := mill.LocationAt(now)
	if err != nil {
		return nil, err
	}
	desk := s.store.Of(mill.ID)
	all, err := s.reminded(desk, now)
	if err != nil {
		return nil, err
	}
	_, checkpoint, err := desk.CheckpointSince(ctx, 0)
	if err != nil {
		return nil, err
	}
	checkpoint.Text = "" // for programs
	words := letterWords{Frame: s.frameOf(store.Settings{Language: language}, mill, zone), now: now}
	subject, body := words.daily(all)
	over, fresh := words.overdue(checklists.Overdue(all))
	return []string{subject + "\n" + body, over + "\n" + fresh, checkpointLetter(words.Frame, checkpoint)}, nil
}

// Stand tells how the mills stand that are due at that time, as a process does by itself.
func (m *Mills) Stand(at time.Time) { m.stand(at) }
