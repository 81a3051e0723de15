package server

import (
	"errors"
	"strconv"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) liftRoutes() {
	s.get("/lifts", signedIn, s.lifts)
	s.get("/lifts/new", crew, s.showLift)
	s.post("/lifts/new", crew, s.checkLift)
	s.post("/lifts/wait", crew, s.keepLiftWait)
	s.post("/lifts/wait/:id/over", crew, s.endLiftWait)
	s.get("/lifts/weighed", signedIn, s.weighedLifts)
	s.post("/lifts/weighed", supervisors, s.signLighter)
	s.get("/lifts/shock-load", crew, s.showShock)
	s.post("/lifts/shock-load", crew, s.reportShock)
	s.get("/lifts/:id/run", crew, s.showRun)
	s.post("/lifts/:id/run", crew, s.keepRun)
	s.post("/lifts/:id/weighed", crew, s.weighLift)
	s.get("/lifts/:id", signedIn, s.keptLift)
}

type liftPage struct {
	*views.Frame
	Form       liftForm
	Answer     *liftAnswer // nil before there is one
	RigName    string      // "" when no rig is in force
	RigVersion int
	Others     []views.Place // other rigs in force
	Links      []linkTick
	Asks       []askLine
	Grips      bool // end hooks: they sit at the ends and nowhere else
	Length     string
	Weight     string
	Cubic      string
	Square     string
	Density    string
	Bare       string // the unit of a bare number, in full
	Species    []views.Choice
	Lands      []views.Choice
	Hoists     []views.Choice // only where there is more than one
	Last       string         // a fresh form with the piece lifted last, "" for none
	Snows      []views.Choice
	Settings   []views.Choice // of the yoke, as marked on it
	TwoLengths bool           // the legs differ: hanging level is a placing of its own
	MoreWood   bool           // the rarely used fields about the wood are open
	MoreOnIt   bool           // and those about what lies on it
	Waiting    *liftWaiting   // typed without contact; nil: now
}

type linkTick struct {
	Field, Name string
	Ticked      bool
}

type askLine struct {
	Field, Said, Answer string
}

func (s *Server) showLift(v *visit) error {
	if id := v.Query("waiting"); id != "" {
		return v.showLiftWait(id)
	}
	r, err := v.rigOf(v.Query("rig"))
	if err != nil {
		return err
	}
	form := typedLift(func(field string) string { return v.Query(field) }, &r.rig)
	for i := range form.Answers { // nobody answers the questions at the hook by an address
		form.Answers[i] = ""
	}
	form.Setting = "" // nor sees by it how the yoke is set
	form.Submission, form.Signer = store.NewID(), ""
	if form.Condition == "" && form.Density == "" {
		form.Condition = lift.Green.String() // the heaviest of those that need no meter
	}
	return v.liftPage(form, r, nil, nil)
}

// rigInForce is a rig to lift with. Version 0: no rig is in force.
type rigInForce struct {
	id      string
	version int
	rig     lift.Rig
	others  []store.Publication
}

// rigOf finds the rig of that id among those in force; of none, the first.
func (v *visit) rigOf(id string) (rigInForce, error) {
	published, err := v.desk.InForce(v.ctx(), store.Rigs)
	if err != nil || len(published) == 0 {
		return rigInForce{}, err
	}
	chosen := published[0]
	for _, p := range published {
		if p.ID == id {
			chosen = p
		}
	}
	if id != "" && chosen.ID != id {
		return rigInForce{}, store.ErrNotFound
	}
	r := rigInForce{id: chosen.ID, version: chosen.Version}
	for _, p := range published {
		if p.ID != chosen.ID {
			r.others = append(r.others, p)
		}
	}
	r.rig, _, err = v.desk.Rig(v.ctx(), chosen.ID, chosen.Version)
	return r, err
}

