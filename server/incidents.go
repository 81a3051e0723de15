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

func (s *Server) incidentRoutes() {
	s.get("/incidents", signedIn, s.showIncidents)
	s.get("/incidents/new", signedIn, s.showNewIncident) // a fact is refused to nobody of the mill
	s.post("/incidents/new", signedIn, s.enterIncident)
	s.get("/incidents/:id", signedIn, s.showIncident)
	s.post("/incidents/:id/actions", supervisors, s.actAfterIncident)
	s.post("/incidents/:id/actions/:action", crew, s.reportAction)
	s.post("/incidents/:id/harm", supervisors, s.learnHarm)
	s.post("/incidents/:id/close", supervisors, s.closeIncident)
}

type incidentsPage struct {
	*views.Frame
	Open, Closed []incidentLine
	None         views.Empty
}

type incidentLine struct {
	Href, What, Machine, By string
	Kind                    plain.Sentence
	Happened                time.Time
}

// kindOfIncident names what came of what happened.
func kindOfIncident(kind checklists.IncidentKind) plain.Sentence {
	switch kind {
	case checklists.NearMiss:
		return plain.Say("Near miss")
	case checklists.Hurt:
		return plain.Say("Somebody hurt")
	case checklists.Damage:
		return plain.Say("Damage")
	}
	return plain.Say("not known")
}

// harmWords says how badly somebody was hurt.
func harmWords(harm checklists.Harm) plain.Sentence {
	switch harm {
	case checklists.FirstAid:
		return plain.Say("First aid at the mill")
	case checklists.Treated:
		return plain.Say("Treated by a doctor, not kept in")
	case checklists.Hospital:
		return plain.Say("Taken in by a hospital")
	case checklists.Amputation:
		return plain.Say("Lost a finger or another part")
	case checklists.EyeLost:
		return plain.Say("Lost an eye")
	case checklists.Death:
		return plain.Say("Died")
	}
	return plain.Say("Not known yet")
}

// harmChoices are the ways somebody may be hurt, from the least that is offered on.
func harmChoices(f *views.Frame, least checklists.Harm) []views.Choice {
	all := []checklists.Harm{checklists.HarmNotKnown, checklists.FirstAid, checklists.Treated, checklists.Hospital, checklists.Amputation, checklists.EyeLost, checklists.Death}
	var choices []views.Choice
	for _, harm := range all[slices.Index(all, least):] {
		choices = append(choices, views.Offer(string(harm), f.Say(harmWords(harm))))
	}
	return choices
}

func (s *Server) showIncidents(v *visit) error {
	open, err := v.desk.Incidents(v.ctx(), true, mostOpen)
	if err != nil {
		return err
	}
	closed, err := v.desk.Incidents(v.ctx(), false, mostClosed)
	if err != nil {
		return err
	}
	plant, names, err := v.plantAndNames()
	if err != nil {
		return err
	}
	page := incidentsPage{Frame: v.frame("No incidents open")}
	if len(open) > 0 {
		page.Title = plain.Say("Incidents: %d open", len(open))
	}
	line := func(i checklists.Incident) incidentLine {
		return incidentLine{Href: "/incidents/" + string(i.ID), What: page.Say(inShort(i.What)), Machine: nameIn(plant, i.Equipment), By: names[i.By], Kind: kindOfIncident(i.Kind), Happened: i.Happened}
	}
	for _, i := range open {
		page.Open = append(page.Open, line(i))
	}
	for _, i := range closed {
		page.Closed = append(page.Closed, line(i))
	}
	page.None = page.EmptyList(page.T("No incident is on record as open."), "", "")
	return v.show("incidents", page, nil)
}

// incidentHeadMost is how much of what happened stands in a heading: long enough
// for what it ends in, such as that nobody was hurt.
const incidentHeadMost = 160

// inShort is a text in a few words, for a heading.
func inShort(text string) plain.Sentence { return plain.Say("%s", shortened(text, incidentHeadMost)) }

// incidentForm is what was typed; the day and time are on the mill's own clock.
type incidentForm struct {
	Kind, Equipment, Where, What, Present, Harmed, Harm, Hold, Day, Time, Photo string
}

// holdChosen are the words of the form for how the equipment is held.
const (
	holdStop      = "stop"
	holdDeparture = "departure"
	holdNothing   = "nothing"
)

func (f incidentForm) holding() checklists.Holding {
	switch f.Hold {
	case holdDeparture:
		return checklists.HoldByDeparture
	case holdNothing:
		return checklists.HoldNothing
	}
	return checklists.HoldByStop
}

type newIncidentPage struct {
	*views.Frame
	Submission             string
	Form                   incidentForm
	Machines               []views.Choice
	Kinds, Harms, Holdings []views.Choice
}

func (s *Server) showNewIncident(v *visit) error {
	now := v.now.In(v.zone)
	return v.newIncidentPage(incidentForm{Equipment: v.Query("equipment"), Kind: v.Query("kind"), Hold: holdStop, Day: now.Format(time.DateOnly), Time: now.Format("15:04")}, nil)
}

func (v *visit) newIncidentPage(form incidentForm, problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := newIncidentPage{Frame: v.frame("Enter an incident or a near miss"), Submission: store.NewID(), Form: form}
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	page.Problems = problems
	for _, e := range plant {
		name := e.Name
		if e.Kind == procedures.Site {
			name = page.T("The whole mill, or away from the machines")
		}
		page.Machines = append(page.Machines, views.Choice{Value: string(e.ID), Text: name})
	}
	for _, kind := range []checklists.IncidentKind{checklists.NearMiss, checklists.Hurt, checklists.Damage} {
		page.Kinds = append(page.Kinds, views.Offer(string(kind), page.Say(kindOfIncident(kind))))
	}
	page.Harms = harmChoices(page.Frame, checklists.HarmNotKnown)
	page.Holdings = []views.Choice{{Value: holdStop, Text: page.T("Hold it until it is looked at and returned to service")},
		{Value: holdDeparture, Text: page.T("It was against the rule: hold it until the supervisor closes that")}, {Value: holdNothing, Text: page.T("Hold nothing")}}
	return v.show("incident-new", page, problems)
}

func (s *Server) enterIncident(v *visit) error {
	form := incidentForm{Kind: v.typed("kind"), Equipment: v.typed("equipment"), Where: v.typed("where"), What: v.typed("what"), Present: v.typed("present"),
		Harmed: v.typed("harmed"), Harm: v.typed("harm"), Hold: v.typed("hold"), Day: v.typed("happened"), Time: v.typed("time")}
	photo, problems, err := v.photoOrBefore("photo")
	if err != nil {
		return err
	}
	form.Photo = photo
	wrong, err := v.signFact()
	if err != nil {
		return err
	}
	happened, err := time.ParseInLocation(time.DateOnly+" 15:04", form.Day+" "+form.Time, v.zone)
	if err != nil {
		problems.Unless(false, "happened", "the day as 2026-03-02 and the time as 14:05")
	}
	if problems = append(problems, wrong...); len(problems) > 0 {
		return v.newIncidentPage(form, problems)
	}
	id, err := v.desk.EnterIncident(v.ctx(), v.submission(), checklists.Incident{Kind: checklists.IncidentKind(form.Kind), Equipment: procedures.EquipmentID(form.Equipment), Happened: happened.UTC(),
		Where: form.Where, What: form.What, Present: form.Present, Harmed: form.Harmed, Harm: checklists.Harm(form.Harm), Photo: photo}, form.holding(), v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.newIncidentPage(form, problems)
	}
	return v.moveOn("/incidents/"+string(id), "incident")
}
