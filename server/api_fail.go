package server

import (
	"errors"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// apiProblem is an answer that something did not go, RFC 9457.
type apiProblem struct {
	Type     string     `json:"type" says:"where this kind of answer is explained"`
	Title    string     `json:"title"`
	Status   int        `json:"status"`
	Detail   string     `json:"detail,omitzero" says:"what to do"`
	Clause   string     `json:"clause,omitzero" says:"of the rule that does not allow it"`
	Problems []apiField `json:"problems,omitzero" says:"every field that is not right"`
	Saved    *apiSaved  `json:"saved,omitzero" says:"how the draft stands now, where somebody else saved it"`
}

type apiField struct {
	Field string `json:"field" says:"empty for the body as a whole"`
	Want  string `json:"want" says:"what would be right"`
}

// failure is an apiProblem on its way out.
type failure struct {
	apiProblem
	challenge string
	after     time.Duration
}

func (f *failure) Error() string { return f.Title + ": " + f.Detail }

func fail(status int, title, detail string) *failure {
	return &failure{apiProblem: apiProblem{Status: status, Title: title, Detail: detail}}
}

// wrongField is the answer to one field that is not right.
func wrongField(field, want string, args ...any) error {
	var bad plain.Problems
	bad.Unless(false, field, want, args...)
	return bad.Err()
}

// namedAs puts the problems of an error under the names that fields have in a
// body, where the rules call them otherwise.
func namedAs(names map[string]string, err error) error {
	var problems plain.Problems
	if errors.As(err, &problems) {
		return renamed(problems, names)
	}
	return err
}

// failAPI answers an error under the API: the same errors as on the screens, in
// the form programs read.
func (s *Server) failAPI(c *fiber.Ctx, err error) error {
	f := failureOf(err)
	if f.Status >= fiber.StatusInternalServerError {
		s.log.Error("request failed", "method", c.Method(), "route", c.Route().Path, "err", err)
	}
	f.Type = "/api#s" + strconv.Itoa(f.Status)
	if f.challenge != "" {
		c.Set(fiber.HeaderWWWAuthenticate, f.challenge)
	}
	if f.after > 0 {
		c.Set(fiber.HeaderRetryAfter, strconv.Itoa(int(f.after.Seconds())))
	}
	return c.Status(f.Status).JSON(f.apiProblem, "application/problem+json")
}

func failureOf(err error) *failure {
	var (
		known     *failure
		refusal   *plain.Refusal
		problems  plain.Problems
		file      checklists.FileProblems
		framework *fiber.Error
	)
	switch {
	case errors.As(err, &known):
		return known
	case errors.As(err, &refusal):
		f := fail(fiber.StatusConflict, "Not as things stand", refusal.Why.String())
		f.Clause = refusal.Clause
		return f
	case errors.As(err, &problems):
		f := fail(fiber.StatusUnprocessableEntity, "Something is not right yet", "")
		for _, p := range problems {
			f.Problems = append(f.Problems, apiField{p.Field, p.Want.String()})
		}
		return f
	case errors.As(err, &file):
		f := fail(fiber.StatusUnprocessableEntity, "Something is not right yet", "")
		for _, p := range file {
			f.Problems = append(f.Problems, apiField{"list." + p.Field, p.Want.String()})
		}
		return f
	case errors.Is(err, store.ErrNotFound):
		return fail(fiber.StatusNotFound, "There is nothing under that address", "It may have been typed wrong, or the id is of another mill.")
	case errors.Is(err, store.ErrChanged):
		return fail(fiber.StatusConflict, "Somebody changed this meanwhile", "Read it again, and send what still holds.")
	case passing(err):
		return fail(fiber.StatusServiceUnavailable, "Not now", "It may or may not have been kept. Send the same again with the same Idempotency-Key: it is not entered twice.")
	case errors.As(err, &framework):
		return fail(framework.Code, "That could not be read", framework.Message)
	}
	if title, do, trouble := troubleWords(store.TroubleOf(err)); trouble {
		return fail(fiber.StatusServiceUnavailable, title.String(), do.String()+" Send the same again with the same Idempotency-Key: it is not entered twice.")
	}
	return fail(fiber.StatusInternalServerError, "That did not work", "Send the same again with the same Idempotency-Key: it is not entered twice. If it fails again, tell the supervisor the time.")
}
