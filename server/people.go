package server

import (
	"crypto/sha256"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) peopleRoutes() {
	s.get("/people", signedIn, s.showPeople)
	s.get("/people/new", supervisors, s.showNewPerson)
	s.post("/people/new", supervisors, s.addPerson)
	s.get("/people/me", signedIn, s.showOwnPIN)
	s.post("/people/me", signedIn, s.changeOwnPIN)
	s.get("/people/me/phones", signedIn, s.showSessions)
	s.post("/people/me/phones", signedIn, s.endSessions)
	s.get("/people/:id", supervisors, s.showPerson)
	s.post("/people/:id", supervisors, s.changePerson)
}

type peoplePage struct {
	*views.Frame
	Present []personLine
	Gone    []personLine
	Edit    bool
}

type personLine struct {
	Href, Name string
	May        []plain.Sentence
}

func (s *Server) showPeople(v *visit) error {
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	page := peoplePage{Frame: v.frame("People"), Edit: v.person.Supervises()}
	for _, p := range people {
		line := personLine{Href: "/people/" + string(p.ID), Name: v.called(p), May: v.mayNow(p)}
		if p.Left {
			page.Gone = append(page.Gone, line)
		} else {
			page.Present = append(page.Present, line)
		}
	}
	page.Title = plain.Say("People: %d at the mill", len(page.Present))
	return v.show("people", page, nil)
}

// mayNow is what a person may do now, and to those who keep people that
// somebody is under 18.
func (v *visit) mayNow(p procedures.Person) []plain.Sentence {
	may := personMay(p.Now(v.now))
	if v.person.Supervises() && p.UnderAge(v.now) {
		may = append(may, plain.Say("under 18"))
	}
	return may
}

type personPage struct {
	*views.Frame
	Submission string
	Seen       string
	Act        string
	New        bool
	Self       bool
	Left       bool // as stored
	Deputy     bool // who looks at it is one, and may change less
	Closed     bool // of a supervisor, to a deputy: nothing may be changed
	Secret     bool // a PIN or password may be set
	Form       procedures.Person
	Firms      []views.Choice // from outside; none while none is entered

	Days         personDays // as typed
	Lapses       []procedures.Lapse
	On           []lockLine    // own locks reported on
	Certificates []certificate // trainings, the newest first
	Drop         string        // address at which the name is dropped, "" for not now
}

// RoleChoices offers the roles.
func (p personPage) RoleChoices() []views.Choice {
	return []views.Choice{
		{Value: string(procedures.Operator), Text: p.T("Operator: checks, lifts, locks out, mends")},
		{Value: string(procedures.Supervisor), Text: p.T("Supervisor: also publishes, closes departures, keeps people and equipment")},
		{Value: string(procedures.Reader), Text: p.T("Reader: sees everything, signs nothing")},
	}
}

func (s *Server) showNewPerson(v *visit) error {
	return v.newPersonPage(procedures.Person{Role: procedures.Operator}, personDays{}, store.NewID(), nil)
}

func (v *visit) newPersonPage(form procedures.Person, days personDays, submission string, problems plain.Problems) error {
	if v.person.Role != procedures.Supervisor { // what a deputy may not give is neither offered nor carried along
		form = procedures.Person{Name: form.Name, Role: procedures.Operator, Minor: form.Minor}
	}
	page := personPage{Frame: v.frame("A new person"), Submission: submission, Act: "/people/new", New: true, Deputy: v.person.Role != procedures.Supervisor, Secret: true, Form: form, Days: days}
	page.Problems = problems
	if err := page.firms(v); err != nil {
		return err
	}
	return v.show("person", page, problems)
}

func (s *Server) addPerson(v *visit) error {
	p, days, problems := v.typedPerson()
	problems = append(problems, CheckSecret(p.Role, "password", v.FormValue("password"), v.newSecretNames(p)...)...)
	refused, err := v.keepPerson(p, problems, func(digest string) error {
		p.ID = procedures.PersonID(store.NewID())
		return v.desk.KeepPerson(v.ctx(), v.submission(), p, digest, v.person, v.now)
	})
	if err != nil {
		return err
	}
	if len(refused) > 0 {
		return v.newPersonPage(p, days, v.submission(), refused)
	}
	return v.moveOn("/people", "person")
}

func (s *Server) showPerson(v *visit) error {
	p, err := v.desk.Person(v.ctx(), procedures.PersonID(v.Params("id")))
	if err != nil {
		return err
	}
	return v.personPage(p, p, v.daysOf(p), store.NewID(), nil)
}

func (v *visit) personPage(stored, form procedures.Person, days personDays, submission string, problems plain.Problems) error {
	page := personPage{Frame: v.frame("%[1]s: %[2]s", v.called(stored), v.mayNow(stored)), Submission: submission, Seen: v.opened(store.Mark(stored)), Act: "/people/" + string(stored.ID),
		Self: stored.ID == v.person.ID, Left: stored.Left, Deputy: v.person.Role != procedures.Supervisor, Form: form, Days: days, Lapses: stored.Lapses(v.now)}
	if page.Deputy {
		page.Form = stored
		page.Form.Name, page.Form.Left = form.Name, form.Left
	}
	page.Closed = v.person.MayKeep(stored, stored, false) != nil
	page.Secret = v.person.MayKeep(stored, stored, true) == nil
	if stored.Left {
		if v.person.Role == procedures.Supervisor && stored.Name != "" {
			page.Drop = dropPath(store.Going{Person: stored.ID})
		}
		page.Title = plain.Say("%s has left the mill", v.called(stored))
	}
	page.Problems = problems
	if err := page.firms(v); err != nil {
		return err
	}
	var err error
	if page.Certificates, err = v.certificates(stored.ID, page.Frame); err != nil {
		return err
	}
	if page.On, err = v.locksOnOf(stored.ID); err != nil {
		return err
	}
	return v.show("person", page, problems)
}

