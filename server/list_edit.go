package server

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) listRoutes() {
	s.get("/lists/:id", signedIn, s.showList)
	s.get("/lists/:id/edit", supervisors, s.showListEdit)
	s.post("/lists/:id/edit", supervisors, s.editList)
}

// mostTyped bounds the measurements of an item that states no bound of its own;
// none at a saw is this large in any unit.
const mostTyped = 1_000_000

type listEditPage struct {
	*views.Frame
	ID         string
	Submission string
	Revision   int // of the draft as shown; 0: there is none yet
	InForce    int // version, 0 for none
	Head       []views.Field
	Items      []itemForm
}

// itemForm is one item of the list with its fields; Open unfolds it.
type itemForm struct {
	ID                checklists.ItemID
	Place, Of         int
	Prompt, How, Meta string
	Source            string
	Stops, NotFitted  bool
	Open              bool
	Fields            []views.Field
	Limits            []views.Field
	Most              string // beyond this a typed measurement is a slip of the hand
}

// First and Last tell whether it can move no further.
func (f itemForm) First() bool { return f.Place == 1 }
func (f itemForm) Last() bool  { return f.Place == f.Of }

// listForm is the whole list as typed: the form holds all of it, so that
// nothing typed depends on what is stored meanwhile.
type listForm struct {
	list     checklists.List
	limits   map[checklists.ItemID][3]string // low, high, stop at, as typed
	revision int
	open     checklists.ItemID // the item just added or moved
}

func (s *Server) showListEdit(v *visit) error {
	form, err := v.listToEdit()
	if err != nil {
		return err
	}
	form.open = checklists.ItemID(v.Query("item"))
	return v.listEditPage(form, nil)
}

// listToEdit is the draft, or the version in force when there is none.
func (v *visit) listToEdit() (listForm, error) {
	id := v.Params("id")
	form := listForm{limits: map[checklists.ItemID][3]string{}}
	draft, err := v.desk.Draft(v.ctx(), store.Lists, id)
	switch {
	case err == nil:
		form.revision = draft.Revision
		form.list, err = listIn(draft.Doc)
	case errors.Is(err, store.ErrNotFound):
		form.list, err = v.desk.List(v.ctx(), checklists.ListID(id), 0)
		form.list.Version, form.list.InForce = 0, time.Time{}
	}
	for _, item := range form.list.Items {
		form.limits[item.ID] = [3]string{boundTyped(item.Limits.Low), boundTyped(item.Limits.High), boundTyped(item.Limits.StopAt)}
	}
	return form, err
}

func boundTyped(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', -1, 64)
}

