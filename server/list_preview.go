package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// previewList shows the list as the phone will show it, by the page of the walk
// itself. Nothing is begun and nothing is kept.
func (s *Server) previewList(v *visit) error {
	d, err := v.listToEdit(v.Params("id"))
	if err != nil {
		return err
	}
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	list := d.list.Counted(facts.Mill.SetUp)
	state := stepOf(list, v.Query("state"))
	if state == toSign {
		state = stepOf(list, "")
	}
	w := store.Walk{List: list, Person: v.person.ID, Began: v.now}
	page := walkPage{Frame: v.frame("%s: as the phone will show it", list.Title), Address: listPath(v.Ctx, "preview"), State: state, Preview: true, MayAnswer: true, Edit: listPath(v.Ctx, "edit")}
	page.steps(list, nil)
	if state == toSign {
		page.Title = plain.Say("%s: nothing to show yet", list.Title)
		page.ending(w, nil, nil)
		return v.show("inspection-walk", page, nil)
	}
	items := previewed(list, checklists.MachineState(state))
	page.StateName = page.Say(stateWords(checklists.MachineState(state)))
	page.Stations = stations(page.Frame, items, nil, nil, v.zone, v.typedIn, v.mayBeNamed(facts))
	for i := range page.Stations {
		for j := range page.Stations[i].Items {
			box := &page.Stations[i].Items[j]
			if item, known := list.Item(checklists.ItemID(box.Name)); known && item.When != (checklists.Condition{}) {
				box.Only = item.When.Said()
			}
		}
	}
	if checklists.MachineState(state) == checklists.Running {
		page.Turn.Warning = turnsCaution(page.Frame)
	}
	page.goOn()
	return v.show("inspection-walk", page, nil)
}

// previewed is everything a state could ask, whatever is answered.
func previewed(list checklists.List, state checklists.MachineState) []checklists.Item {
	var items []checklists.Item
	for _, item := range checklists.Walked(list.Asks()) {
		if item.State == state {
			items = append(items, item)
		}
	}
	return items
}
