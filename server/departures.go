package server

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) departureRoutes() {
	s.get("/departures", signedIn, s.showDepartures)
	s.get("/departures/new", signedIn, s.showNewDeparture) // a fact is refused to nobody of the mill
	s.post("/departures/new", signedIn, s.enterDeparture)
	s.get("/departures/:id", signedIn, s.showDeparture)
	s.post("/departures/:id/close", supervisors, s.closeDeparture)
}

type departuresPage struct {
	*views.Frame
	Open, Closed []departureLine
	None         views.Empty
}

type departureLine struct {
	Href, What, Machine, By string
	About                   string // whose training or lock it is
	Happened                time.Time
	Open                    bool
}

func (s *Server) showDepartures(v *visit) error {
	open, err := v.desk.Departures(v.ctx(), true, mostOpen)
	if err != nil {
		return err
	}
	closed, err := v.desk.Departures(v.ctx(), false, mostClosed)
	if err != nil {
		return err
	}
	plant, names, err := v.plantAndNames()
	if err != nil {
		return err
	}
	page := departuresPage{Frame: v.frame("No departures open")}
	if len(open) > 0 {
		page.Title = plain.Say("Departures: %d open", len(open))
	}
	line := func(d checklists.Departure) departureLine {
		return departureLine{Href: "/departures/" + string(d.ID), What: page.Say(headline(checklists.Defect{What: d.What})), Machine: nameIn(plant, d.Equipment), By: names[d.By], Happened: d.Happened}
	}
	for _, d := range open {
		page.Open = append(page.Open, line(d))
	}
	for _, d := range closed {
		page.Closed = append(page.Closed, line(d))
	}
	page.None = page.EmptyList(page.T("Nothing against the rule is on record as open."), "", "")
	return v.show("departures", page, nil)
}

type newDeparturePage struct {
	*views.Frame
	Submission string
	Form       departureForm
	In         string // the lockout it happened in
	Machines   []views.Choice
}

// departureForm is what was typed; the day and time are on the mill's own clock.
type departureForm struct {
	What, Equipment, Lockout, Day, Time, Photo string

	Unexpected bool // something started or let go that nobody expected
}

func (s *Server) showNewDeparture(v *visit) error {
	now := v.now.In(v.zone)
	return v.newDeparturePage(departureForm{Equipment: v.Query("equipment"), Lockout: v.Query("lockout"), Day: now.Format(time.DateOnly), Time: now.Format("15:04")}, nil)
}

func (v *visit) newDeparturePage(form departureForm, problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := newDeparturePage{Frame: v.frame("Enter what happened against the rule"), Submission: store.NewID(), Form: form}
	if form.Lockout != "" {
		l, err := v.desk.Lockout(v.ctx(), procedures.LockoutID(form.Lockout))
		if err != nil {
			return err
		}
		page.In = page.T("In the lockout: %[1]s, %[2]s", l.Procedure.Title, l.Task)
	}
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	page.Problems = problems
	for _, e := range plant {
		name := e.Name
		if e.Kind == procedures.Site {
			name = page.T("The whole mill")
		}
		page.Machines = append(page.Machines, views.Choice{Value: string(e.ID), Text: name})
	}
	return v.show("departure-new", page, problems)
}

func (s *Server) enterDeparture(v *visit) error {
	form := departureForm{What: v.typed("what"), Equipment: v.typed("equipment"), Lockout: v.typed("lockout"), Day: v.typed("happened"), Time: v.typed("time"), Unexpected: v.typed("unexpected") == "yes"}
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
		return v.newDeparturePage(form, problems)
	}
	d := checklists.Departure{Equipment: procedures.EquipmentID(form.Equipment), What: form.What, Happened: happened.UTC(), Photo: photo, Unexpected: form.Unexpected, Lockout: procedures.LockoutID(form.Lockout)}
	if d.Lockout != "" {
		if _, err := v.desk.Lockout(v.ctx(), d.Lockout); err != nil {
			return err
		}
	}
	id, err := v.desk.EnterDeparture(v.ctx(), v.submission(), d, v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.newDeparturePage(form, problems)
	}
	return v.moveOn("/departures/"+string(id), "departure")
}

type departurePage struct {
	*views.Frame
	D          checklists.Departure
	Machine    string
	By, Closer string
	Photo      string
	History    []store.Entry // its entries, oldest first
	Submission string
	Reason     string
	MayClose   bool
}

func (s *Server) showDeparture(v *visit) error { return v.departurePage("", nil) }

func (v *visit) departurePage(reason string, problems plain.Problems) error {
	d, err := v.desk.Departure(v.ctx(), checklists.DepartureID(v.Params("id")))
	if err != nil {
		return err
	}
	plant, names, err := v.plantAndNames()
	if err != nil {
		return err
	}
	machine := nameIn(plant, d.Equipment)
	page := departurePage{Frame: v.frame("%s: open, holds %s", headline(checklists.Defect{What: d.What}), machine), D: d, Machine: machine,
		By: names[d.By], Closer: names[d.ClosedBy], Photo: photoAddress(d.Photo), Submission: store.NewID(), Reason: reason, MayClose: d.Open() && v.person.Supervises()}
	if !d.Open() {
		page.Title = plain.Say("%s: closed with a reason", headline(checklists.Defect{What: d.What}))
	}
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	page.Problems = problems
	entries, _, err := v.desk.Entries(v.ctx(), store.Filter{Subject: string(d.ID), Limit: 2})
	if err != nil {
		return err
	}
	for i := len(entries) - 1; i >= 0; i-- {
		page.History = append(page.History, entries[i])
	}
	return v.show("departure", page, problems)
}

func (s *Server) closeDeparture(v *visit) error {
	id := checklists.DepartureID(v.Params("id"))
	if _, err := v.desk.Departure(v.ctx(), id); err != nil {
		return err
	}
	reason := v.typed("reason")
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		if problems, err = problemsOf(v.desk.CloseDeparture(v.ctx(), v.submission(), id, reason, v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.departurePage(reason, problems)
	}
	return v.moveOn("/departures/"+string(id), "closed")
}