func (v *visit) liftPage(form liftForm, r rigInForce, j *judged, problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := liftPage{Frame: v.frame("Check a lift"), Form: form, RigVersion: r.version, RigName: r.rig.Name}
	if page.Waiting, _, err = v.waitingLift(form.Waiting); err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	page.Problems = problems
	page.Form.Rig, page.Form.RigVersion = r.id, strconv.Itoa(r.version)
	for _, other := range r.others {
		page.Others = append(page.Others, views.Place{Href: "/lifts/new?rig=" + other.ID, Text: plain.Say("%s", other.Title)})
	}
	for i, link := range r.rig.Links {
		page.Links = append(page.Links, linkTick{unreadable(&link, i), link.Name, form.Unreadable[i]})
	}
	for i, q := range r.rig.Asks() {
		page.Asks = append(page.Asks, askLine{q.Field, page.Say(q.Said), form.Answers[i]})
		page.Grips = page.Grips || q.Field == "seated"
	}
	page.settings(&r.rig)
	if page.Last, err = v.lastAgain(); err != nil {
		return err
	}
	page.choices(plant, v.typedIn, v.mill.SawnHere())
	page.MoreWood, page.MoreOnIt = rare(problems, form.rareWood()), rare(problems, form.rareOnIt())
	if j != nil {
		page.Title = liftTitle(j)
		page.Answer = answerTo(page.Frame, j, "")
		page.Answer.remedy(&j.Lift)
		hoist := hoistOf(plant, form.Hoist)
		covered, ok, err := v.coveredBy(j, store.Lift{Rig: r.id, RigVersion: r.version, Hoist: hoist, LandsOn: procedures.EquipmentID(form.Lands)})
		if err != nil {
			return err
		}
		if ok {
			page.Answer.Covered = &covered
		}
		if page.Answer.Signer = form.Signer; page.Answer.Sign {
			if page.Answer.Signers, err = v.whoSigns(); err != nil {
				return err
			}
		}
	}
	return v.show("lift-new", page, problems)
}

// settings offers those marked on the yoke. None is chosen beforehand: it is what
// somebody sees there now.
func (p *liftPage) settings(rig *lift.Rig) {
	p.TwoLengths = rig.SecondLeg > 0
	for _, s := range rig.Settings {
		second := s.SecondLeg
		if second == 0 {
			second = s.LegLength
		}
		text := p.T("%[1]s: yoke %[2]s, legs %[3]s", s.Name, plain.Metres(s.YokeWidth), plain.Metres(s.LegLength))
		if second != s.LegLength {
			p.TwoLengths = true
			text = p.T("%[1]s: yoke %[2]s, legs %[3]s and %[4]s", s.Name, plain.Metres(s.YokeWidth), plain.Metres(s.LegLength), plain.Metres(second))
		}
		p.Settings = append(p.Settings, views.Choice{Value: s.Name, Text: text})
	}
}

func (p *liftPage) choices(plant procedures.Plant, in measures, sawn []lift.Species) {
	p.Length, p.Weight, p.Square, p.Cubic, p.Density, p.Bare = p.T("mm"), p.T("kg"), p.T("m²"), p.T("m³"), p.T("kg/m³"), p.T("millimetres")
	if in.units == checklists.InchPound {
		p.Length, p.Weight, p.Square, p.Cubic, p.Density, p.Bare = p.T("in"), p.T("lb"), p.T("ft²"), p.T("ft³"), p.T("lb/ft³"), p.T("inches")
	}
	p.Snows = []views.Choice{{Value: lift.FreshSnow.String(), Text: p.T("Fresh")}, {Value: lift.SettledSnow.String(), Text: p.T("Settled")},
		{Value: lift.LateSnow.String(), Text: p.T("Late, wet")}, {Value: lift.SnowUnknown.String(), Text: p.T("Not known")}}
	p.Species = []views.Choice{{Value: unknownSpecies, Text: p.T("Nobody knows: take the heaviest")}}
	p.Species = append(p.Species, kindChoices(p.Frame, sawn)...)
	var site []views.Choice
	for _, e := range plant {
		choice := views.Choice{Value: string(e.ID), Text: e.Name}
		switch e.Kind {
		case procedures.Hoist:
			p.Hoists = append(p.Hoists, choice)
		case procedures.Site:
			choice.Text = p.T("Somewhere else: floor, deck or stack")
			site = append(site, choice)
		default:
			if landing(plant, e.ID) {
				p.Lands = append(p.Lands, choice)
			}
		}
	}
	p.Lands = append(p.Lands, site...)
	if len(p.Hoists) == 1 {
		p.Hoists = nil
	}
}

