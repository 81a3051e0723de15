package server

import (
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) safetyRoutes() {
	s.get("/safety/new", supervisors, s.showNewSafety)
	s.post("/safety/new", supervisors, s.keepSafety)
	s.get("/safety/:id", signedIn, s.showSafety)
	s.post("/safety/:id", crew, s.checkSafety)
	s.get("/safety/:id/edit", supervisors, s.showSafetyEdit)
	s.post("/safety/:id/edit", supervisors, s.keepSafety)
}

// safetyLine is one piece of safety equipment as a page shows it.
type safetyLine struct {
	checklists.SafetyItem
	Href  string
	Due   []checklists.SafetyDue
	Over  []checklists.SafetyDue
	Soon  []checklists.SafetyDue
	Wrong *safetyCheckLine
}

// safetyCheckLine is a look at one of them as a page shows it.
type safetyCheckLine struct {
	checklists.SafetyCheck
	By string
}

// Missed says what of its list was missing.
func (l safetyCheckLine) Missed() string { return strings.Join(l.Missing, ", ") }

func (v *visit) safetyLine(i checklists.SafetyItem, checks []checklists.SafetyCheck) safetyLine {
	line := safetyLine{SafetyItem: i, Href: "/safety/" + string(i.ID), Due: i.Due(checks, v.now, v.zone)}
	for _, d := range line.Due {
		switch {
		case d.Over:
			line.Over = append(line.Over, d)
		case d.Soon:
			line.Soon = append(line.Soon, d)
		}
	}
	if wrong, is := i.Wrong(checks); is && i.Retired.IsZero() {
		line.Wrong = &safetyCheckLine{SafetyCheck: wrong}
	}
	return line
}

// safetyForm is what was typed of one.
type safetyForm struct {
	Kind, Place, Serial, Size, Type, Made, Contents string
	Throw, Retire                                   bool
}

type safetyEditPage struct {
	*views.Frame
	Submission, Seen, Act, Back string
	New                         bool
	Form                        safetyForm
}

// Kinds offers what it can be.
func (p safetyEditPage) Kinds() []views.Choice {
	var all []views.Choice
	for _, kind := range checklists.SafetyKinds() {
		all = append(all, views.Offer(string(kind), p.Say(kind.Words())))
	}
	return all
}

// Types offers the rows of the table of extinguishers.
func (p safetyEditPage) Types() []views.Choice {
	all := []views.Choice{views.Offer("", p.T("no extinguisher"))}
	for _, row := range checklists.ExtinguisherRows() {
		all = append(all, views.Offer(string(row.Type), p.Say(row.Name)))
	}
	return all
}

func (s *Server) showNewSafety(v *visit) error {
	form := safetyForm{Kind: v.Query("kind")}
	if form.Kind == "" {
		form.Kind = string(checklists.ExtinguisherKind)
	}
	return v.safetyEditPage(checklists.SafetyItem{}, form, store.NewID(), "", nil)
}

func (s *Server) showSafetyEdit(v *visit) error {
	i, _, err := v.safetyItem()
	if err != nil {
		return err
	}
	form := safetyForm{Kind: string(i.Kind), Place: i.Place, Serial: i.Serial, Size: i.Size, Type: string(i.Type), Made: v.dayText(i.Made), Contents: strings.Join(i.Contents, "\n"), Throw: i.Throw}
	return v.safetyEditPage(i, form, store.NewID(), store.Mark(i), nil)
}

func (v *visit) safetyEditPage(stored checklists.SafetyItem, form safetyForm, submission, seen string, problems plain.Problems) error {
	page := safetyEditPage{Frame: v.frame("New safety equipment"), Submission: submission, Seen: seen, Act: "/safety/new", Back: "/registers", New: stored.ID == "", Form: form}
	page.Problems = problems
	if !page.New {
		page.Act, page.Back = "/safety/"+string(stored.ID)+"/edit", "/safety/"+string(stored.ID)
		page.Form.Kind = string(stored.Kind)
		page.Title = plain.Say("%[1]s, %[2]s: what stands of it", stored.Place, stored.Kind.Words())
	}
	return v.show("safety-edit", page, problems)
}

