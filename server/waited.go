package server

import (
	"errors"
	"html"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// A phone without contact keeps what was sent and gives it later, by itself. Such a
// request carries waitedHeader: how many milliseconds ago the act was, by the
// phone's own clock. It is answered without a page, for a script: 204 when it is
// taken or was taken before, 401 when its person is not the one signed in, 403 when
// it is not for the role, 409 for what a person has to look at, 422 for what the
// rules want, each with sentences; anything else means to try again.
const (
	waitedHeader = "Stillsaw-Outbox"
	goOnHeader   = "Stillsaw-Go-On" // where the person goes on
)

// shortestWait is how old an act has to be for its own time to count; below it is
// the time a request takes.
const shortestWait = time.Second

// waited is what a phone tells of an act it kept.
type waited struct {
	seen     time.Time // zero: now
	goOn     string
	conflict bool // things stand otherwise meanwhile
}

// takeWaited carries out what a phone kept, as handle does what comes at once.
func (v *visit) takeWaited(who may, handle func(*visit) error) error {
	v.waited = &waited{}
	if age, err := strconv.ParseInt(v.Get(waitedHeader), 10, 64); err == nil && time.Duration(age)*time.Millisecond >= shortestWait && age < int64(10*366*24*time.Hour/time.Millisecond) {
		v.waited.seen = v.now.Add(-time.Duration(age) * time.Millisecond).Truncate(time.Millisecond)
	}
	if said := procedures.PersonID(v.typed("person")); said != v.person.ID {
		if who != anyone {
			return v.tell(fiber.StatusUnauthorized, plain.Say("This waits for the one who entered it to sign in."))
		}
		v.person, v.untold = procedures.Person{}, nil // a stop doesn't wait for a sign-in
	}
	switch {
	case who != anyone && v.person.ID == "":
		return v.tell(fiber.StatusUnauthorized, plain.Say("This waits for the one who entered it to sign in."))
	case !who.admits(v.person):
		return v.tellError(v.notForTheRole())
	}
	done, err := v.desk.Answered(v.ctx(), v.submission())
	if err != nil {
		return err
	}
	if done {
		return v.SendStatus(fiber.StatusNoContent)
	}
	if err := handle(v); err != nil {
		return v.tellError(err)
	}
	return nil
}

// signFact asks for the signature of what tells only what happened. A fact is not
// refused to a phone that kept it: it has no PIN to send.
func (v *visit) signFact() (plain.Problems, error) {
	if v.waited != nil {
		return nil, nil
	}
	return v.sign()
}

// seen is when an act was that a phone kept; zero for one that comes at once.
func (v *visit) seen() time.Time {
	if v.waited == nil {
		return time.Time{}
	}
	return v.waited.seen
}

// goOn names where the person goes on, should this come back to them.
func (v *visit) goOn(to string) {
	if v.waited != nil {
		v.waited.goOn = to
	}
}

// tellProblems answers what a phone kept in place of the page with the problems:
// those of no field are of things as they stand.
func (v *visit) tellProblems(problems plain.Problems) error {
	status := fiber.StatusConflict
	var said []plain.Sentence
	for _, p := range problems {
		if p.Field != "" && !v.waited.conflict {
			status = fiber.StatusUnprocessableEntity
		}
		said = append(said, p.Want)
	}
	return v.tell(status, said...)
}

// tell answers what a phone kept with sentences.
func (v *visit) tell(status int, said ...plain.Sentence) error {
	frame := v.frame("")
	var body strings.Builder
	for _, sentence := range said {
		body.WriteString("<p>" + html.EscapeString(frame.Say(sentence)) + "</p>\n")
	}
	if v.waited.goOn != "" {
		v.Set(goOnHeader, v.waited.goOn)
	}
	v.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return v.Status(status).SendString(body.String())
}

// tellError is [Server.fail] for what a phone kept. What it goes to and is not there
// any more is for the person to look at.
func (v *visit) tellError(err error) error {
	var refusal *plain.Refusal
	var problems plain.Problems
	var framework *fiber.Error
	switch {
	case errors.As(err, &problems):
		return v.tellProblems(problems)
	case errors.As(err, &refusal):
		return v.tell(fiber.StatusConflict, plain.Say("%s", refusal))
	case errors.Is(err, store.ErrChanged):
		return v.tell(fiber.StatusConflict, plain.Say("Somebody changed this meanwhile"), plain.Say("Go back, look at it again, and send once more."))
	case errors.Is(err, store.ErrNotFound), errors.As(err, &framework) && framework.Code == fiber.StatusNotFound:
		return v.tell(fiber.StatusConflict, plain.Say("What this goes to is not there any more. Look whether it is entered already, else enter it anew."))
	case errors.As(err, &framework):
		title, do := frameworkWords(framework)
		return v.tell(framework.Code, title, do)
	case passing(err):
		return v.SendStatus(fiber.StatusServiceUnavailable)
	}
	v.s.log.Error("request failed", "method", v.Method(), "route", v.Route().Path, "err", err)
	return v.SendStatus(fiber.StatusInternalServerError)
}
