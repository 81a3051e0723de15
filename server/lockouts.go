package server

import (
	"slices"
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
	s.post("/lockouts/:id/:act", signedIn, s.reportLockout) // who only reads takes the own lock off
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
	Said plain.Sentence
	By   string
	Ends time.Time
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
		line := v.summary(l, names)
		if line.lockoutLine, err = v.lockoutStanding(l, names); err != nil {
			return err
		}
		at := len(page.Open)
		if !line.Danger.Empty() { // where nobody is protected comes first
			at = 0
		}
		page.Open = slices.Insert(page.Open, at, line)
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
	return lockoutSummary{lockoutLine: lockoutOn(l, names), Said: lockoutSaid(l, v.now), By: names[l.BegunBy()], Ends: l.Ended}
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