func (s *Server) keepSafety(v *visit) error {
	var stored checklists.SafetyItem
	if v.Params("id") != "" {
		var err error
		if stored, _, err = v.safetyItem(); err != nil {
			return err
		}
	}
	form := safetyForm{Kind: v.typed("kind"), Place: v.typed("place"), Serial: v.typed("serial"), Size: v.typed("size"), Type: v.typed("type"), Made: v.typed("made"), Contents: v.FormValue("contents"),
		Throw: v.typed("throw") == "yes", Retire: v.typed("retire") == "yes"}
	var problems plain.Problems
	i := checklists.SafetyItem{ID: stored.ID, Kind: checklists.SafetyKind(form.Kind), Place: form.Place, Serial: form.Serial, Size: form.Size, Type: checklists.ExtinguisherType(form.Type),
		Made: v.dayTyped("made", &problems), Throw: form.Throw, Contents: strings.Split(form.Contents, "\n")}
	if stored.ID != "" {
		i.Kind = stored.Kind
	}
	if form.Retire {
		i.Retired = v.now
	}
	problems, err := v.signedToo(problems)
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		id, err := v.desk.KeepSafetyItem(v.ctx(), v.submission(), v.since(), i, v.person, v.now)
		if err == nil {
			return v.moveOn("/safety/"+string(id), "safety")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.again(problems, stands{store.KindSafetyItem, string(stored.ID), store.Mark(stored), func() error { return s.showSafetyEdit(v) }},
		func() error { return v.safetyEditPage(stored, form, v.submission(), v.typed("seen"), problems) })
}

// safetyItem finds the one the address names, with every check.
func (v *visit) safetyItem() (checklists.SafetyItem, []checklists.SafetyCheck, error) {
	items, checks, err := v.desk.Safety(v.ctx())
	if err != nil {
		return checklists.SafetyItem{}, nil, err
	}
	at := slices.IndexFunc(items, func(i checklists.SafetyItem) bool { return string(i.ID) == v.Params("id") })
	if at < 0 {
		return checklists.SafetyItem{}, nil, store.ErrNotFound
	}
	return items[at], checks, nil
}

// lookForm is what was typed of a look.
type lookForm struct {
	Work, On, Right, Who, Note string
	Missing                    []string
}

type safetyPage struct {
	*views.Frame
	safetyLine
	Submission  string
	Form        lookForm
	Row         checklists.ExtinguisherRow
	History     []safetyCheckLine
	Missing     views.TickGroup
	Works, Edit bool
}

// WorkChoices offers what is done to it.
func (p safetyPage) WorkChoices() []views.Choice {
	var all []views.Choice
	for _, work := range p.SafetyItem.Works() {
		all = append(all, views.Offer(string(work), p.Say(work.Words())))
	}
	return all
}

// RightChoices offers what was found.
func (p safetyPage) RightChoices() []views.Choice {
	return []views.Choice{{Value: "yes", Text: p.T("Right: in its place, whole and ready")}, {Value: "no", Text: p.T("Not right")}}
}

func (s *Server) showSafety(v *visit) error {
	return v.safetyPage(lookForm{Work: string(checklists.SafetyLook), On: v.dayText(v.now)}, store.NewID(), nil)
}

func (v *visit) safetyPage(form lookForm, submission string, problems plain.Problems) error {
	i, checks, err := v.safetyItem()
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := safetyPage{Frame: v.frame("%[1]s, %[2]s: nothing is due", i.Place, i.Kind.Words()), safetyLine: v.safetyLine(i, checks), Submission: submission, Form: form,
		Works: v.person.Works() && i.Retired.IsZero(), Edit: v.person.Supervises() && i.Retired.IsZero()}
	page.Row, _ = i.Type.Row()
	page.Problems = problems
	switch {
	case !i.Retired.IsZero():
		page.Title = plain.Say("%[1]s, %[2]s: no longer there", i.Place, i.Kind.Words())
	case page.Wrong != nil:
		page.Title = plain.Say("%[1]s, %[2]s: not right", i.Place, i.Kind.Words())
	case len(page.Over) > 0:
		page.Title = plain.Say("%[1]s, %[2]s: %[3]d things overdue", i.Place, i.Kind.Words(), len(page.Over))
	}
	for _, c := range i.History(checks) {
		page.History = append(page.History, safetyCheckLine{c, names[c.By]})
	}
	var gone []views.Tick
	for _, one := range i.Contents {
		gone = append(gone, views.Tick{Value: one, Text: one, Ticked: slices.Contains(form.Missing, one)})
	}
	page.Missing = page.TicksField("missing", page.T("Missing, used up or out of date"), gone)
	return v.show("safety", page, problems)
}

func (s *Server) checkSafety(v *visit) error {
	i, _, err := v.safetyItem()
	if err != nil {
		return err
	}
	form := lookForm{Work: v.typed("work"), On: v.typed("on"), Right: v.typed("right"), Who: v.typed("who"), Note: v.typed("note"), Missing: v.chosen("missing")}
	var problems plain.Problems
	c := checklists.SafetyCheck{Item: i.ID, Work: checklists.SafetyWork(form.Work), On: v.dayTyped("on", &problems), Right: form.Right == "yes", Who: form.Who, Note: form.Note, Missing: form.Missing}
	problems.Unless(form.Right == "yes" || form.Right == "no", "right", "whether it was right")
	if problems, err = v.signedToo(problems); err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.CheckSafetyItem(v.ctx(), v.submission(), c, v.person, v.now)
		if err == nil {
			return v.moveOn("/safety/"+string(i.ID), "looked")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.safetyPage(form, v.submission(), problems)
}

// Last says when something was last done.
func (p safetyPage) Last(last time.Time) string {
	if last.IsZero() {
		return p.T("not entered")
	}
	return p.Day(last)
}
