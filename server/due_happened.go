package server

import (
	"fmt"
	"slices"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/starters"
	"stillsaw/server/store"
	"stillsaw/views"
)

type happenedPage struct {
	*views.Frame
	Submission string
	Fields     []views.Field
	Hoist      bool
}

func (s *Server) showHappened(v *visit) error {
	return v.happenedPage(checklists.Event{Kind: checklists.EventKind(v.Query("kind")), Equipment: procedures.EquipmentID(v.Query("equipment"))}, "", nil)
}

func (v *visit) happenedPage(e checklists.Event, when string, problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := happenedPage{Frame: v.frame("Say what happened"), Submission: v.submission()}
	page.Problems = problems
	var kinds, machines []views.Choice
	for _, kind := range checklists.EventKinds() {
		if kind.Reported() {
			kinds = append(kinds, views.Offer(string(kind), page.Say(kind.Said())))
		}
	}
	for _, one := range plant {
		name := one.Name
		if one.Kind == procedures.Site {
			name = page.T("The whole mill")
		}
		page.Hoist = page.Hoist || one.Kind == procedures.Hoist
		machines = append(machines, views.Choice{Value: string(one.ID), Text: name})
	}
	page.Fields = []views.Field{
		page.ChoiceField("kind", page.T("What happened"), string(e.Kind), kinds),
		page.ChoiceField("equipment", page.T("Where"), string(e.Equipment), machines).AsList(),
		page.MomentField("happened", page.T("When"), when).WithHint(page.T("On the mill's clock; leave it empty for now.")),
		page.AreaField("note", page.T("More about it, if there is"), e.Note),
	}
	return v.show("due-happened", page, problems)
}

func (s *Server) reportHappened(v *visit) error {
	e := checklists.Event{Kind: checklists.EventKind(v.typed("kind")), Equipment: procedures.EquipmentID(v.typed("equipment")), Note: v.typed("note")}
	when := v.typed("happened")
	problems, err := v.signFact()
	if err != nil {
		return err
	}
	if when != "" {
		at, err := v.moment(when)
		problems.Unless(err == nil, "happened", "a day and time that is past, as 2026-03-02T17:30; leave it empty for now")
		e.Happened = at
	}
	if len(problems) == 0 {
		err = v.desk.ReportEvent(v.ctx(), v.submission(), e, v.person, v.now)
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.happenedPage(e, when, problems)
	}
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	if len(facts.AskedAfter(e, v.now)) == 0 {
		return v.moveOn("/due", "event-unasked")
	}
	return v.moveOn("/due", "event")
}

type startersPage struct {
	*views.Frame
	Submission string
	Lists      []starterLine
}

type starterLine struct {
	Title, Name string
	Every       plain.Sentence
	Items       int
}

// missingStarters are those the mill has neither in force nor as a draft.
func (v *visit) missingStarters() ([]checklists.List, error) {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return nil, err
	}
	published, err := v.desk.InForce(v.ctx(), store.Lists)
	if err != nil {
		return nil, err
	}
	drafts, err := v.desk.Drafts(v.ctx())
	if err != nil {
		return nil, err
	}
	var have []checklists.ListID
	for _, p := range published {
		have = append(have, checklists.ListID(p.ID))
	}
	for _, d := range drafts {
		if d.Sort == store.Lists {
			have = append(have, checklists.ListID(d.ID))
		}
	}
	words, err := starters.In(v.words.Lang())
	if err != nil {
		return nil, err
	}
	return words.Lists(checklists.MissingStarters(v.mill.SetUp, plant, have)), nil
}

func (s *Server) showStarters(v *visit) error { return v.startersPage(nil) }

func (v *visit) startersPage(problems plain.Problems) error {
	missing, err := v.missingStarters()
	if err != nil {
		return err
	}
	page := startersPage{Frame: v.frame("Every starter list is here already"), Submission: v.submission()}
	page.Problems = problems
	if len(missing) > 0 {
		page.Title = plain.Say("Starter lists not here yet: %d", len(missing))
	}
	for _, l := range missing {
		page.Lists = append(page.Lists, starterLine{Title: l.Title, Name: string(l.ID), Every: scheduleWords(l.Schedule), Items: len(l.Items)})
	}
	return v.show("due-starters", page, problems)
}

// addStarters keeps the ticked starters as drafts, each to be read and published.
func (s *Server) addStarters(v *visit) error {
	missing, err := v.missingStarters()
	if err != nil {
		return err
	}
	var ticked []string
	for _, name := range v.Context().PostArgs().PeekMulti("starter") {
		ticked = append(ticked, string(name))
	}
	if len(ticked) == 0 {
		return v.startersPage(plain.Problems{{Field: "starter", Want: plain.Say("tick the lists to begin with")}})
	}
	for _, l := range missing {
		if !slices.Contains(ticked, string(l.ID)) {
			continue
		}
		draft, err := store.DraftOf(store.Lists, string(l.ID), l.Title, l)
		if err != nil {
			return err
		}
		if err := v.desk.KeepDraft(v.ctx(), draft, v.now); err != nil {
			return fmt.Errorf("starter %s: %w", l.ID, err)
		}
	}
	return v.moveOn("/published", "starters")
}
