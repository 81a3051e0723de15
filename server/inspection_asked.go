package server

import (
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/views"
)

// asked is what a list asks in one state of the machine, in walking order, as
// far as the answers given tell. What waits for an answer not yet given is shown
// once that answer is there; what was answered stays.
func asked(list checklists.List, state checklists.MachineState, given map[checklists.ItemID]checklists.Answer) []checklists.Item {
	all := list.Asks()
	askings := list.Askings(given)
	seen := map[checklists.ItemID]bool{} // items one of whose questions is answered, by the author's id
	for id := range given {
		seen[writtenID(id)] = true
	}
	var items []checklists.Item
	for _, item := range checklists.Walked(all) {
		_, answered := given[item.ID]
		earlier, known := list.Item(item.When.Item)
		hidden := askings[item.ID] == checklists.NotAsked || askings[item.ID] == checklists.Waits && known && !earlier.NotFitted && !seen[earlier.ID]
		if item.State == state && (answered || !hidden) {
			items = append(items, item)
		}
	}
	return items
}

// mayBeAsked is what the list asks in that state now, and in its place what an answer
// to come may bring up.
func mayBeAsked(list checklists.List, state checklists.MachineState, now []checklists.Item) []checklists.Item {
	isAsked := idsOf(now)
	var items []checklists.Item
	for _, item := range checklists.Walked(list.Asks()) {
		if item.State == state && (isAsked[item.ID] || len(list.LooksAt(item)) > 0) {
			items = append(items, item)
		}
	}
	return items
}

func idsOf(items []checklists.Item) map[checklists.ItemID]bool {
	ids := make(map[checklists.ItemID]bool, len(items))
	for _, item := range items {
		ids[item.ID] = true
	}
	return ids
}

// unasked marks what is not among the items asked now with what would bring it up.
func (s *station) unasked(list checklists.List, now []checklists.Item) {
	isAsked := idsOf(now)
	for i := range s.Items {
		id := checklists.ItemID(s.Items[i].Name)
		if item, known := list.Item(id); known && !isAsked[id] {
			s.Items[i].AskedWhen = whenMet(list, item)
			s.Of--
		}
	}
}

// whenMet is the condition of an item for a phone that has no contact: the ids it
// looks at, and what an answer to one of them has to be, "C3,C4 result=defect",
// "C5 choice=wet wood", "C6 number=2..". The server asks the rules all the same.
func whenMet(list checklists.List, item checklists.Item) string {
	var ids []string
	for _, id := range list.LooksAt(item) {
		ids = append(ids, string(id))
	}
	test := ""
	switch c := item.When; {
	case c.Result != "":
		test = "result=" + string(c.Result)
	case c.Choice != "":
		test = "choice=" + c.Choice
	default:
		bound := func(x *float64) string {
			if x == nil {
				return ""
			}
			return numeral(*x)
		}
		test = "number=" + bound(c.From) + ".." + bound(c.To)
	}
	return strings.Join(ids, ",") + " " + test
}

// writtenID is the id the author gave the item asked under this one.
func writtenID(id checklists.ItemID) checklists.ItemID {
	written, _, _ := strings.Cut(string(id), "#")
	return checklists.ItemID(written)
}

// branches tells whether what the list asks depends on answers.
func branches(list checklists.List) bool {
	for _, item := range list.Asks() {
		if item.When.Item != "" {
			return true
		}
	}
	return false
}

// newlyAsked is the first question of the state that the answers just kept
// brought up, if any.
func newlyAsked(before, after store.Walk, state checklists.MachineState) (checklists.ItemID, bool) {
	was := map[checklists.ItemID]bool{}
	for _, item := range asked(before.List, state, byItem(before.Answers)) {
		was[item.ID] = true
	}
	given := byItem(after.Answers)
	for _, item := range asked(after.List, state, given) {
		if _, answered := given[item.ID]; !was[item.ID] && !answered {
			return item.ID, true
		}
	}
	return "", false
}

// asksOf are the inputs of the kinds of item beside the measurement and the
// words: one of several words, a meter, somebody of the crew.
func asksOf(f *views.Frame, item checklists.Item, typed typedAnswer, named func(checklists.Item) []procedures.Person) []views.Field {
	name := string(item.ID)
	switch item.Kind {
	case checklists.Choice:
		if len(item.Options) == 0 {
			return nil
		}
		var words []views.Choice
		for _, word := range item.Options {
			words = append(words, views.Choice{Value: word, Text: word})
		}
		return []views.Field{f.ChoiceField(name+".text", f.T("Which of these"), typed.Text, words)}
	case checklists.MeterReading:
		return []views.Field{
			f.NumberField(name+".number", f.T("What the meter shows"), typed.Number).WithUnit(item.Limits.Unit),
			f.TickField(name+".replaced", f.T("The meter was replaced or set back since, or read wrong: say why in the note"), typed.Replaced),
		}
	case checklists.Somebody:
		var people []views.Choice
		for _, p := range named(item) {
			people = append(people, views.Choice{Value: string(p.ID), Text: p.Name})
		}
		field := f.ChoiceField(name+".person", f.T("Who"), typed.Person, people)
		switch item.Qualified {
		case checklists.ForLifting:
			field = field.WithHint(f.T("Those recorded as qualified for lifting gear"))
		case checklists.ForElectrical:
			field = field.WithHint(f.T("Those recorded as qualified for electrical work"))
		}
		return []views.Field{field}
	}
	return nil
}

// mayBeNamed are the people who may be named at an item now.
func (v *visit) mayBeNamed(facts checklists.Facts) func(checklists.Item) []procedures.Person {
	return func(item checklists.Item) []procedures.Person { return facts.Named(item, v.now) }
}

// under leaves to the heading of a repeated item what all of it have in common.
func (b *itemBox) under(f *views.Frame, item checklists.Item, before []itemBox) {
	if n := len(before); n == 0 || writtenID(checklists.ItemID(before[n-1].Name)) != writtenID(item.ID) {
		b.Heading = &itemHeading{Prompt: f.T("%[1]s · %[2]s", string(writtenID(item.ID)), item.Prompt), How: item.How, Source: item.Source, Picture: b.Picture}
	}
	b.Prompt, b.How, b.Source, b.Picture = f.T("%s", item.Which()), "", "", ""
}

// photoAt is the address of a kept picture, "" for none.
func photoAt(digest string) string {
	if digest == "" {
		return ""
	}
	return "/photos/" + digest
}