func (v *visit) listEditPage(form listForm, problems plain.Problems) error {
	l := form.list
	page := listEditPage{Frame: v.frame("Edit %s", l.Title), ID: v.Params("id"), Submission: store.NewID(), Revision: form.revision}
	page.Problems = problems
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	inForce, err := v.desk.Published(v.ctx(), store.Lists, page.ID, 0)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	page.InForce = inForce.Version
	title := plain.Say("%s", l.Title)
	if l.Title == "" {
		title = plain.Say("A list without a title")
	}
	switch {
	case form.revision == 0:
		page.Title = plain.Say("%[1]s: version %[2]d in force, no draft yet", title, page.InForce)
	case page.InForce == 0:
		page.Title = plain.Say("%s: a draft to read and publish", title)
	default:
		page.Title = plain.Say("%[1]s: draft of version %[2]d", title, page.InForce+1)
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page.fields(l)
	for i, item := range l.Items {
		page.Items = append(page.Items, page.item(item, i+1, len(l.Items), form, plant))
	}
	return v.show("list-edit", page, problems)
}

func (p *listEditPage) fields(l checklists.List) {
	var periods []views.Choice
	for _, every := range []checklists.Period{checklists.EachShift, checklists.EachDay, checklists.EachWeek, checklists.EachMonth, checklists.EachQuarter, checklists.EachYear} {
		periods = append(periods, views.Choice{Value: string(every), Text: p.Say(everyWords(every))})
	}
	p.Head = []views.Field{
		p.TextField("title", p.T("Title"), l.Title),
		p.ChoiceField("schedule", p.T("Due"), string(l.Schedule.Every), periods),
		p.TickField("holds", p.T("Holds the equipment of its items until it is done"), l.Schedule.Holds),
	}
}

func (p *listEditPage) item(item checklists.Item, place, of int, form listForm, plant procedures.Plant) itemForm {
	name := "items." + string(item.ID) + "."
	typed := form.limits[item.ID]
	f := itemForm{ID: item.ID, Place: place, Of: of, Prompt: item.Prompt, How: item.How, Source: item.Source, Most: boundTyped(&item.Limits.Most), Stops: item.Severity == checklists.Stop, NotFitted: item.NotFitted,
		Meta: p.T("%[1]s · %[2]s", stateWords(item.State), item.Station), Open: form.open == item.ID && form.open != ""}
	for _, one := range p.Problems {
		f.Open = f.Open || strings.HasPrefix(one.Field, name)
	}
	var states, equipment []views.Choice
	for _, state := range machineStates() {
		states = append(states, views.Choice{Value: string(state), Text: p.Say(stateWords(state))})
	}
	for _, e := range plant {
		equipment = append(equipment, views.Choice{Value: string(e.ID), Text: e.Name})
	}
	f.Fields = []views.Field{
		p.AreaField(name+"prompt", p.T("What to check"), item.Prompt),
		p.AreaField(name+"how", p.T("How"), item.How),
		p.ChoiceField(name+"severity", p.T("A defect here means"), string(item.Severity), []views.Choice{
			{Value: string(checklists.Stop), Text: p.T("Stop: may not run until mended and returned")},
			{Value: string(checklists.Mend), Text: p.T("Mend: may run with a stop-gap until a day")}}),
		p.TickField(name+"not_fitted", p.T("Not fitted here: isn't asked"), item.NotFitted),
		p.TextField(name+"source", p.T("Why: the clause, or: common practice, no source"), item.Source),
		p.ChoiceField(name+"state", p.T("Done while the machine is"), string(item.State), states),
		p.TextField(name+"station", p.T("Station: where one stands for it"), item.Station),
		p.ChoiceField(name+"equipment", p.T("Equipment it is about"), string(item.Equipment), equipment),
		p.ChoiceField(name+"kind", p.T("Answered by"), string(item.Kind), []views.Choice{{Value: string(checklists.Choice), Text: p.T("OK or defect")},
			{Value: string(checklists.Number), Text: p.T("A measurement")}, {Value: string(checklists.Text), Text: p.T("Words")}}),
		p.TickField(name+"defect_photo", p.T("A defect needs a photo"), item.DefectPhoto),
		p.TickField(name+"always_photo", p.T("Always needs a photo"), item.AlwaysPhoto),
	}
	f.Limits = []views.Field{
		p.TextField(name+"limits.unit", p.T("Unit"), item.Limits.Unit).WithHint(p.T("Such as in, psi or %")),
		p.TextField(name+"limits.low", p.T("Lowest value that is OK"), typed[0]),
		p.TextField(name+"limits.high", p.T("Highest value that is OK"), typed[1]),
		p.TickField(name+"limits.high_out", p.T("The highest value itself is out already"), item.Limits.HighOut),
		p.TextField(name+"limits.stop_at", p.T("From here on it is a stop, whatever is chosen above"), typed[2]),
		p.TickField(name+"limits.site_set", p.T("Start values: put in your maker's or your own"), item.Limits.SiteSet),
	}
	return f
}

// readListForm puts the list together from what was typed, and from that alone.
func (v *visit) readListForm() (listForm, plain.Problems) {
	var problems plain.Problems
	form := listForm{revision: -1, limits: map[checklists.ItemID][3]string{}}
	if n, err := strconv.Atoi(v.typed("revision")); err == nil && n >= 0 {
		form.revision = n
	}
	form.list = checklists.List{ID: checklists.ListID(v.Params("id")), Title: v.typed("title"),
		Schedule: checklists.Schedule{Every: checklists.Period(v.typed("schedule")), Holds: v.typed("holds") == "yes"}}
	for _, raw := range v.Context().PostArgs().PeekMulti("item") {
		id := checklists.ItemID(strings.TrimSpace(string(raw)))
		name := "items." + string(id) + "."
		item := checklists.Item{ID: id, Station: v.typed(name + "station"), Equipment: procedures.EquipmentID(v.typed(name + "equipment")), Prompt: v.typed(name + "prompt"),
			How: lines(v.typed(name + "how")), State: checklists.MachineState(v.typed(name + "state")), Kind: checklists.AnswerKind(v.typed(name + "kind")),
			Severity: checklists.Severity(v.typed(name + "severity")), DefectPhoto: v.typed(name+"defect_photo") == "yes", AlwaysPhoto: v.typed(name+"always_photo") == "yes",
			NotFitted: v.typed(name+"not_fitted") == "yes", Source: v.typed(name + "source")}
		typed := [3]string{v.typed(name + "limits.low"), v.typed(name + "limits.high"), v.typed(name + "limits.stop_at")}
		form.limits[id] = typed
		if item.Kind == checklists.Number {
			item.Limits = v.readLimits(name+"limits.", typed, &problems)
		}
		form.list.Items = append(form.list.Items, item)
	}
	return form, problems
}

func (v *visit) readLimits(name string, typed [3]string, problems *plain.Problems) checklists.Limits {
	limits := checklists.Limits{Unit: v.typed(name + "unit"), HighOut: v.typed(name+"high_out") == "yes", SiteSet: v.typed(name+"site_set") == "yes", Most: mostTyped}
	if most, err := checklists.ParseNumber(v.typed(name + "most")); err == nil && most > 0 {
		limits.Most = most
	}
	for i, bound := range []**float64{&limits.Low, &limits.High, &limits.StopAt} {
		if typed[i] == "" {
			continue
		}
		x, err := checklists.ParseNumber(typed[i])
		problems.At(name+[]string{"low", "high", "stop_at"}[i], err)
		*bound = &x
	}
	return limits
}

// lines are text as typed in several lines, the way a browser does not send them.
func lines(text string) string { return strings.ReplaceAll(text, "\r\n", "\n") }

// editList keeps the draft at every button, so that moving an item loses
// nothing typed elsewhere; without one it publishes.
func (s *Server) editList(v *visit) error {
	form, problems := v.readListForm()
	act, id, _ := strings.Cut(v.typed("do"), ".")
	item := checklists.ItemID(id)
	switch act {
	case "up":
		form.list, form.open = form.list.Moved(item, -1), item
	case "down":
		form.list, form.open = form.list.Moved(item, 1), item
	case "remove":
		form.list = form.list.Without(item)
	case "add":
		form.list, form.open = form.list.WithNew()
	}
	if _, err := v.listToEdit(); err != nil {
		return err // nothing under that id to edit
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	publish := act == ""
	if publish {
		if len(problems) == 0 {
			problems.Add("", form.list.Validate(plant))
		}
		wrong, err := v.sign()
		if err != nil {
			return err
		}
		problems = append(problems, wrong...)
	} else {
		problems.Add("", form.list.Draft())
	}
	if len(problems) > 0 {
		return v.listEditPage(form, problems)
	}
	draft, err := store.DraftOf(store.Lists, v.Params("id"), form.list.Title, form.list)
	if err != nil {
		return err
	}
	draft.Revision = form.revision
	if publish {
		err = v.desk.PublishDraft(v.ctx(), v.submission(), draft, v.person, v.now, nil)
	} else {
		err = v.desk.KeepDraft(v.ctx(), draft, v.now)
	}
	if err != nil {
		return v.listRefused(form, err)
	}
	if publish {
		return v.moveOn("/published", "published")
	}
	if form.open == "" {
		return v.moveOn("/lists/"+v.Params("id")+"/edit", "draft")
	}
	return v.Redirect("/lists/"+v.Params("id")+"/edit?done=draft&item="+string(form.open)+"#i-"+string(form.open), fiber.StatusSeeOther)
}

// listRefused shows the form again with what was typed. After somebody else's
// change it is taken to be against theirs, so that sending it once more goes.
func (v *visit) listRefused(form listForm, err error) error {
	problems, other := problemsOf(err)
	if other != nil {
		return other
	}
	if errors.Is(err, store.ErrChanged) {
		problems = plain.Problems{{Want: plain.Say("Somebody changed this list meanwhile. What you typed is still here, and sending it again puts it in place of theirs; to see theirs first, open the page anew.")}}
		now, err := v.listToEdit()
		if err != nil {
			return err
		}
		form.revision = now.revision
	}
	return v.listEditPage(form, problems)
}
