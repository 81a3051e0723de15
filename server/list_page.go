package server

import (
	"encoding/json"
	"errors"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type listPage struct {
	*views.Frame
	List    checklists.List
	By      string
	At      time.Time
	Draft   bool
	Newest  int // version in force
	Edit    string
	Every   plain.Sentence
	States  []listState
	Omitted []checklists.Item
}

type listState struct {
	Name     plain.Sentence
	Stations []listStation
}

type listStation struct {
	Name  string
	Items []listItem
}

type listItem struct {
	checklists.Item
	Asks    []plain.Sentence // what kind of item it is, how often and when it is asked
	Stops   bool
	Machine string
	Picture string // address
}

func (s *Server) showList(v *visit) error {
	id := v.Params("id")
	page := listPage{Frame: v.frame("List")}
	newest, err := v.desk.ListInForce(v.ctx(), checklists.ListID(id), v.now)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	page.Newest = newest.Version
	if page.Draft = v.Query("draft") != "" || newest.Version == 0 && v.Query("version") == ""; page.Draft {
		draft, err := v.desk.Draft(v.ctx(), store.Lists, id)
		if err != nil {
			return err
		}
		if page.List, err = listIn(draft.Doc); err != nil {
			return err
		}
		page.At = draft.At
		page.Title = plain.Say("%s: a draft, not in force", page.List.Title)
	} else if err := page.version(v, newest); err != nil {
		return err
	}
	if v.person.Supervises() {
		page.Edit = "/lists/" + id + "/edit"
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page.arrange(plant)
	return v.show("list", page, nil)
}

// version loads the version asked for, the newest when none is.
func (p *listPage) version(v *visit, shown store.Publication) error {
	if asked := v.Query("version"); asked != "" {
		n, err := strconv.Atoi(asked)
		if err != nil || n < 1 {
			return store.ErrNotFound
		}
		if shown, err = v.desk.Published(v.ctx(), store.Lists, v.Params("id"), n); err != nil {
			return err
		}
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	p.By, p.At = names[shown.By], shown.At
	if p.List, err = listIn(shown.Doc); err != nil {
		return err
	}
	p.Title = plain.Say("%[1]s: in force, version %[2]d", p.List.Title, p.List.Version)
	switch {
	case p.List.InForce.After(v.now):
		p.Title = plain.Say("%[1]s: version %[2]d, in force from %[3]s", p.List.Title, p.List.Version, p.List.InForce)
	case shown.Version != p.Newest:
		p.Title = plain.Say("%[1]s: version %[2]d, no longer in force", p.List.Title, p.List.Version)
	}
	return nil
}

func listIn(doc string) (l checklists.List, err error) {
	err = json.Unmarshal([]byte(doc), &l)
	return l, err
}

func (p *listPage) arrange(plant procedures.Plant) {
	p.Every = scheduleWords(p.List.Schedule)
	for _, state := range machineStates() {
		group := listState{Name: stateWords(state)}
		for _, item := range checklists.Walked(p.List.Items) {
			if item.State != state || item.NotFitted {
				continue
			}
			at := len(group.Stations) - 1
			for i := range group.Stations {
				if group.Stations[i].Name == item.Station {
					at = i
				}
			}
			if at < 0 || group.Stations[at].Name != item.Station {
				group.Stations = append(group.Stations, listStation{Name: item.Station})
				at = len(group.Stations) - 1
			}
			group.Stations[at].Items = append(group.Stations[at].Items, listItem{Item: item, Asks: itemSaid(item), Picture: photoAt(item.Picture), Stops: item.Severity == checklists.Stop, Machine: nameIn(plant, item.Equipment)})
		}
		if len(group.Stations) > 0 {
			p.States = append(p.States, group)
		}
	}
	for _, item := range p.List.Items {
		if item.NotFitted {
			p.Omitted = append(p.Omitted, item)
		}
	}
}

func everyWords(every checklists.Period) plain.Sentence {
	switch every {
	case checklists.EachShift:
		return plain.Say("every shift")
	case checklists.EachDay:
		return plain.Say("every day")
	case checklists.EachWeek:
		return plain.Say("every week")
	case checklists.EachMonth:
		return plain.Say("every month")
	case checklists.EachQuarter:
		return plain.Say("every quarter")
	case checklists.EachYear:
		return plain.Say("every year")
	}
	return plain.Say("not known")
}
