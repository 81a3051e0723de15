package server

import (
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) contractorRoutes() {
	s.get("/contractors", signedIn, s.showContractors)
	s.get("/contractors/new", supervisors, s.showNewContractor)
	s.post("/contractors/new", supervisors, s.addContractor)
	s.get("/contractors/:id", supervisors, s.showContractor)
	s.post("/contractors/:id", supervisors, s.changeContractor)
}

type contractorsPage struct {
	*views.Frame
	Firms    []firmLine
	Edit     bool
	Cautions []plain.Sentence
}

// firmLine is one firm as the page shows it.
type firmLine struct {
	procedures.Contractor
	Edit      string // address of the form
	Given     string // the day, "" for not yet
	Seen      string
	People    []string // of that firm, who are entered here
	Told      []string // own people who were told
	Untold    []string // own people who work at the machines and weren't
	Exchanged bool
}

func (s *Server) showContractors(v *visit) error {
	firms, err := v.desk.Contractors(v.ctx())
	if err != nil {
		return err
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	program, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	page := contractorsPage{Frame: v.frame("Firms from outside"), Edit: v.person.Supervises(), Cautions: procedures.Cautions()}
	waiting := 0
	for _, c := range firms {
		line := page.firm(c, people, program)
		if !line.Exchanged {
			waiting++
		}
		page.Firms = append(page.Firms, line)
	}
	switch {
	case waiting > 0:
		page.Title = plain.Say("Firms from outside: %d without procedures exchanged", waiting)
	case len(firms) > 0:
		page.Title = plain.Say("Firms from outside: procedures exchanged")
	}
	return v.show("contractors", page, nil)
}

func (p contractorsPage) firm(c procedures.Contractor, people []procedures.Person, program procedures.Program) firmLine {
	line := firmLine{Contractor: c, Exchanged: !c.OursGiven.IsZero() && !c.TheirsSeen.IsZero()}
	if p.Edit {
		line.Edit = "/contractors/" + c.ID
	}
	if !c.OursGiven.IsZero() {
		line.Given = p.Day(c.OursGiven)
	}
	if !c.TheirsSeen.IsZero() {
		line.Seen = p.Day(c.TheirsSeen)
	}
	var untold []procedures.PersonID
	for _, a := range program.Affected {
		for _, gap := range c.BriefingGaps(a.Equipment, []procedures.Affected{a}) {
			untold = append(untold, gap.Person)
		}
	}
	for _, one := range people {
		of, known := procedures.FindContractor([]procedures.Contractor{c}, one.Firm)
		switch {
		case known && of.ID == c.ID && !one.Left:
			line.People = append(line.People, one.Name)
		case slices.Contains(c.Briefed, one.ID):
			line.Told = append(line.Told, one.Name)
		case slices.Contains(untold, one.ID) && !one.Left:
			line.Untold = append(line.Untold, one.Name)
		}
	}
	return line
}

// contractorForm is what was typed.
type contractorForm struct {
	Firm, OursGiven, TheirsSeen, Restrictions string
	Briefed                                   []string
}

type contractorPage struct {
	*views.Frame
	Submission string
	Seen       string
	Act        string
	Form       contractorForm
	Briefed    views.TickGroup
	Cautions   []plain.Sentence
}

func (s *Server) showNewContractor(v *visit) error {
	return v.contractorPage(procedures.Contractor{}, contractorForm{}, store.NewID(), "", nil)
}

func (v *visit) contractorPage(stored procedures.Contractor, form contractorForm, submission, seen string, problems plain.Problems) error {
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	page := contractorPage{Frame: v.frame("A firm from outside"), Submission: submission, Seen: seen, Act: "/contractors/new", Form: form, Cautions: procedures.Cautions()}
	page.Problems = problems
	if stored.ID != "" {
		page.Act = "/contractors/" + stored.ID
		page.Title = plain.Say("%s: a firm from outside", stored.Firm)
	}
	var own []views.Tick
	for _, p := range people {
		if p.Works() && p.Firm == "" {
			own = append(own, views.Tick{Value: string(p.ID), Text: p.Name, Ticked: slices.Contains(form.Briefed, string(p.ID))})
		}
	}
	page.Briefed = page.TicksField("briefed", page.T("Our people who were told what it asks of them"), own)
	return v.show("contractor", page, problems)
}

func (v *visit) typedContractor() contractorForm {
	return contractorForm{Firm: v.typed("firm"), OursGiven: v.typed("ours_given"), TheirsSeen: v.typed("theirs_seen"), Restrictions: v.typed("restrictions"), Briefed: v.chosen("briefed")}
}

// contractor is the form as a firm.
func (v *visit) contractor(form contractorForm, problems *plain.Problems) procedures.Contractor {
	c := procedures.Contractor{Firm: form.Firm, Restrictions: form.Restrictions, OursGiven: v.dayTyped("ours_given", problems), TheirsSeen: v.dayTyped("theirs_seen", problems)}
	for _, id := range form.Briefed {
		c.Briefed = append(c.Briefed, procedures.PersonID(id))
	}
	return c
}

func (s *Server) addContractor(v *visit) error {
	form := v.typedContractor()
	var problems plain.Problems
	c := v.contractor(form, &problems)
	problems, err := v.signedToo(problems)
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		_, err := v.desk.KeepContractor(v.ctx(), v.submission(), c, v.person, v.now)
		if err == nil {
			return v.moveOn("/contractors", "contractor")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.contractorPage(procedures.Contractor{}, form, v.submission(), "", problems)
}

// firm finds the firm the address names.
func (v *visit) firm() (procedures.Contractor, error) {
	firms, err := v.desk.Contractors(v.ctx())
	if err != nil {
		return procedures.Contractor{}, err
	}
	at := slices.IndexFunc(firms, func(c procedures.Contractor) bool { return c.ID == v.Params("id") })
	if at < 0 {
		return procedures.Contractor{}, store.ErrNotFound
	}
	return firms[at], nil
}

func (s *Server) showContractor(v *visit) error {
	stored, err := v.firm()
	if err != nil {
		return err
	}
	form := contractorForm{Firm: stored.Firm, OursGiven: v.dayText(stored.OursGiven), TheirsSeen: v.dayText(stored.TheirsSeen), Restrictions: stored.Restrictions}
	for _, id := range stored.Briefed {
		form.Briefed = append(form.Briefed, string(id))
	}
	return v.contractorPage(stored, form, store.NewID(), store.Mark(stored), nil)
}

func (s *Server) changeContractor(v *visit) error {
	stored, err := v.firm()
	if err != nil {
		return err
	}
	form := v.typedContractor()
	var problems plain.Problems
	c := v.contractor(form, &problems)
	c.ID = stored.ID
	if problems, err = v.signedToo(problems); err != nil {
		return err
	}
	if len(problems) == 0 {
		_, err := v.desk.EditContractor(v.ctx(), v.submission(), v.since(), c, v.person, v.now)
		if err == nil {
			return v.moveOn("/contractors", "contractor")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.again(problems, stands{store.KindContractor, stored.ID, store.Mark(stored), func() error { return s.showContractor(v) }},
		func() error { return v.contractorPage(stored, form, v.submission(), v.typed("seen"), problems) })
}
