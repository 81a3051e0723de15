package server

import (
	"net/url"
	"slices"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) trainingRoutes() {
	s.get("/training", signedIn, s.showTraining)
	s.get("/training/new", supervisors, s.showNewTraining)
	s.post("/training/new", supervisors, s.enterTraining)
	s.get("/people/:id/training", signedIn, s.showTrainingOf)
}

type trainingPage struct {
	*views.Frame
	NoneEntered bool // the supervisor's word counts alone
	Own         bool // only the reader's own
	Edit        bool
	Owed        []owedLine
	People      []personColumn
	Rows        []trainingLine
	Affected    []owedLine
	NoAffected  bool // the program names nobody yet
	Untold      []owedLine
	Cautions    []plain.Sentence
}

// owedLine is what somebody lacks. Href leads to the form that enters it.
type owedLine struct {
	Who, What, Href string
	Gaps            []procedures.Gap
}

// owedPart is a list of such lines.
type owedPart struct {
	*views.Frame
	Lines []owedLine
	Edit  bool
}

// Lines is the part for some of them.
func (t trainingPage) Lines(lines []owedLine) owedPart { return owedPart{t.Frame, lines, t.Edit} }

// personColumn is one person of the table.
type personColumn struct {
	Name, Href   string
	Unauthorized bool // trained, and not recorded as authorized
}

// trainingLine is one procedure of the table, with a cell for each person.
type trainingLine struct {
	Title, Href string
	Cells       []trainingCell
}

// trainingCell is one person on one procedure.
type trainingCell struct {
	Name string
	Said plain.Sentence
	Owed bool
}

func (s *Server) showTraining(v *visit) error {
	state, err := v.desk.TrainingState(v.ctx())
	if err != nil {
		return err
	}
	page := trainingPage{Frame: v.frame("Training"), NoneEntered: len(state.Trainings) == 0, Edit: v.person.Supervises(),
		Own: !v.readsAll(), NoAffected: len(state.Program.Affected) == 0, Cautions: procedures.Cautions()}
	shown := func(p procedures.Person) bool { return p.Works() && (!page.Own || p.ID == v.person.ID) }
	for _, p := range state.People {
		if shown(p) {
			page.lockingOut(state, p, v.now)
			page.told(state, p, v.now)
		}
	}
	page.affected(state, shown, v.now)
	switch owed := len(page.Owed) + len(page.Affected) + len(page.Untold); {
	case page.NoneEntered:
		page.Title = plain.Say("No training entered: the supervisor's word counts until the first is")
	case owed == 0:
		page.Title = plain.Say("Training: nothing owed")
	default:
		page.Title = plain.Say("Training: %d things owed", owed)
	}
	return v.show("training", page, nil)
}

// readsAll tells whether the visitor may see what is kept of others: a
// supervisor, a deputy or a reader.
func (v *visit) readsAll() bool { return v.person.Supervises() || v.person.Role == procedures.Reader }

// trainFor is the address of the form, filled in for what is owed.
func trainFor(level procedures.Level, who procedures.PersonID, on ...procedures.ProcedureID) string {
	query := url.Values{"next": {"yes"}, "level": {string(level)}, "person": {string(who)}}
	for _, id := range on {
		query.Add("procedure", string(id))
	}
	return "/training/new?" + query.Encode()
}

// lockingOut adds p's column to the table, if p locks out or was trained to.
func (t *trainingPage) lockingOut(state store.TrainingState, p procedures.Person, now time.Time) {
	trained := slices.ContainsFunc(state.Procedures, func(on procedures.Procedure) bool {
		_, _, ok := state.Learned(p.ID, on.ID).Newest(on.ID, now)
		return ok
	})
	if !p.Authorized && !trained {
		return
	}
	t.People = append(t.People, personColumn{Name: p.Name, Href: "/people/" + string(p.ID) + "/training", Unauthorized: !p.Authorized})
	if len(t.Rows) == 0 {
		for _, on := range state.Procedures {
			t.Rows = append(t.Rows, trainingLine{Title: on.Title, Href: "/procedures/" + string(on.ID)})
		}
	}
	var all []procedures.ProcedureID
	for i, on := range state.Procedures {
		all = append(all, on.ID)
		learned := state.Learned(p.ID, on.ID)
		newest, version, ok := learned.Newest(on.ID, now)
		cell := trainingCell{Name: p.Name, Said: plain.Say("not trained")}
		if gaps := learned.Gaps(on, now); ok && len(gaps) > 0 {
			cell.Said, cell.Owed = plain.Say("owed"), true
			t.Owed = append(t.Owed, owedLine{Who: p.Name, What: on.Title, Gaps: gaps, Href: trainFor(procedures.AuthorizedLevel, p.ID, on.ID)})
		} else if ok {
			cell.Said = plain.Say("version %[1]d, %[2]s", version, plain.Say("%s", t.Day(newest.On)))
		}
		t.Rows[i].Cells = append(t.Rows[i].Cells, cell)
	}
	if !trained && !t.NoneEntered && len(all) > 0 {
		t.Owed = append(t.Owed, owedLine{Who: p.Name, Href: trainFor(procedures.AuthorizedLevel, p.ID, all...), Gaps: []procedures.Gap{
			{Why: plain.Say("recorded as authorized and trained on no procedure: may begin none"), Clause: procedures.Clause("(c)(7)(i)(A)")}}})
	}
}

