package server

import (
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type incidentPage struct {
	*views.Frame
	I          checklists.Incident
	Address    string
	Machine    string
	Kind, Harm plain.Sentence
	By, Closer string
	Photo      string
	Held       string // address of what holds the machine
	HeldSays   plain.Sentence
	ReportBy   time.Time // to the authorities, zero where no time is known here
	Clause     string
	Actions    []followLine
	Entries    []store.Entry // oldest first
	Submission string
	Form       actionForm
	Crew       []views.Choice
	Harms      []views.Choice
	HarmBy     string
	MayLearn   bool
	Act        string // "action", "close", "harm", or the id of an action to report
	MayAct     bool
	MayReport  bool
}

// actionForm is what was typed into the forms of an incident.
type actionForm struct{ What, Person, Due, Done, Reason, Harm, Known string }

type followLine struct {
	ID                  string
	What, Who, Done, By string
	Due, DoneAt         time.Time
	Open, Late          bool
}

func (s *Server) showIncident(v *visit) error {
	return v.incidentPage(v.Query("act"), actionForm{}, nil)
}

func (v *visit) incident() (checklists.Incident, error) {
	return v.desk.Incident(v.ctx(), checklists.IncidentID(v.Params("id")))
}

func (v *visit) incidentPage(act string, form actionForm, problems plain.Problems) error {
	i, err := v.incident()
	if err != nil {
		return err
	}
	plant, names, err := v.plantAndNames()
	if err != nil {
		return err
	}
	page := incidentPage{Frame: v.frame("%[1]s: %[2]s", kindOfIncident(i.Kind), inShort(i.What)), I: i, Address: "/incidents/" + string(i.ID), Machine: nameIn(plant, i.Equipment),
		Kind: kindOfIncident(i.Kind), Harm: harmWords(i.Harm), By: names[i.By], Closer: names[i.ClosedBy], Photo: photoAddress(i.Photo), Submission: store.NewID(),
		Form: form, Act: act, MayAct: i.Open() && v.person.Supervises(), MayReport: v.person.Works()}
	page.HarmBy, page.Harms = names[i.HarmBy], harmChoices(page.Frame, checklists.FirstAid)
	page.MayLearn = i.Kind == checklists.Hurt && v.person.Supervises()
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	page.Problems = problems
	page.ReportBy, page.Clause = i.ReportBy(procedures.Law(v.mill.SetUp.Law))
	if err := page.held(v); err != nil {
		return err
	}
	if err := page.follow(v, names); err != nil {
		return err
	}
	page.Entries, _, err = v.desk.Entries(v.ctx(), store.Filter{Subject: string(i.ID), Limit: mostActs})
	if err != nil {
		return err
	}
	slices.Reverse(page.Entries)
	return v.show("incident", page, problems)
}

// held says what holds the machine on account of the incident, and whether it
// still does.
func (p *incidentPage) held(v *visit) error {
	switch {
	case p.I.Defect != "":
		d, err := v.desk.Defect(v.ctx(), p.I.Defect)
		p.Held, p.HeldSays = "/defects/"+string(d.ID), defectState(d, p.Machine, v.now)
		return err
	case p.I.Departure != "":
		d, err := v.desk.Departure(v.ctx(), p.I.Departure)
		p.Held, p.HeldSays = "/departures/"+string(d.ID), plain.Say("departure, open, holds %s", p.Machine)
		if !d.Open() {
			p.HeldSays = plain.Say("departure, closed with a reason")
		}
		return err
	}
	p.HeldSays = plain.Say("nothing was held")
	return nil
}

// follow lists what is done after the incident.
func (p *incidentPage) follow(v *visit, names map[procedures.PersonID]string) error {
	actions, err := v.desk.IncidentActions(v.ctx(), p.I.ID)
	if err != nil {
		return err
	}
	for _, a := range actions {
		p.Actions = append(p.Actions, followLine{ID: string(a.ID), What: a.What, Who: names[a.Person], Done: a.Done, By: names[a.DoneBy], Due: a.Due, DoneAt: a.DoneAt,
			Open: a.Open(), Late: a.Overdue(v.now)})
	}
	people, err := v.desk.People(v.ctx())
	for _, one := range people {
		if one.Works() {
			p.Crew = append(p.Crew, views.Choice{Value: string(one.ID), Text: one.Name})
		}
	}
	return err
}

// followed ends an act after an incident: on to the incident, or the form again.
func (v *visit) followed(act string, form actionForm, done string, do func(id checklists.IncidentID) error) error {
	i, err := v.incident()
	if err != nil {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		if problems, err = problemsOf(do(i.ID)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.incidentPage(act, form, problems)
	}
	return v.moveOn("/incidents/"+string(i.ID), done)
}

func (s *Server) actAfterIncident(v *visit) error {
	form := actionForm{What: v.typed("action"), Person: v.typed("person"), Due: v.typed("due")}
	return v.followed("action", form, "action", func(id checklists.IncidentID) error {
		return v.desk.ActAfterIncident(v.ctx(), v.submission(), id, checklists.IncidentAction{What: form.What, Person: procedures.PersonID(form.Person), Due: endOfDay(form.Due, v.zone)}, v.person, v.now)
	})
}

func (s *Server) reportAction(v *visit) error {
	action, form := checklists.IncidentActionID(v.Params("action")), actionForm{Done: v.typed("done")}
	return v.followed(string(action), form, "action-done", func(id checklists.IncidentID) error {
		return v.desk.ReportIncidentAction(v.ctx(), v.submission(), id, action, form.Done, v.person, v.now)
	})
}

func (s *Server) learnHarm(v *visit) error {
	form := actionForm{Harm: v.typed("harm"), Known: v.typed("known")}
	return v.followed("harm", form, "harm", func(id checklists.IncidentID) error {
		known, err := v.moment(form.Known)
		if err != nil {
			return plain.Problems{{Field: "known", Want: plain.Say("the day and time as %s", "2026-03-02T17:30")}}
		}
		return v.desk.LearnHarm(v.ctx(), v.submission(), id, checklists.Harm(form.Harm), known, v.person, v.now)
	})
}

func (s *Server) closeIncident(v *visit) error {
	form := actionForm{Reason: v.typed("reason")}
	return v.followed("close", form, "closed", func(id checklists.IncidentID) error {
		return v.desk.CloseIncident(v.ctx(), v.submission(), id, form.Reason, v.person, v.now)
	})
}
