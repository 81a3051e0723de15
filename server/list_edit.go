package server

import (
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) listRoutes() {
	s.get("/lists", signedIn, s.showLists)
	s.get("/lists/new", supervisors, s.showNewList)
	s.post("/lists/new", supervisors, s.newList)
	s.get("/lists/import", supervisors, s.showImport)
	s.post("/lists/import", supervisors, s.importList)
	s.get(listSchema, anyone, s.showListSchema)
	s.get("/lists/:id", signedIn, s.showList)
	s.get("/lists/:id/edit", supervisors, s.showListEdit)
	s.post("/lists/:id/edit", supervisors, s.editList)
	s.post("/lists/:id/discard", supervisors, s.discardList)
	s.post("/lists/:id/merge", supervisors, s.mergeList)
	s.get("/lists/:id/items/:item", supervisors, s.showListItem)
	s.post("/lists/:id/items/:item", supervisors, s.editListItem)
	s.get("/lists/:id/preview", signedIn, s.previewList)
	s.get("/lists/:id/compare", signedIn, s.compareList)
	s.get("/lists/:id/versions", signedIn, s.showVersions)
	s.get("/lists/:id/publish", supervisors, s.showListPublish)
	s.post("/lists/:id/publish", supervisors, s.publishList)
	s.get("/lists/:id/export", signedIn, s.exportList)
}

// listEditPage is the list in walking order with a button for each change; an
// item's own fields have a page of their own.
type listEditPage struct {
	*views.Frame
	ID             string
	Revision, Over int
	InForce        int // version, 0 for none
	Saved          plain.Sentence
	Head           []views.Field
	Schedule       []views.Field
	People         views.TickGroup
	Role           views.Field
	HeadOpen       bool
	Items          int
	Problem        string
	States         []editState
	NewName        views.Field
	NewEquipment   views.Field
}

type editState struct {
	Name     string
	Stations []editStation
}

// editStation is the items of one section that are done in one state.
type editStation struct {
	Name, At    string // At: its number among the list's sections
	Items       []editItem
	Rename      views.Field
	Merge       *views.Field
	First, Last bool
}

type editItem struct {
	ID                    checklists.ItemID
	Href, Prompt          string
	Said                  []plain.Sentence // what kind of item it is
	Stops, NotFitted      bool
	Wrong                 string
	First, Last, Open     bool
	Into                  *views.Field
	Split                 views.Field
	SplitsSection, Source string
}

func (s *Server) showListEdit(v *visit) error {
	d, err := v.listToEdit(v.Params("id"))
	if err != nil {
		return err
	}
	return v.listEditPage(d, checklists.ItemID(v.Query("item")), nil)
}

