package server

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) lockoutRoutes() {
	s.get("/lockouts", signedIn, s.lockouts)
	s.get("/lockouts/new", crew, s.showNewLockout)
	s.post("/lockouts/new", crew, s.beginLockout)
	s.get("/lockouts/:id", signedIn, s.showLockout)
	s.post("/lockouts/:id/:act", crew, s.reportLockout)
}

// endedShown is how many lockouts that are over stand on the page of lockouts;
// older ones are found in the record.
const endedShown = 20

type lockoutsPage struct {
	*views.Frame
	Open     []lockoutSummary
	Ways     []procedureLine
	Ended    []lockoutSummary
	Cautions []plain.Sentence
}

type lockoutSummary struct {
	lockoutLine
	Said       plain.Sentence
	By         string
	Begun, End time.Time
}

// procedureLine is a procedure one may lock out by.
type procedureLine struct {
	ID, Title string
	UnderWay  string // address of the lockout by it, "" for none
}

func (s *Server) lockouts(v *visit) error {
	names, err := v.names()
	if err != nil {
		return err
	}
	open, err := v.desk.OpenLockouts(v.ctx())
	if err != nil {
		return err
	}
	ended, err := v.desk.EndedLockouts(v.ctx(), endedShown)
	if err != nil {
		return err
	}
	page := lockoutsPage{Frame: v.frame("No lockout is reported under way"), Cautions: procedures.Cautions()}
	var titles []string
	for _, l := range open {
		page.Open = append(page.Open, v.summary(l, names))
		titles = append(titles, l.Procedure.Title)
	}
	if len(titles) > 0 {
		page.Title = plain.Say("Lockouts under way: %s", strings.Join(titles, ", "))
	}
	for _, l := range ended {
		page.Ended = append(page.Ended, v.summary(l, names))
	}
	if page.Ways, err = v.waysToLockOut(open); err != nil {
		return err
	}
	return v.show("lockouts", page, nil)
}

func (v *visit) summary(l procedures.Lockout, names map[procedures.PersonID]string) lockoutSummary {
	return lockoutSummary{lockoutLine: lockoutOn(l, names), Said: lockoutSaid(l, v.now), By: names[l.Primary], Begun: l.Begun, End: l.Ended}
}

// waysToLockOut lists the procedures in force.
func (v *visit) waysToLockOut(open []procedures.Lockout) ([]procedureLine, error) {
	inForce, err := v.desk.InForce(v.ctx(), store.Procedures)
	if err != nil {
		return nil, err
	}
	var ways []procedureLine
	for _, p := range inForce {
		line := procedureLine{ID: p.ID, Title: p.Title}
		for _, l := range open {
			if string(l.Procedure.ID) == p.ID {
				line.UnderWay = "/lockouts/" + string(l.ID)
			}
		}
		ways = append(ways, line)
	}
	return ways, nil
}

type newLockoutPage struct {
	*views.Frame
	Form       newLockoutForm
	Procedures []views.Choice
	UnderWay   string // address of the lockout by the chosen procedure
	Late       bool
	Cautions   []plain.Sentence
}

type newLockoutForm struct{ Submission, Procedure, Task, Hours, Until, Happened string }

func (s *Server) showNewLockout(v *visit) error {
	form := newLockoutForm{Submission: store.NewID(), Procedure: v.Query("procedure"), Hours: "2"}
	if form.Procedure != "" {
		if _, err := v.desk.Published(v.ctx(), store.Procedures, form.Procedure, 0); err != nil {
			return err
		}
	}
	return v.newLockoutPage(form, nil)
}

func (v *visit) newLockoutPage(form newLockoutForm, problems plain.Problems) error {
	open, err := v.desk.OpenLockouts(v.ctx())
	if err != nil {
		return err
	}
	ways, err := v.waysToLockOut(open)
	if err != nil {
		return err
	}
	page := newLockoutPage{Frame: v.frame("Start a lockout"), Form: form, Cautions: procedures.Cautions(), Late: form.Happened != ""}
	page.Problems = problems
	for _, way := range ways {
		page.Procedures = append(page.Procedures, views.Choice{Value: way.ID, Text: way.Title})
		if way.ID == form.Procedure {
			page.Title, page.UnderWay = plain.Say("Start a lockout: %s", way.Title), way.UnderWay
		}
	}
	return v.show("lockout-new", page, problems)
}

func (s *Server) beginLockout(v *visit) error {
	form := newLockoutForm{Submission: v.submission(), Procedure: v.typed("procedure"), Task: v.typed("task"), Hours: v.typed("hours"),
		Until: v.typed("expected"), Happened: v.typed("happened")}
	var problems plain.Problems
	problems.Unless(form.Procedure != "", "procedure", "choose what to lock out")
	problems.Unless(form.Task != "", "task", "say what is going to be done")
	began, _ := v.happened(form.Happened, &problems)
	expected := v.expected(form, began, &problems)
	signed, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, signed...); len(problems) > 0 {
		return v.newLockoutPage(form, problems)
	}
	id, err := v.desk.BeginLockoutLate(v.ctx(), form.Submission, procedures.ProcedureID(form.Procedure), form.Task, expected, began, v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.newLockoutPage(form, problems)
	}
	return v.moveOn("/lockouts/"+string(id), "begun")
}

// The longest time a job may be expected to take, in hours: a winter has a
// lockout of its own, left overnight again and again.
const hoursMost = 31 * 24

// expected reads when the job should be done: a moment, or hours from its start.
func (v *visit) expected(form newLockoutForm, began time.Time, problems *plain.Problems) time.Time {
	if form.Until != "" {
		until, err := v.moment(form.Until)
		problems.Unless(err == nil && until.After(began) && until.Sub(began) <= hoursMost*time.Hour, "expected", "a day and time after the start, at most 31 days on, as 2026-03-02T17:30")
		return until
	}
	hours, err := strconv.ParseFloat(form.Hours, 64)
	ok := err == nil && hours > 0 && hours <= hoursMost
	problems.Unless(ok, "hours", "how many hours it should take: more than 0, at most %d", hoursMost)
	if !ok {
		return time.Time{}
	}
	return began.Add(time.Duration(math.Ceil(hours*3600)) * time.Second)
}

// happened is when what is reported was done: now, or earlier where a form says
// so because it was done by the printed placard.
func (v *visit) happened(typed string, problems *plain.Problems) (at time.Time, late bool) {
	if typed == "" {
		return v.now, false
	}
	at, err := v.moment(typed)
	problems.Unless(err == nil && !at.After(v.now), "happened", "a day and time that is past, as 2026-03-02T17:30; leave it empty for now")
	return at, true
}

var errMoment = errors.New("not a day and time")

// moment reads a day and time of day on the mill's clock.
func (v *visit) moment(typed string) (time.Time, error) {
	for _, layout := range []string{momentLayout, "2006-01-02T15:04:05", "2006-01-02 15:04"} {
		if at, err := time.ParseInLocation(layout, typed, v.zone); err == nil {
			return at.UTC(), nil
		}
	}
	return time.Time{}, errMoment
}

// momentLayout is how a browser sends a day and time of day.
const momentLayout = "2006-01-02T15:04"
