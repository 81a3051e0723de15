package server

import (
	"context"
	"errors"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// fail is the one place where an error gets a status and words for a person. It
// promises only what holds whatever failed: an act may have been kept before the
// page about it could be shown, and what was typed may be gone from the browser.
// Loading the page again sends the same form, whose submission id keeps it from
// being entered twice.
func (s *Server) fail(c *fiber.Ctx, err error) error {
	if strings.HasPrefix(c.Path(), apiPrefix) {
		return s.failAPI(c, err)
	}
	if c.Method() == fiber.MethodPost && c.Get(waitedHeader) != "" {
		bare := &visit{Ctx: c, s: s, words: s.wordsFor(c, s.settingsOfPhone(c)), waited: &waited{}}
		return bare.tellError(err)
	}
	status, title := fiber.StatusInternalServerError, plain.Say("That did not work")
	do := plain.Say("Load this page again. If it happens again, write down the time and tell the supervisor.")
	later := plain.Say("Load this page again in a moment.")
	if c.Method() != fiber.MethodGet {
		do = plain.Say("It may or may not have been saved. Load this page again to send the same once more: it is not entered twice. If it happens again, write down the time, look in the record whether it is there, and tell the supervisor.")
		later = plain.Say("It may or may not have been saved. Load this page again in a moment to send the same once more: it is not entered twice.")
	}
	var refusal *plain.Refusal
	var problems plain.Problems
	var framework *fiber.Error
	wrong, mend, trouble := troubleWords(store.TroubleOf(err))
	switch {
	case errors.As(err, &refusal):
		status, title, do = fiber.StatusConflict, plain.Say("Not as things stand"), plain.Say("%s", refusal)
	case errors.As(err, &problems):
		status, title, do = fiber.StatusUnprocessableEntity, plain.Say("Something is not right yet"), plain.Say("%s", wantsOf(problems))
	case errors.Is(err, store.ErrNotFound):
		status, title, do = fiber.StatusNotFound, plain.Say("There is nothing under that address"), plain.Say("It may have been typed wrong. Start from the first page.")
	case errors.Is(err, store.ErrChanged):
		status, title, do = fiber.StatusConflict, plain.Say("Somebody changed this meanwhile"), plain.Say("Go back, look at it again, and send once more.")
	case errors.Is(err, store.ErrClosing):
		status, title, do = fiber.StatusServiceUnavailable, plain.Say("Stillsaw is stopping"), later
	case errors.Is(err, store.ErrNotHeld), errors.Is(err, store.ErrUpgraded):
		status, title, do = fiber.StatusServiceUnavailable, plain.Say("Another Stillsaw answers for this mill now"), later
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		status, title, do = fiber.StatusServiceUnavailable, plain.Say("That took too long"), later
	case trouble:
		status, title, do = fiber.StatusServiceUnavailable, wrong, plain.Say("%s %s", mend, troubleMeanwhile(c.Method() != fiber.MethodGet))
	case errors.As(err, &framework):
		status = framework.Code
		title, do = frameworkWords(framework)
	}
	if status >= fiber.StatusInternalServerError {
		s.log.Error("request failed", "method", c.Method(), "route", c.Route().Path, "err", err)
	}
	chosen := s.settingsOfPhone(c)
	frame := &views.Frame{Title: title, Words: s.wordsFor(c, chosen), Scheme: chosen.Scheme, Size: chosen.Size, StopIt: "/stop-it"}
	ctx, cancel := context.WithTimeout(s.under, requestLasts) // the request's own is over by now
	defer cancel()
	c.SetUserContext(ctx)
	if v, found := s.visit(c); found == nil {
		frame = v.frame("%s", title)
	}
	c.Status(status).Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	if err := render(c, "error", views.ErrorPage{Frame: frame, Status: status, Do: frame.Say(do)}); err != nil {
		s.log.Error("error page failed", "err", err)
		return c.SendString(do.String())
	}
	return nil
}

// passing tells whether err says that the same may go in a moment, here or at another
// process: nothing was wrong with what was sent.
func passing(err error) bool {
	for _, one := range []error{store.ErrClosing, store.ErrNotHeld, store.ErrUpgraded, context.DeadlineExceeded, context.Canceled} {
		if errors.Is(err, one) {
			return true
		}
	}
	return false
}

// wantsOf is what was wrong with a form, for the page.
func wantsOf(problems plain.Problems) []plain.Sentence {
	wants := make([]plain.Sentence, len(problems))
	for i, p := range problems {
		wants[i] = p.Want
	}
	return wants
}

func frameworkWords(e *fiber.Error) (title, do plain.Sentence) {
	switch e.Code {
	case fiber.StatusForbidden:
		return plain.Say("Not for this role"), plain.Say("%s", plain.Say(e.Message))
	case fiber.StatusRequestEntityTooLarge:
		return plain.Say("That is too large to send"),
			plain.Say("Nothing of it was taken in. Go back and send fewer or smaller photos, %d MB together at most; what you typed may have to be entered again.", bodyMost>>20)
	case fiber.StatusMethodNotAllowed, fiber.StatusNotFound:
		return plain.Say("There is nothing under that address"), plain.Say("It may have been typed wrong. Start from the first page.")
	}
	return plain.Say("That could not be read"), plain.Say("Go back and send it again.")
}