func (v *visit) listEditPage(d listDraft, open checklists.ItemID, problems plain.Problems) error {
	page := listEditPage{Frame: v.frame("Edit %s", d.list.Title), ID: v.Params("id"), Revision: d.revision, Over: d.over, Items: len(d.list.Items)}
	page.Problems = problems
	inForce, err := v.desk.ListInForce(v.ctx(), checklists.ListID(page.ID), v.now)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	page.InForce = inForce.Version
	title := plain.Say("%s", d.list.Title)
	if d.list.Title == "" {
		title = plain.Say("A list without a title")
	}
	switch {
	case d.revision == 0 && d.from.After(v.now):
		page.Title = plain.Say("%[1]s: version %[2]d comes into force %[3]s, no draft yet", title, d.over, d.from)
	case d.revision == 0:
		page.Title = plain.Say("%[1]s: version %[2]d in force, no draft yet", title, d.over)
	case d.over == 0:
		page.Title = plain.Say("%s: a draft to read and publish", title)
	default:
		page.Title = plain.Say("%[1]s: draft of version %[2]d", title, d.over+1)
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	if d.revision > 0 && d.by != "" {
		page.Saved = plain.Say("Saved by %[1]s %[2]s.", names[d.by], d.at)
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	var gaps plain.Problems
	gaps.Add("", d.list.Validate(plant))
	crew, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	page.head(v, d.list.Title, d.list.Schedule, crew)
	page.arrange(v, d.list, plant, gaps, open)
	page.NewName = page.TextField("section", page.T("Name of a new section: where one stands"), v.typed("section"))
	page.NewEquipment = page.ChoiceField("section-equipment", page.T("Equipment it is about"), v.typed("section-equipment"), equipmentChoices(plant)).AsList()
	return v.show("list-edit", page, problems)
}

func equipmentChoices(plant procedures.Plant) (choices []views.Choice) {
	for _, e := range plant {
		choices = append(choices, views.Choice{Value: string(e.ID), Text: e.Name})
	}
	return choices
}

func (p *listEditPage) head(v *visit, title string, s checklists.Schedule, crew []procedures.Person) {
	var periods []views.Choice
	for _, every := range []checklists.Period{checklists.EachShift, checklists.EachDay, checklists.EachWeek, checklists.EachMonth, checklists.EachQuarter, checklists.EachYear, checklists.AfterDays, checklists.AfterHours, checklists.OnEvent} {
		periods = append(periods, views.Offer(string(every), p.Say(every.Said())))
	}
	holds := "none"
	switch {
	case s.HoldsLate:
		holds = "late"
	case s.Holds:
		holds = "due"
	}
	p.Head = []views.Field{
		p.TextField("title", p.T("Title"), title),
		p.ChoiceField("schedule", p.T("Due"), string(s.Every), periods),
		p.ChoiceField("holds", p.T("Holds the equipment of its items"), holds, []views.Choice{
			views.Offer("due", p.T("from when it is due until it is done")), views.Offer("late", p.T("only once it is late")), views.Offer("none", p.T("never"))}),
	}
	shownAs := func(field string, n float64) string {
		if typed := v.typed(field); typed != "" && len(p.Problems) > 0 {
			return typed
		}
		if n == 0 {
			return ""
		}
		return numeral(n)
	}
	p.Schedule = []views.Field{
		p.NumberField("schedule.days", p.T("Days since last done; for stood idle, how many days that is"), shownAs("schedule.days", float64(s.Days))),
		p.NumberField("schedule.hours", p.T("Running hours since last done"), shownAs("schedule.hours", s.Hours)),
		p.TextField("schedule.meter", p.T("The meter whose hours count"), string(s.Meter)),
		p.NumberField("schedule.grace", p.T("Grace before it is late: minutes of a shift, running hours, else days"), shownAs("schedule.grace", float64(s.Grace))),
	}
	for _, kind := range checklists.EventKinds() {
		p.Schedule = append(p.Schedule, p.TickField("on."+string(kind), p.T("Due when: %s", kind.Said()), slices.Contains(s.On, kind)))
	}
	var ticks []views.Tick
	for _, one := range crew {
		if named := slices.Contains(s.People, one.ID); one.Works() || named {
			ticks = append(ticks, views.Tick{Value: string(one.ID), Text: one.Name, Ticked: named})
		}
	}
	p.People = p.TicksField("schedule.people", p.T("Expected to do it; none: whoever the shift names"), ticks)
	p.Role = p.ChoiceField("schedule.role", p.T("Where the shift names nobody either"), string(s.Role), []views.Choice{
		views.Offer("", p.T("anyone of the crew")), views.Offer(string(procedures.Operator), p.T("an operator")), views.Offer(string(procedures.Supervisor), p.T("a supervisor"))})
	p.HeadOpen = title == "" || slices.ContainsFunc(p.Problems, func(one plain.Problem) bool { return one.Field != "section" && one.Field != "" })
	p.Problem = p.Frame.Problem("items")
}

// arrange puts the items in the order one walks them.
func (p *listEditPage) arrange(v *visit, l checklists.List, plant procedures.Plant, gaps plain.Problems, open checklists.ItemID) {
	sections := l.Sections()
	var names []views.Choice
	number := map[string]string{}
	for i, s := range sections {
		number[s.Name] = strconv.Itoa(i)
		names = append(names, views.Choice{Value: strconv.Itoa(i), Text: s.Name})
	}
	for _, item := range checklists.Walked(l.Items) {
		if n := len(p.States); n == 0 || p.States[n-1].Name != p.Say(stateWords(item.State)) {
			p.States = append(p.States, editState{Name: p.Say(stateWords(item.State))})
		}
		state := &p.States[len(p.States)-1]
		at := number[item.Station]
		if n := len(state.Stations); n == 0 || state.Stations[n-1].Name != item.Station {
			station := editStation{Name: item.Station, At: at, Rename: p.TextField("rename."+at, p.T("Another name"), item.Station), First: n == 0}
			if len(names) > 1 {
				others := slices.DeleteFunc(slices.Clone(names), func(c views.Choice) bool { return c.Value == at })
				merge := p.ChoiceField("merge."+at, p.T("Merge into"), "", others).AsList()
				station.Merge = &merge
			}
			state.Stations = append(state.Stations, station)
		}
		station := &state.Stations[len(state.Stations)-1]
		id := string(item.ID)
		line := editItem{ID: item.ID, Href: "/lists/" + p.ID + "/items/" + url.PathEscape(id), Prompt: item.Prompt, Stops: item.Severity == checklists.Stop, NotFitted: item.NotFitted,
			Source: item.Source, Open: open == item.ID, Said: itemSaid(item), First: len(station.Items) == 0, Split: p.TextField("split."+id, p.T("New section from here on, called"), "")}
		into := p.ChoiceField("into."+id, p.T("Section"), at, names).AsList()
		line.Into = &into
		for _, gap := range gaps {
			if wrongWith(plain.Problems{gap}, checklists.ItemID("items."+id)) {
				line.Wrong = p.Say(gap.Want)
				break
			}
		}
		station.Items = append(station.Items, line)
	}
	for i := range p.States {
		for j := range p.States[i].Stations {
			station := &p.States[i].Stations[j]
			station.Last = j == len(p.States[i].Stations)-1
			station.Items[len(station.Items)-1].Last = true
		}
	}
}

// itemSaid is what an item asks for, beside its words.
func itemSaid(item checklists.Item) []plain.Sentence {
	said := []plain.Sentence{item.Kind.Said()}
	if item.Kind == checklists.Number {
		if limits := item.Limits.Said(); !limits.Empty() {
			said = append(said, limits)
		}
	}
	if item.Repeat.Per != "" {
		said = append(said, item.Repeat.Said())
	}
	if item.When != (checklists.Condition{}) {
		said = append(said, item.When.Said())
	}
	return said
}

// editList does what a button asks to the list as it was seen, and keeps the
// draft. Where somebody saved meanwhile both are shown, item by item.
func (s *Server) editList(v *visit) error {
	seen, err := v.listAsSeen()
	if err != nil {
		return err
	}
	if seen.list.ID == "" {
		return v.tooOld()
	}
	versions, err := v.versionsOf(v.Params("id"))
	if err != nil {
		return err
	}
	mine, open, err := v.listActs(seen.list, versions)
	problems, err := problemsOf(err)
	if err != nil {
		return err
	}
	problems.Add("", mine.Draft())
	if len(problems) > 0 {
		seen.list.Title, seen.list.Schedule = mine.Title, mine.Schedule
		return v.listEditPage(seen, "", problems)
	}
	switch err := v.keepList(seen, mine); {
	case errors.Is(err, store.ErrChanged):
		return v.conflictPage(seen, mine)
	case err != nil:
		return err
	}
	return v.backToList(open, "draft")
}

// discardList takes the draft away; what is in force stays.
func (s *Server) discardList(v *visit) error {
	id := v.Params("id")
	seen := wholeOr(v.typed("revision"), -1)
	problems, err := problemsOf(v.desk.DiscardDraft(v.ctx(), store.Lists, id, seen, v.person))
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		now, err := v.listToEdit(id)
		if err != nil {
			return err
		}
		return v.listEditPage(now, "", problems)
	}
	return v.moveOn("/lists", "discarded")
}

func (v *visit) backToList(open checklists.ItemID, done string) error {
	to := "/lists/" + v.Params("id") + "/edit"
	if open != "" {
		to += fmt.Sprintf("?item=%s#i-%s", url.QueryEscape(string(open)), url.PathEscape(string(open)))
	}
	return v.moveOn(to, done)
}

// tooOld says that the page was made from a draft nobody knows any more.
func (v *visit) tooOld() error {
	now, err := v.listToEdit(v.Params("id"))
	if err != nil {
		return err
	}
	return v.listEditPage(now, "", plain.Problems{{Want: plain.Say("The draft has gone on so far since this page was made that they can't be told apart any more. This is how it stands now; do it once more.")}})
}

// listPath is an address of the list.
func listPath(c *fiber.Ctx, page string) string { return "/lists/" + c.Params("id") + "/" + page }