// told notes who was told of lockout at no level.
func (t *trainingPage) told(state store.TrainingState, p procedures.Person, now time.Time) {
	if p.Authorized || t.NoneEntered || procedures.MayBePresent(p.ID, state.Trainings, now) {
		return
	}
	t.Untold = append(t.Untold, owedLine{Who: p.Name, Href: trainFor(procedures.OtherLevel, p.ID), Gaps: []procedures.Gap{
		{Why: plain.Say("not told yet what lockout is, and never to start what is locked"), Clause: procedures.Clause("(c)(7)(i)(C)")}}})
}

func (t *trainingPage) affected(state store.TrainingState, shown func(procedures.Person) bool, now time.Time) {
	for _, a := range state.Program.Affected {
		for _, gap := range procedures.AffectedGaps(a.Equipment, []procedures.Affected{a}, state.Procedures, state.Trainings, now) {
			at := slices.IndexFunc(state.People, func(p procedures.Person) bool { return p.ID == gap.Person })
			if at < 0 || !shown(state.People[at]) {
				continue
			}
			line := owedLine{Who: state.People[at].Name, Gaps: []procedures.Gap{gap.Gap}}
			var on []procedures.ProcedureID
			for _, p := range state.Procedures {
				if slices.Contains(p.Equipment, a.Equipment) {
					on, line.What = append(on, p.ID), p.Title
				}
			}
			line.Href = trainFor(procedures.AffectedLevel, gap.Person, on...)
			t.Affected = append(t.Affected, line)
		}
	}
}

// certificate is one training as it is shown and printed.
type certificate struct {
	procedures.Training
	On         string // the day
	Until      string // the first day it no longer counts, "" for none
	Over       bool
	Procedures []taughtLine
	Kinds      []plain.Sentence
	By         string
}

type taughtLine struct {
	Title   string
	Version int
}

// certificates are a person's trainings, the newest first.
func (v *visit) certificates(who procedures.PersonID, f *views.Frame) ([]certificate, error) {
	all, err := v.desk.Trainings(v.ctx())
	if err != nil {
		return nil, err
	}
	names, err := v.names()
	if err != nil {
		return nil, err
	}
	published, err := v.desk.InForce(v.ctx(), store.Procedures)
	if err != nil {
		return nil, err
	}
	titles := map[procedures.ProcedureID]string{}
	for _, p := range published {
		titles[procedures.ProcedureID(p.ID)] = p.Title
	}
	var own []certificate
	for _, t := range slices.Backward(all) {
		if t.Person != who {
			continue
		}
		one := certificate{Training: t, On: f.Day(t.On), By: names[t.By]}
		if !t.Expires.IsZero() {
			one.Until, one.Over = f.Day(t.Expires), !t.Expires.After(v.now)
		}
		for _, on := range t.Procedures {
			one.Procedures = append(one.Procedures, taughtLine{titles[on.Procedure], on.Version})
		}
		for _, kind := range t.EnergyKinds {
			one.Kinds = append(one.Kinds, kind.Words())
		}
		own = append(own, one)
	}
	return own, nil
}

type trainingOfPage struct {
	*views.Frame
	Name         string
	Authorized   bool
	NoneEntered  bool
	Certificates []certificate
	New          string // address of the form, "" where it isn't the visitor's to fill in
	Cautions     []plain.Sentence
}

func (s *Server) showTrainingOf(v *visit) error {
	id := procedures.PersonID(v.Params("id"))
	if !v.readsAll() && id != v.person.ID {
		return fiber.NewError(fiber.StatusForbidden, "You may see your own training. Ask a supervisor for that of others.")
	}
	p, err := v.desk.Person(v.ctx(), id)
	if err != nil {
		return err
	}
	page := trainingOfPage{Frame: v.frame("%s: training", p.Name), Name: p.Name, Authorized: p.Authorized, Cautions: procedures.Cautions()}
	if page.Certificates, err = v.certificates(id, page.Frame); err != nil {
		return err
	}
	if v.person.Supervises() && p.Works() {
		page.New = "/training/new?person=" + url.QueryEscape(string(id))
	}
	page.Title = plain.Say("%[1]s: trained %[2]d times", p.Name, len(page.Certificates))
	if len(page.Certificates) == 0 {
		page.Title = plain.Say("%s: no training entered", p.Name)
	}
	return v.show("training-of", page, nil)
}
