package server

import (
	"errors"
	"strconv"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type listComparePage struct {
	*views.Frame
	ID            string
	From, To      views.Field
	Before, After plain.Sentence
	Changes       []listChange
	Edit          bool
}

// listChange is what differs in one item, or in the list as a whole.
type listChange struct {
	*views.Frame
	Before, After plain.Sentence // what stands left and right
	ID, Prompt    string
	What          plain.Sentence
	New           bool // an item that is not in the left one: only the right is shown
	Loosens       bool
	Rule          string
	Fields        []listField
}

type listField struct {
	checklists.FieldChange
	OldPhoto, NewPhoto string
}

// compareList shows two versions side by side: unless the address names others,
// the version in force and the draft, or the last two.
func (s *Server) compareList(v *visit) error {
	id := checklists.ListID(v.Params("id"))
	d, err := v.listToEdit(v.Params("id"))
	if err != nil {
		return err
	}
	inForce, err := v.desk.ListInForce(v.ctx(), id, v.now)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	from, to := strconv.Itoa(max(d.over-1, 1)), strconv.Itoa(d.over)
	if d.revision > 0 {
		from, to = strconv.Itoa(inForce.Version), draftWord
	}
	if inForce.Version == 0 && d.revision > 0 {
		from = draftWord
	}
	pick := func(name, otherwise string) (string, checklists.List, error) {
		word := v.Query(name, otherwise)
		if word == draftWord {
			if d.revision == 0 {
				return word, checklists.List{}, store.ErrNotFound
			}
			l, err := v.counted(d.list)
			return word, l, err
		}
		if whole(word) < 1 {
			return word, checklists.List{}, store.ErrNotFound
		}
		l, err := v.desk.List(v.ctx(), id, whole(word))
		return word, l, err
	}
	from, before, err := pick("from", from)
	if err != nil {
		return err
	}
	to, after, err := pick("to", to)
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := listComparePage{Frame: v.frame("Compare"), ID: string(id), Before: versionWords(from), After: versionWords(to), Edit: v.person.Supervises()}
	names, err := v.names()
	if err != nil {
		return err
	}
	page.Changes = listChanges(page.Frame, before, after, page.Before, page.After, plant, names)
	switch n := len(page.Changes); n {
	case 0:
		page.Title = plain.Say("%s: no difference", after.Title)
	case 1:
		page.Title = plain.Say("%s: one difference", after.Title)
	default:
		page.Title = plain.Say("%[1]s: %[2]d differences", after.Title, n)
	}
	var choices []views.Choice
	for version := 1; version <= d.over; version++ {
		choices = append(choices, views.Offer(strconv.Itoa(version), page.Say(versionWords(strconv.Itoa(version)))))
	}
	if d.revision > 0 {
		choices = append(choices, views.Offer(draftWord, page.Say(versionWords(draftWord))))
	}
	page.From = page.ChoiceField("from", page.T("From"), from, choices).AsList()
	page.To = page.ChoiceField("to", page.T("To"), to, choices).AsList()
	return v.show("list-compare", page, nil)
}

// counted is a draft with its repeated items counted as they will be when it is
// published.
func (v *visit) counted(l checklists.List) (checklists.List, error) {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	return l.Counted(facts.Mill.SetUp), err
}

func listChanges(f *views.Frame, before, after checklists.List, left, right plain.Sentence, plant procedures.Plant, names map[procedures.PersonID]string) []listChange {
	var all []listChange
	for _, c := range checklists.Compare(before, after) {
		line := listChange{Frame: f, Before: left, After: right, ID: string(c.Item), Prompt: c.Prompt, Loosens: c.Loosens, Rule: c.Rule}
		switch {
		case c.Item == "":
			line.What = plain.Say("The list as a whole")
		case c.Kind == checklists.Added:
			line.What, line.New = plain.Say("New"), true
		case c.Kind == checklists.Removed:
			line.What = plain.Say("Taken out")
		case c.Kind == checklists.Moved:
			line.What = plain.Say("Moved")
		case c.Moved:
			line.What = plain.Say("Changed and moved")
		default:
			line.What = plain.Say("Changed")
		}
		line.Fields = listFields(c, before, after, plant, names)
		all = append(all, line)
	}
	return all
}

// listFields are the fields of a change, with names in place of ids.
func listFields(c checklists.Change, before, after checklists.List, plant procedures.Plant, names map[procedures.PersonID]string) []listField {
	was, _ := before.Item(c.Item)
	is, _ := after.Item(c.Item)
	machine := func(of procedures.EquipmentID, said plain.Sentence) plain.Sentence {
		if of == "" {
			return said
		}
		return plain.Say("%s", nameIn(plant, of))
	}
	people := func(of []procedures.PersonID, said plain.Sentence) plain.Sentence {
		if len(of) == 0 {
			return said
		}
		var called []string
		for _, id := range of {
			called = append(called, names[id])
		}
		return plain.Say("%s", strings.Join(called, ", "))
	}
	var fields []listField
	for _, field := range c.Fields {
		shown := listField{FieldChange: field}
		switch field.Field {
		case "picture":
			shown.OldPhoto, shown.NewPhoto = photoAt(was.Picture), photoAt(is.Picture)
		case "equipment":
			shown.Before, shown.After = machine(was.Equipment, field.Before), machine(is.Equipment, field.After)
		case "schedule.people":
			shown.Before, shown.After = people(before.Schedule.People, field.Before), people(after.Schedule.People, field.After)
		}
		fields = append(fields, shown)
	}
	return fields
}
