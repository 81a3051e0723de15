package server

import (
	"errors"
	"net/url"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// mostTyped bounds the measurements of an item that states no bound of its own;
// none at a saw is this large in any unit.
const mostTyped = 1_000_000

// listItemPage is one item with all its fields, and beside them the item as the
// phone will show it.
type listItemPage struct {
	*views.Frame
	ID, Address    string
	Revision, Over int
	Item           checklists.ItemID
	What, Kind     []views.Field
	Choice, Number []views.Field
	Limits, Meter  []views.Field
	Who, Place     []views.Field
	Proof          []views.Field
	Repeat, When   []views.Field
	Picture        string // address
	Digest         string
	NewPicture     views.Field
	NoPicture      views.Field
	Second         views.Field
	Shown          []itemBox
	ShownWhen      plain.Sentence
}

// itemForm is one item as typed.
type itemForm struct {
	item  checklists.Item
	typed map[string]string // of what could be no number
}

func (s *Server) showListItem(v *visit) error {
	d, err := v.listToEdit(v.Params("id"))
	if err != nil {
		return err
	}
	item, known := d.list.Item(v.itemID())
	if !known || item.Nth > 0 {
		return store.ErrNotFound
	}
	return v.listItemPage(d, itemForm{item: item}, nil)
}

func (v *visit) itemID() checklists.ItemID {
	id, err := url.PathUnescape(v.Params("item"))
	if err != nil {
		return ""
	}
	return checklists.ItemID(id)
}

func (v *visit) listItemPage(d listDraft, form itemForm, problems plain.Problems) error {
	item := form.item
	page := listItemPage{Frame: v.frame("%[1]s: item %[2]s", d.list.Title, string(item.ID)), ID: v.Params("id"), Item: item.ID, Revision: d.revision, Over: d.over,
		Address: "/lists/" + v.Params("id") + "/items/" + url.PathEscape(string(item.ID)), Digest: item.Picture, Picture: photoAt(item.Picture)}
	page.Problems = problems
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	meters, err := v.metersNamed(d.list)
	if err != nil {
		return err
	}
	page.fields(d.list, form, facts.Plant, meters)
	alone := checklists.List{Items: []checklists.Item{item}}.Counted(facts.Mill.SetUp)
	alone.Items[0].NotFitted = false
	for _, one := range alone.Asks() {
		box := boxOf(page.Frame, one, typedAnswer{}, v.typedIn, v.mayBeNamed(facts))
		if one.Nth > 0 {
			box.under(page.Frame, one, page.Shown)
		}
		box.Answer.Frame = v.frame("") // the problems of the form are not those of the answer
		page.Shown = append(page.Shown, box)
	}
	if item.When != (checklists.Condition{}) {
		page.ShownWhen = item.When.Said()
	}
	return v.show("list-item", page, problems)
}

// metersNamed are the meters that lists of the mill read.
func (v *visit) metersNamed(l checklists.List) ([]string, error) {
	published, err := v.desk.InForce(v.ctx(), store.Lists)
	if err != nil {
		return nil, err
	}
	lists := []checklists.List{l}
	for _, p := range published {
		one, err := listIn(p.Doc)
		if err != nil {
			return nil, err
		}
		lists = append(lists, one)
	}
	var names []string
	for _, one := range lists {
		for _, item := range one.Items {
			if item.Meter != "" && !slices.Contains(names, string(item.Meter)) {
				names = append(names, string(item.Meter))
			}
		}
	}
	return names, nil
}

// itemKinds are the kinds an item can be answered by, with what a form calls them.
func itemKinds() []checklists.AnswerKind {
	return []checklists.AnswerKind{checklists.Choice, checklists.Number, checklists.Text, checklists.Photo, checklists.MeterReading, checklists.Somebody}
}

func (p *listItemPage) fields(l checklists.List, form itemForm, plant procedures.Plant, meters []string) {
	item := form.item
	bound := func(name string, x *float64) string {
		if typed, is := form.typed[name]; is {
			return typed
		}
		if x == nil {
			return ""
		}
		return numeral(*x)
	}
	var states, kinds, earlier []views.Choice
	for _, state := range machineStates() {
		states = append(states, views.Offer(string(state), p.Say(stateWords(state))))
	}
	for _, kind := range itemKinds() {
		kinds = append(kinds, views.Offer(string(kind), p.Say(kind.Said())))
	}
	var stations []string
	for _, s := range l.Sections() {
		stations = append(stations, s.Name)
	}
	for _, before := range checklists.Walked(l.Items) {
		if before.ID == item.ID {
			break
		}
		earlier = append(earlier, views.Choice{Value: string(before.ID), Text: string(before.ID) + " · " + before.Prompt})
	}
	p.What = []views.Field{
		p.AreaField("prompt", p.T("What to check"), item.Prompt),
		p.AreaField("how", p.T("How"), item.How),
		p.ChoiceField("severity", p.T("A defect here means"), string(item.Severity), []views.Choice{
			{Value: string(checklists.Stop), Text: p.T("Stop: may not run until mended and returned")},
			{Value: string(checklists.Mend), Text: p.T("Mend: may run with a stop-gap until a day")}}),
		p.TickField("not_fitted", p.T("Not fitted here: isn't asked"), item.NotFitted),
		p.TextField("source", p.T("Why: the clause, or: common practice, no source"), item.Source),
	}
	p.Place = []views.Field{
		p.ChoiceField("state", p.T("Done while the machine is"), string(item.State), states),
		p.TextField("station", p.T("Section: where one stands for it"), item.Station).Offering(stations),
		p.ChoiceField("equipment", p.T("Equipment it is about"), string(item.Equipment), equipmentChoices(plant)).AsList(),
	}
	p.Kind = []views.Field{p.ChoiceField("kind", p.T("Answered by"), string(item.Kind), kinds)}
	p.Choice = []views.Field{p.AreaField("options", p.T("Words to choose from, each on a line of its own; none: only OK or defect"), strings.Join(item.Options, "\n"))}
	most := &item.Limits.Most
	if *most == 0 {
		most = nil
	}
	p.Number = []views.Field{p.TextField("limits.unit", p.T("Unit"), item.Limits.Unit).WithHint(p.T("Such as in, psi, % or h")),
		p.NumberField("limits.most", p.T("A typed number above this is a slip of the hand"), bound("limits.most", most)).WithHint(p.T("It is not taken. In the unit above; none of the limits may be above it"))}
	p.Limits = []views.Field{
		p.NumberField("limits.low", p.T("Lowest value that is OK"), bound("limits.low", item.Limits.Low)),
		p.NumberField("limits.high", p.T("Highest value that is OK"), bound("limits.high", item.Limits.High)),
		p.TickField("limits.high_out", p.T("The highest value itself is out already"), item.Limits.HighOut),
		p.NumberField("limits.stop_at", p.T("From here on it is a stop, whatever is chosen above"), bound("limits.stop_at", item.Limits.StopAt)),
		p.TickField("limits.site_set", p.T("Start values: put in your maker's or your own"), item.Limits.SiteSet),
	}
	p.Meter = []views.Field{p.TextField("meter", p.T("Which meter"), string(item.Meter)).WithHint(p.T("The same name on every list that reads it")).Offering(meters)}
	p.Who = []views.Field{p.ChoiceField("qualified", p.T("Who may be named at it, or answer it OK"), string(item.Qualified), []views.Choice{
		views.Offer("", p.Say(checklists.AnyOfCrew.Said())), views.Offer(string(checklists.ForLifting), p.Say(checklists.ForLifting.Said())),
		views.Offer(string(checklists.ForElectrical), p.Say(checklists.ForElectrical.Said()))})}
	p.Proof = []views.Field{
		p.TickField("defect_photo", p.T("A defect needs a photo"), item.DefectPhoto),
		p.TickField("always_photo", p.T("Always needs a photo"), item.AlwaysPhoto),
	}
	p.Repeat = []views.Field{
		p.ChoiceField("repeat", p.T("Asked"), string(item.Repeat.Per), []views.Choice{views.Offer("", p.T("once")), views.Offer(string(checklists.PerDog), p.T("for each dog")),
			views.Offer(string(checklists.PerHook), p.T("for each hook")), views.Offer(string(checklists.PerEntryPoint), p.T("for each entry point")), views.Offer(string(checklists.PerHeadblock), p.T("for each headblock"))}),
		p.NumberField("repeat.count", p.T("How many; empty: as many as set-up counts"), countTyped(form, item)),
	}
	p.When = []views.Field{
		p.ChoiceField("when.item", p.T("Only asked if this earlier item"), string(item.When.Item), earlier).AsList(),
		p.ChoiceField("when.result", p.T("is"), string(item.When.Result), []views.Choice{views.Offer("", p.T("see below")), {Value: string(checklists.OK), Text: p.T("OK")},
			{Value: string(checklists.Found), Text: p.T("Defect")}, {Value: string(checklists.NotChecked), Text: p.T("Not checked")}}),
		p.TextField("when.choice", p.T("or this of its words"), item.When.Choice),
		p.NumberField("when.from", p.T("or a number from"), bound("when.from", item.When.From)),
		p.NumberField("when.to", p.T("up to"), bound("when.to", item.When.To)),
	}
	p.NewPicture = p.PhotoField("new_picture", p.T("A picture that shows how"))
	p.NoPicture = p.TickField("no_picture", p.T("Without this picture"), false)
	p.Second = p.AreaField("second", p.T("What the second one asks"), form.typed["second"])
}

func countTyped(form itemForm, item checklists.Item) string {
	if typed, is := form.typed["repeat.count"]; is {
		return typed
	}
	if item.Repeat.Count == 0 {
		return ""
	}
	return numeral(float64(item.Repeat.Count))
}

// readItem puts an item together from what was typed, and from that alone.
func (v *visit) readItem(id checklists.ItemID) (itemForm, plain.Problems) {
	var problems plain.Problems
	form := itemForm{typed: map[string]string{"second": v.typed("second")}}
	yes := func(name string) bool { return v.typed(name) == "yes" }
	number := func(name string) *float64 {
		typed := v.typed(name)
		if typed == "" {
			return nil
		}
		form.typed[name] = typed
		x, err := checklists.ParseNumber(v.typedIn.pointedUpTo(0, name, typed, &problems))
		problems.At(name, err)
		return &x
	}
	item := checklists.Item{ID: id, Station: v.typed("station"), Equipment: procedures.EquipmentID(v.typed("equipment")), Prompt: v.typed("prompt"), How: lines(v.typed("how")),
		State: checklists.MachineState(v.typed("state")), Kind: checklists.AnswerKind(v.typed("kind")), Severity: checklists.Severity(v.typed("severity")),
		DefectPhoto: yes("defect_photo"), AlwaysPhoto: yes("always_photo"), NotFitted: yes("not_fitted"), Source: v.typed("source"), Picture: v.typed("picture")}
	item.Repeat.Per = checklists.RepeatPer(v.typed("repeat"))
	if typed := v.typed("repeat.count"); typed != "" && item.Repeat.Per != "" {
		form.typed["repeat.count"] = typed
		item.Repeat.Count = wholeOr(typed, -1)
		problems.Unless(item.Repeat.Count >= 1, "repeat.count", "a whole number, 1 or more")
	}
	if item.When.Item = checklists.ItemID(v.typed("when.item")); item.When.Item != "" {
		item.When.Result, item.When.Choice = checklists.Result(v.typed("when.result")), v.typed("when.choice")
		item.When.From, item.When.To = number("when.from"), number("when.to")
	}
	switch item.Kind {
	case checklists.Choice:
		for line := range strings.Lines(lines(v.typed("options"))) {
			if word := strings.TrimSpace(line); word != "" {
				item.Options = append(item.Options, word)
			}
		}
	case checklists.Number, checklists.MeterReading:
		item.Limits = checklists.Limits{Unit: v.typed("limits.unit"), Most: mostTyped}
		if most := number("limits.most"); most != nil {
			item.Limits.Most = *most
		}
		if item.Kind == checklists.MeterReading {
			item.Meter = checklists.MeterID(v.typed("meter"))
			break
		}
		item.Limits.Low, item.Limits.High, item.Limits.StopAt = number("limits.low"), number("limits.high"), number("limits.stop_at")
		item.Limits.HighOut, item.Limits.SiteSet = yes("limits.high_out"), yes("limits.site_set")
	}
	item.Qualified = checklists.Qualification(v.typed("qualified"))
	form.item = item
	return form, problems
}

// lines are text as typed in several lines, the way a browser does not send them.
func lines(text string) string { return strings.ReplaceAll(text, "\r\n", "\n") }

// editListItem keeps an item as typed in the draft, shows how it looks, or makes
// two of it.
func (s *Server) editListItem(v *visit) error {
	id := v.itemID()
	seen, err := v.listAsSeen()
	if err != nil {
		return err
	}
	form, problems := v.readItem(id)
	digest, wrong, err := v.photo("new_picture")
	if err != nil {
		return err
	}
	problems = append(problems, wrong...)
	if form.item.Picture, err = v.sentBefore("picture"); err != nil {
		return err
	}
	switch {
	case digest != "":
		form.item.Picture = digest
	case v.typed("no_picture") == "yes":
		form.item.Picture = ""
	}
	if seen.list.ID == "" {
		if seen, err = v.listToEdit(v.Params("id")); err != nil {
			return err
		}
		problems = append(problems, plain.Problem{Want: plain.Say("The draft has gone on a long way since this page was made. What you typed is still here; look at the list, then keep it.")})
	}
	if itemPlace(seen.list, id) < 0 {
		return store.ErrNotFound
	}
	act := v.typed("do")
	if act == "" { // checked by the page's script: nothing is kept
		return v.listItemPage(seen, form, nil)
	}
	mine := changedItem(seen.list, id, func(item *checklists.Item) { *item = form.item })
	open := id
	if act == "split" {
		problems.Unless(v.typed("second") != "", "second", "what the second one asks")
		versions, err := v.versionsOf(v.Params("id"))
		if err != nil {
			return err
		}
		mine, open = mine.Split(id, form.item.Prompt, v.typed("second"), versions...)
	}
	problems.Add("", ofItem(mine.Draft(), id))
	if act == "check" && len(problems) == 0 {
		plant, err := v.desk.Plant(v.ctx())
		if err != nil {
			return err
		}
		problems.Add("", ofItem(mine.Validate(plant), id))
	}
	if len(problems) > 0 {
		return v.listItemPage(seen, form, problems)
	}
	switch err := v.keepList(seen, mine); {
	case errors.Is(err, store.ErrChanged):
		return v.conflictPage(seen, mine)
	case err != nil:
		return err
	}
	return v.backToList(open, "draft")
}

// ofItem are the problems of one item, by the names of its own form.
func ofItem(err error, id checklists.ItemID) error {
	var all, own plain.Problems
	if !errors.As(err, &all) {
		return err
	}
	for _, one := range all {
		if field, is := strings.CutPrefix(one.Field, "items."+string(id)+"."); is {
			own = append(own, plain.Problem{Field: field, Want: one.Want})
		}
	}
	return own.Err()
}
