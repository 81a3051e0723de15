package demo

import (
	"fmt"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// repair is how a machine that a check stopped comes back.
type repair struct {
	item      checklists.ItemID
	waits     string // why the rest was not checked
	procedure procedures.ProcedureID
	task      string
	by, back  *hand // who mends, who returns it to service
	note      string
	after     picture
	seen      string // what who returns it says
}

// found is the defect this morning's check made at an item.
func (m *mill) found(item checklists.ItemID) checklists.DefectID {
	var id checklists.DefectID
	m.do("find the defect at "+string(item), func() error {
		defects, err := m.desk.DefectsOf(m.ctx, m.walked, m.clock.Add(-12*time.Hour), m.clock)
		for _, d := range defects {
			if d.Item == item {
				id = d.ID
			}
		}
		if err == nil && id == "" {
			err = fmt.Errorf("no defect at %s", item)
		}
		return err
	})
	return id
}

func (m *mill) mend(id checklists.DefectID, by *hand, note string, after picture) {
	photo := ""
	if after != "" {
		photo = m.photo(after)
	}
	m.do("report the mending", func() error {
		return m.desk.MendDefect(m.ctx, store.NewID(), id, note, photo, by.Person, m.clock)
	})
}

// back returns a machine to service.
func (m *mill) back(id checklists.DefectID, by *hand, seen string) {
	m.do("return to service", func() error {
		return m.desk.ReturnDefect(m.ctx, store.NewID(), id, checklists.Recheck{Answer: checklists.Answer{Result: checklists.OK}, Note: seen}, by.Person, m.clock)
	})
}

// stopTheHoist is a stop without a word, told and mended afterwards.
func (m *mill) stopTheHoist() {
	var id checklists.DefectID
	m.do("stop it", func() (err error) {
		id, err = m.desk.StopIt(m.ctx, store.NewID(), checklists.Defect{Equipment: "hoist"}, m.hollis.Person, m.clock)
		return err
	})
	m.later(4)
	photo := m.photo(openLatch)
	m.do("describe", func() error {
		return m.desk.DescribeDefect(m.ctx, store.NewID(), id, "Latch of the hoist hook stays open, its spring is broken", photo, m.hollis.Person, m.clock)
	})
	m.later(9)
	m.service("hoist", "New latch spring on the hoist hook", m.imre, nil, 20, func() {
		m.mend(id, m.imre, "New spring and pin from the maker, latch closes by itself", "")
	})
	m.later(6)
	m.back(id, m.marta, "Worked the latch twenty times, hook gauge passes")
}

// reachedIn is a departure: entered by who saw it, closed by the supervisor.
func (m *mill) reachedIn() {
	var id checklists.DepartureID
	happened := m.clock.Add(-11 * time.Minute)
	m.do("enter a departure", func() (err error) {
		id, err = m.desk.EnterDeparture(m.ctx, store.NewID(), checklists.Departure{Equipment: "carriage", Happened: happened,
			What: "Perrin freed a jammed slab by hand while the saw was still running down. No lock, nobody hurt."}, m.oren.Person, m.clock)
		return err
	})
	m.later(38)
	m.do("close a departure", func() error {
		return m.desk.CloseDeparture(m.ctx, store.NewID(), id,
			"Talked it through with the whole crew. A push stick now hangs at the stand and goes on the list; a slab that will not come with it means locking out.", m.marta.Person, m.clock)
	})
}

// stickOnTheList puts what the departure taught on the list, as its version 2.
func (m *mill) stickOnTheList() {
	l := m.list
	l.Items = nil
	for _, item := range m.list.Items {
		l.Items = append(l.Items, item)
		if item.ID == "C7-2" {
			l.Items = append(l.Items, checklists.Item{ID: "C9", Station: item.Station, Equipment: item.Equipment, State: checklists.Stopped, Kind: checklists.Choice,
				Severity: checklists.Mend, Source: "this mill's own, after a departure",
				Prompt: "Push stick hangs at the stand", How: "At least 4 ft long, not split. A slab that will not come with it means locking out."})
		}
	}
	m.publishList(l)
}

// logRolled is a near miss: entered by who saw it, followed up and closed.
func (m *mill) logRolled() {
	var id checklists.IncidentID
	happened := m.clock.Add(-16 * time.Minute)
	m.do("enter a near miss", func() (err error) {
		id, err = m.desk.EnterIncident(m.ctx, store.NewID(), checklists.Incident{Kind: checklists.NearMiss, Equipment: "site", Happened: happened, Where: "Log deck, by the ramp",
			What: "A log rolled off the deck when the next one was set down. Nobody stood below it.", Present: "Hollis, and a driver who waited for his load"}, checklists.HoldNothing, m.hollis.Person, m.clock)
		return err
	})
	m.later(12)
	m.do("say what follows", func() error {
		return m.desk.ActAfterIncident(m.ctx, store.NewID(), id, checklists.IncidentAction{What: "Stop blocks at the low edge of the deck", Person: m.imre.ID, Due: m.clock.Add(5 * 24 * time.Hour)}, m.marta.Person, m.clock)
	})
	m.later(55)
	m.do("report it done", func() error {
		actions, err := m.desk.IncidentActions(m.ctx, id)
		if err != nil {
			return err
		}
		return m.desk.ReportIncidentAction(m.ctx, store.NewID(), id, actions[0].ID, "Two blocks bolted on, a line painted nobody crosses while the loader works", m.imre.Person, m.clock)
	})
	m.later(6)
	m.do("close the incident", func() error {
		return m.desk.CloseIncident(m.ctx, store.NewID(), id, "Blocks hold a log that rolls. The crew was told of the line.", m.marta.Person, m.clock)
	})
}

// careForDuct gives the open seam to somebody and writes down what is ordered.
func (m *mill) careForDuct() {
	id := m.found("X4")
	m.do("give the duct to somebody", func() error {
		return m.desk.AssignDefect(m.ctx, store.NewID(), id, m.imre.ID, m.clock.Add(6*24*time.Hour), m.marta.Person, m.clock)
	})
	m.later(7)
	m.do("note what is ordered", func() error {
		return m.desk.NoteDefect(m.ctx, store.NewID(), id, checklists.DefectNote{Kind: checklists.Ordered, Text: "One length of 10 in spiral duct and two collars, due on Thursday"}, m.imre.Person, m.clock)
	})
}