// landing tells whether a hoist of the plant is said to set loads down on id.
func landing(plant procedures.Plant, id procedures.EquipmentID) bool {
	for _, e := range plant {
		for _, link := range e.Links {
			if link.Kind == procedures.LandsOn && link.To == id {
				return true
			}
		}
	}
	return false
}

// whoSigns are the people who may sign for more than the house margin.
func (v *visit) whoSigns() ([]views.Choice, error) {
	people, err := v.desk.People(v.ctx())
	var choices []views.Choice
	for _, p := range people {
		if p.Now(v.now).Supervises() {
			choices = append(choices, views.Choice{Value: string(p.ID), Text: p.Name})
		}
	}
	return choices, err
}

// liftSent is the form of a lift as it was sent, with the rig it is for; the
// problem is that no rig is in force.
func (v *visit) liftSent() (form liftForm, r rigInForce, problems plain.Problems, err error) {
	if r, err = v.rigOf(v.typed("rig")); err != nil {
		return form, r, nil, err
	}
	form = typedLift(v.typed, &r.rig)
	form.Submission = v.submission()
	problems.Unless(r.version != 0, "", "no rig is in force: a supervisor reads one and publishes it first")
	return form, r, problems, nil
}

func (s *Server) checkLift(v *visit) error {
	form, r, problems, err := v.liftSent()
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.liftPage(form, r, nil, problems)
	}
	l, problems := form.lift(r.rig, v.typedIn)
	problems.Unless(form.RigVersion == strconv.Itoa(r.version), "", "The rig was changed meanwhile. Look at its tags again; what you typed is still here.")
	facts, err := v.desk.LiftFacts(v.ctx(), r.id, v.now)
	if err != nil {
		return err
	}
	hoist, lands := hoistOf(facts.Plant, form.Hoist), procedures.EquipmentID(form.Lands)
	_, known := facts.Plant.Find(hoist)
	problems.Unless(known, "hoist", "choose the hoist")
	_, known = facts.Plant.Find(lands)
	problems.Unless(known, "lands", "choose where it is set down")
	if len(problems) > 0 {
		return v.liftPage(form, r, nil, problems)
	}
	j, err := judge(l, facts, hoist, lands, v.now)
	if err != nil {
		return err
	}
	if v.typed("keep") == "" {
		form.Submission = store.NewID() // what is kept after this is another act than what may have been sent before
		return v.liftPage(form, r, &j, nil)
	}
	return v.keepLift(form, r, j, hoist, lands)
}

// hoistOf is the hoist that was chosen, or the only one there is.
func hoistOf(plant procedures.Plant, typed string) procedures.EquipmentID {
	var hoists []procedures.EquipmentID
	for _, e := range plant {
		if e.Kind == procedures.Hoist {
			if string(e.ID) == typed {
				return e.ID
			}
			hoists = append(hoists, e.ID)
		}
	}
	if len(hoists) == 1 {
		return hoists[0]
	}
	return ""
}

func (v *visit) keepLift(form liftForm, r rigInForce, j judged, hoist, lands procedures.EquipmentID) error {
	signer, problems, err := v.signerOf(form, j)
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.liftPage(form, r, &j, problems)
	}
	kept := store.Lift{Rig: r.id, RigVersion: r.version, Hoist: hoist, LandsOn: lands}
	id, err := KeepLift(v.ctx(), v.desk, form.Submission, kept, j.Lift, signer, v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.liftPage(form, r, &j, problems)
	}
	if form.Waiting != "" {
		if _, err := problemsOf(v.desk.EndLiftWait(v.ctx(), form.Waiting, v.person)); err != nil {
			return err
		}
	}
	return v.moveOn("/lifts/"+id, "lift")
}

// signerOf proves the supervisor who signs for more than the house margin;
// nobody has to, and then the lift is kept as not allowed.
func (v *visit) signerOf(form liftForm, j judged) (procedures.PersonID, plain.Problems, error) {
	if form.Signer == "" || !j.Verdict.Go || !j.Verdict.NeedsSupervisor {
		return "", nil, nil
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return "", nil, err
	}
	for _, p := range people {
		if string(p.ID) == form.Signer && p.Now(v.now).Supervises() {
			proof, err := v.prove(p, v.FormValue("pin"))
			return p.ID, proof.problems, err
		}
	}
	return "", plain.Problems{{Field: "signer", Want: plain.Say("a supervisor or deputy of this mill")}}, nil
}
