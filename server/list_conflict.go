package server

import (
	"encoding/json"
	"errors"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// conflictPage shows what two people made of one draft, item by item, and lets
// either be taken. The whole of mine is in the form: nothing typed is lost.
type conflictPage struct {
	*views.Frame
	ID             string
	Revision, Over int
	Mine           string // JSON of the list as I would have it
	Base           string // JSON of the list both began from
	Said           plain.Sentence
	File           bool // mine is a file's, brought in over a draft
	Items          []conflictItem
}

// conflictItem is one item, or the list as a whole, that somebody changed.
type conflictItem struct {
	Name, Prompt string
	Theirs, Mine []listField // against what both began from
	TheirsGone   bool
	MineGone     bool
	Take         views.Field
}

func (v *visit) conflictPage(seen listDraft, mine checklists.List) error {
	return v.choosePage(seen, mine, false)
}

// fileOverDraft shows a draft and the file that was brought in over it. Nobody
// was writing at the same time.
func (v *visit) fileOverDraft(base listDraft, file checklists.List) error {
	return v.choosePage(base, file, true)
}

func (v *visit) choosePage(seen listDraft, mine checklists.List, file bool) error {
	now, err := v.listToEdit(string(mine.ID))
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := conflictPage{Frame: v.frame("Two people changed %s: choose", mine.Title), ID: string(mine.ID), Revision: now.revision, Over: now.over, File: file}
	if file {
		page.Title = plain.Say("A draft is here already: %s", mine.Title)
	}
	if page.Mine, err = textOf(mine); err != nil {
		return err
	}
	if page.Base, err = textOf(seen.list); err != nil {
		return err
	}
	switch {
	case file && now.by == v.person.ID:
		page.Said = plain.Say("You saved a draft of this list %s, and the file says otherwise. Take the whole file, or choose below item by item.", now.at)
	case file && now.by != "":
		page.Said = plain.Say("%[1]s saved a draft of this list %[2]s, and the file says otherwise. Take the whole file, or choose below item by item.", names[now.by], now.at)
	case file:
		page.Said = plain.Say("The draft is the one the set-up made, and the file says otherwise. Take the whole file, or choose below item by item.")
	case now.over != seen.over:
		newest, err := v.desk.Published(v.ctx(), store.Lists, page.ID, 0)
		if err != nil {
			return err
		}
		page.Said = plain.Say("%[1]s put version %[2]d in force while you were writing, %[3]s. Nothing of yours is lost: choose below what is to be kept.", names[newest.By], newest.Version, newest.At)
	case now.by != "":
		page.Said = plain.Say("%[1]s saved this draft while you were writing, %[2]s. Nothing of yours is lost: choose below what is to be kept.", names[now.by], now.at)
	case now.revision == 0:
		page.Said = plain.Say("The draft was discarded while you were writing. Nothing of yours is lost: choose below what is to be kept.")
	default:
		page.Said = plain.Say("Somebody saved this draft while you were writing, %s. Nothing of yours is lost: choose below what is to be kept.", now.at)
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	theirs, own := changesBy(seen.list, now.list), changesBy(seen.list, mine)
	for _, change := range checklists.Compare(now.list, mine) {
		name := string(change.Item)
		t, m := theirs[change.Item], own[change.Item]
		item := conflictItem{Name: name, Prompt: change.Prompt, Theirs: listFields(t, seen.list, now.list, plant, names), Mine: listFields(m, seen.list, mine, plant, names), TheirsGone: t.Kind == checklists.Removed, MineGone: m.Kind == checklists.Removed}
		// What only one of us touched is taken as that one left it, unless said otherwise.
		take := "theirs"
		switch {
		case t.Kind != "" && m.Kind != "":
			take = ""
		case m.Kind != "":
			take = "mine"
		}
		words := []views.Choice{{Value: "theirs", Text: page.T("Theirs")}, {Value: "mine", Text: page.T("Mine")}}
		if file {
			words[0].Text, words[1].Text = page.T("The draft's"), page.T("The file's")
		}
		item.Take = page.ChoiceField("take."+name, page.T("Keep"), take, words).Required()
		page.Items = append(page.Items, item)
	}
	problems := plain.Problems{{Want: page.Said}}
	return v.show("list-conflict", page, problems)
}

func textOf(l checklists.List) (string, error) {
	text, err := json.Marshal(l)
	return string(text), err
}

func changesBy(before, after checklists.List) map[checklists.ItemID]checklists.Change {
	by := map[checklists.ItemID]checklists.Change{}
	for _, change := range checklists.Compare(before, after) {
		by[change.Item] = change
	}
	return by
}

// mergeList keeps theirs with what was taken of mine.
func (s *Server) mergeList(v *visit) error {
	seen, err := v.listAsSeen()
	if err != nil {
		return err
	}
	mine, err := listIn(v.typed("mine"))
	if err != nil || mine.Draft() != nil {
		return store.ErrNotFound // nothing a form of ours sends
	}
	mine.ID = checklists.ListID(v.Params("id"))
	base, err := listIn(v.typed("base"))
	if err != nil {
		return store.ErrNotFound
	}
	file := v.typed("file") == "yes"
	if seen.list.ID == "" {
		return v.choosePage(listDraft{list: base, revision: seen.revision, over: seen.over}, mine, file)
	}
	theirs := seen.list
	take := map[checklists.ItemID]bool{}
	open, whole := false, file && v.typed("whole") == "yes"
	for _, change := range checklists.Compare(theirs, mine) {
		name := string(change.Item)
		choice := v.typed("take." + name)
		take[change.Item] = choice == "mine" || whole
		if choice != "mine" && choice != "theirs" && !whole {
			open = true
		}
	}
	if open {
		seen.list = base
		return v.choosePage(seen, mine, file)
	}
	merged := checklists.Merged(theirs, mine, take)
	if whole {
		merged = mine
	}
	merged.ID = mine.ID
	switch err := v.keepList(seen, merged); {
	case errors.Is(err, store.ErrChanged):
		return v.conflictPage(seen, merged)
	case err != nil:
		return err
	}
	return v.backToList("", "draft")
}