// firms offers the firms from outside, and the one entered with the person.
func (p *personPage) firms(v *visit) error {
	all, err := v.desk.Contractors(v.ctx())
	if err != nil {
		return err
	}
	known := p.Form.Firm == ""
	p.Firms = []views.Choice{{Value: "", Text: p.T("This mill")}}
	for _, c := range all {
		p.Firms = append(p.Firms, views.Choice{Value: c.Firm, Text: c.Firm})
		known = known || c.Firm == p.Form.Firm
	}
	if !known {
		p.Firms = append(p.Firms, views.Choice{Value: p.Form.Firm, Text: p.Form.Firm})
	}
	if len(p.Firms) == 1 {
		p.Firms = nil
	}
	return nil
}

func (s *Server) changePerson(v *visit) error {
	stored, err := v.desk.Person(v.ctx(), procedures.PersonID(v.Params("id")))
	if err != nil {
		return err
	}
	p, days, problems := v.typedPerson()
	p.ID = stored.ID
	if v.person.Role != procedures.Supervisor { // not a deputy's to change, and not on a deputy's form
		p = p.With(stored)
	}
	if v.FormValue("password") != "" || p.Role == procedures.Supervisor && stored.Role != procedures.Supervisor {
		problems = append(problems, CheckSecret(p.Role, "password", v.FormValue("password"), v.newSecretNames(p)...)...)
	}
	refused, err := v.keepPerson(p, problems, func(digest string) error {
		return v.desk.EditPerson(v.ctx(), v.submission(), v.since(), p, digest, v.person, v.now)
	})
	if err != nil {
		return err
	}
	if len(refused) > 0 {
		return v.again(refused, stands{store.KindPerson, string(stored.ID), store.Mark(stored), func() error { return s.showPerson(v) }},
			func() error { return v.personPage(stored, p, days, v.submission(), refused) })
	}
	return v.moveOn("/people", "person")
}

func (v *visit) typedPerson() (procedures.Person, personDays, plain.Problems) {
	ticked := func(field string) bool { return v.typed(field) == "yes" }
	p := procedures.Person{Name: v.typed("name"), Role: procedures.Role(v.typed("role")), Deputy: ticked("deputy"), Authorized: ticked("authorized"),
		QualifiedElectrical: ticked("qualified_electrical"), QualifiedLifting: ticked("qualified_lifting"), Left: ticked("left"), Firm: v.typed("firm")}
	days, problems := v.typedDays(&p)
	return p, days, problems
}

// keepPerson checks what was typed, the new secret and the signature together,
// so that all problems show at once, and then keeps the person.
func (v *visit) keepPerson(p procedures.Person, secret plain.Problems, keep func(digest string) error) (plain.Problems, error) {
	var problems plain.Problems
	problems.Add("", p.Validate())
	problems = append(problems, secret...)
	password := v.FormValue("password")
	problems.Unless(password == v.FormValue("again"), "again", "the same once more")
	wrong, err := v.sign()
	if err != nil {
		return nil, err
	}
	if problems = append(problems, wrong...); len(problems) > 0 {
		return problems, nil
	}
	digest := ""
	if password != "" {
		if digest, err = Hash(password); err != nil {
			return nil, err
		}
	}
	if err := keep(digest); err != nil {
		return problemsOf(err)
	}
	return nil, nil
}

type ownPINPage struct {
	*views.Frame
	Submission string
}

func (s *Server) showOwnPIN(v *visit) error { return v.ownPINPage(store.NewID(), nil) }

func (v *visit) ownPINPage(submission string, problems plain.Problems) error {
	page := ownPINPage{Frame: v.frame("%s: a new PIN or password", v.person.Name), Submission: submission}
	page.Problems = problems
	return v.show("own-pin", page, problems)
}

func (s *Server) changeOwnPIN(v *visit) error {
	password := v.FormValue("password")
	problems := CheckSecret(v.person.Role, "password", password, v.newSecretNames(v.person)...)
	problems.Unless(password == v.FormValue("again"), "again", "the same once more")
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) > 0 {
		return v.ownPINPage(v.submission(), problems)
	}
	digest, err := Hash(password)
	if err != nil {
		return err
	}
	if err := v.desk.ResetPIN(v.ctx(), v.submission(), v.person.ID, digest, "by-owner", v.person.ID, v.now); err != nil {
		return err
	}
	if token, ok := tokenOf(v.Ctx); ok {
		if err := v.desk.CloseSession(v.ctx(), sha256.Sum256(token)); err != nil {
			return err
		}
	}
	return v.moveOn("/sign-in", "own-pin")
}
