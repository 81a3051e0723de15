package server

import (
	"errors"
	"strings"
	"time"
	"unicode"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// listsPage is every list of the mill, in force or being written.
type listsPage struct {
	*views.Frame
	Lists    []listLine
	MayWrite bool
	Empty    views.Empty
}

type listLine struct {
	ID, Title     string
	Version       int // in force, 0: none
	By            string
	At            time.Time
	Every         plain.Sentence
	Due           plain.Sentence
	Draft         bool
	DraftBy       string
	DraftAt       time.Time
	Coming        plain.Sentence
	Check, Begins bool
}

func (s *Server) showLists(v *visit) error {
	page := listsPage{Frame: v.frame("Lists"), MayWrite: v.person.Supervises()}
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	newest, err := v.desk.InForce(v.ctx(), store.Lists)
	if err != nil {
		return err
	}
	inForce, err := v.desk.ListsInForce(v.ctx(), v.now)
	if err != nil {
		return err
	}
	lines := map[string]*listLine{}
	var order []string
	for _, p := range newest {
		l, err := listIn(p.Doc)
		if err != nil {
			return err
		}
		lines[p.ID], order = &listLine{ID: p.ID, Title: p.Title, Every: scheduleWords(l.Schedule)}, append(order, p.ID)
		if l.InForce.After(v.now) {
			lines[p.ID].Coming = plain.Say("Version %[1]d comes into force %[2]s.", l.Version, l.InForce)
		}
	}
	for _, p := range inForce {
		line := lines[p.ID]
		line.Version, line.By, line.At, line.Title = p.Version, names[p.By], p.At, p.Title
	}
	for _, l := range facts.Lists {
		if line := lines[string(l.ID)]; line != nil {
			line.Every, line.Due, line.Begins = scheduleWords(l.Schedule), facts.Due(l, v.now).Said, v.person.Works()
		}
	}
	drafts, err := v.desk.Drafts(v.ctx())
	if err != nil {
		return err
	}
	for _, d := range drafts {
		if d.Sort != store.Lists {
			continue
		}
		line := lines[d.ID]
		if line == nil {
			line = &listLine{ID: d.ID, Title: d.Title}
			lines[d.ID], order = line, append(order, d.ID)
			if l, err := listIn(d.Doc); err == nil {
				line.Every = scheduleWords(l.Schedule)
			}
		}
		line.Draft, line.DraftAt = true, d.At
		saved, err := v.desk.Saved(v.ctx(), store.Lists, d.ID, d.Revision)
		if err == nil {
			line.DraftBy = names[saved.By]
		} else if !errors.Is(err, store.ErrNotFound) {
			return err
		}
	}
	drafting := 0
	for _, id := range order {
		page.Lists = append(page.Lists, *lines[id])
		if lines[id].Draft {
			drafting++
		}
	}
	page.Title = plain.Say("Lists in force: %[1]d, drafts: %[2]d", len(inForce), drafting)
	page.Empty = page.EmptyList(page.T("There is no list yet."), "", "")
	return v.show("lists", page, nil)
}

// newListPage begins a list: its title, and what it starts from.
type newListPage struct {
	*views.Frame
	Form []views.Field
}

func (s *Server) showNewList(v *visit) error { return v.newListPage(nil) }

func (v *visit) newListPage(problems plain.Problems) error {
	page := newListPage{Frame: v.frame("A new list")}
	page.Problems = problems
	published, err := v.desk.InForce(v.ctx(), store.Lists)
	if err != nil {
		return err
	}
	var from []views.Choice
	for _, p := range published {
		from = append(from, views.Choice{Value: p.ID, Text: p.Title})
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page.Form = []views.Field{
		page.TextField("title", page.T("Title"), v.typed("title")).Required(),
		page.ChoiceField("like", page.T("Begin with the items of this list; empty: with none"), v.typed("like"), from).AsList(),
		page.TextField("section", page.T("Else the first section: where one stands"), v.typed("section")),
		page.ChoiceField("equipment", page.T("Equipment it is about"), v.typed("equipment"), equipmentChoices(plant)).AsList(),
	}
	return v.show("list-new", page, problems)
}

func (s *Server) newList(v *visit) error {
	l := checklists.List{Title: v.typed("title"), Schedule: checklists.Schedule{Every: checklists.EachWeek}}
	var problems plain.Problems
	problems.Unless(l.Title != "", "title", "a title")
	var err error
	if like := v.typed("like"); like != "" {
		title := l.Title
		if l, err = v.desk.List(v.ctx(), checklists.ListID(like), 0); err != nil {
			return err
		}
		l = l.AsDraft()
		l.Title = title
	} else {
		with, _, wrong := l.WithSection(v.typed("section"), procedures.EquipmentID(v.typed("equipment")))
		problems.Add("", wrong)
		l = with
	}
	id, err := v.unusedList(l.Title)
	if err != nil {
		return err
	}
	l.ID = checklists.ListID(id)
	problems.Add("", l.Draft())
	if len(problems) > 0 {
		return v.newListPage(problems)
	}
	draft, err := store.DraftOf(store.Lists, id, l.Title, l)
	if err != nil {
		return err
	}
	err = v.desk.KeepList(v.ctx(), draft, 0, v.person, v.now)
	if errors.Is(err, store.ErrChanged) {
		return v.newListPage(plain.Problems{{Field: "title", Want: plain.Say("another title: somebody began a list of this name just now")}})
	}
	if err != nil {
		return err
	}
	return v.moveOn("/lists/"+id+"/edit", "draft")
}

// unusedList is an id made of the title that no list of the mill has.
func (v *visit) unusedList(title string) (string, error) {
	const longest = 40
	bare := strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			return unicode.ToLower(r)
		}
		return '-'
	}, title), "-")
	if len(bare) > longest {
		bare = strings.Trim(bare[:longest], "-")
	}
	if bare == "" {
		bare = "list"
	}
	taken := map[string]bool{"new": true, "import": true, "schema": true}
	published, err := v.desk.InForce(v.ctx(), store.Lists)
	if err != nil {
		return "", err
	}
	for _, p := range published {
		taken[p.ID] = true
	}
	drafts, err := v.desk.Drafts(v.ctx())
	if err != nil {
		return "", err
	}
	for _, d := range drafts {
		taken[d.ID] = taken[d.ID] || d.Sort == store.Lists
	}
	for n, id := 2, bare; ; n++ {
		if !taken[id] {
			return id, nil
		}
		id = bare + "-" + numeral(float64(n))
	}
}
