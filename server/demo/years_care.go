package demo

import (
	"fmt"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server"
	"stillsaw/server/store"
)

func keepLiftOfRun(m *mill, id string, by *hand, answers lift.Questions) error {
	_, err := server.KeepLiftOfRun(m.ctx, m.desk, store.NewID(), store.LiftOfRun{Lift: id, Alike: lift.Yes, AsSet: lift.Yes, Questions: answers}, by.Person, m.clock)
	return err
}

// hireTurns enters the people of three shifts: the sawyer and the tail sawyer of
// the day are there already.
func (m *mill) hireTurns() []turn {
	turns := []turn{{m.oren, m.delphine, m.hollis}, {m.hire("Ansel Rourke", "A"), m.hire("Bettina Marsh", "B"), m.hire("Corwin Hale", "D")},
		{m.hire("Edda Lovell", "E"), m.hire("Fenton Gray", "F"), m.hire("Greer Nolan", "G")}}
	return turns
}

// hire enters somebody new and has them trained to lock out.
func (m *mill) hire(name, locks string) *hand {
	h := &hand{Person: procedures.Person{ID: procedures.PersonID(store.NewID()), Name: name, Role: procedures.Operator, Authorized: true}, locks: locks, secret: fmt.Sprintf("%04d", 2580+37*len(m.more)), what: "of a shift, may lock out"}
	m.more = append(m.more, h)
	m.later(3)
	m.keep(h, h.secret)
	m.later(3)
	m.train(h)
	return h
}

// foundOn is what the walk before a shift finds: now and then something.
func (m *mill) foundOn(d day) plan {
	switch {
	case d.n%37 == 5:
		return plan{found: func() findings {
			return findings{"S7": {Result: checklists.Found, Note: fmt.Sprintf("Splitter shakes, bolt %d of 4 has backed out", 1+d.n%4), Photo: m.photo(looseWedge)}}
		},
			repair: repair{item: "S7", waits: "Head rig still locked, splitter loose", by: m.checks(d), back: m.imre,
				note: "New bolt and lock washer, splitter set in line with the saw", after: tightWedge, seen: "Spanner on every bolt, in line with the plate"}}
	case d.n%53 == 17:
		return plan{found: func() findings {
			return findings{"C2": {Result: checklists.Found, Note: "Crack across the rubber of the bumper at the saw end", Photo: m.photo(crackedEnd)}}
		},
			repair: repair{item: "C2", waits: "Carriage held, bumper cracked", procedure: "carriage", task: "New bumper at the saw end", by: m.imre, back: m.checks(d),
				note: "New rubber, two new bolts", after: newBumper, seen: "Pushed with a foot, both bolts tight"}}
	}
	return plan{}
}

// keepUp is what falls due by the calendar, on a day shift.
func (m *mill) keepUp(d day) {
	days := d.n / 3
	if days%20 == 3 {
		m.look(days%240 == 3)
	}
	if days%40 == 11 {
		m.changeSaws(m.imre)
	}
	if days%15 == 9 {
		m.looked(m.hollis, days%3, checklists.SafetyCheck{Work: checklists.SafetyLook, Right: true})
	}
	if days%60 == 29 {
		m.stopTheHoist()
	}
	if days%110 == 57 {
		m.reachedIn()
	}
	if days%160 == 83 {
		m.logRolled()
	}
	if days%250 == 199 {
		m.inspectProcedure()
	}
	if days%300 == 250 {
		m.replace(days / 300)
	}
}

// look is the monthly inspection of the gear, once a year the thorough one.
func (m *mill) look(thorough bool) {
	every := lift.EveryMonth
	if thorough {
		every = lift.EveryYear
	}
	var all []store.GearInspection
	for i := range m.rig.Links {
		all = append(all, store.GearInspection{Rig: m.rig.ID, Link: m.rig.Links[i].ID, Every: every.String(), Fit: true})
	}
	m.do("inspect the gear", func() error {
		_, err := m.desk.KeepGearInspections(m.ctx, store.NewID(), all, every.Thorough(), m.imre.Person, m.clock)
		return err
	})
}

// replace is somebody of the evening or night shift leaving, and who comes instead.
func (m *mill) replace(n int) {
	gone := m.more[n%6] // the six of evening and night
	names := []string{"Hester Quill", "Ivo Strand", "Juno Pratt", "Kester Wynn", "Lorna Beck", "Milo Fairley"}
	gone.Left = true
	m.keep(gone, "")
	come := *gone
	come.ID, come.Name, come.Left = procedures.PersonID(store.NewID()), fmt.Sprintf("%s %d", names[n%len(names)], 1+n/len(names)), false
	come.locks = fmt.Sprintf("%s%d", gone.locks, n)
	before := *gone
	*gone = come // who works the shift from now on
	left := before
	m.more = append(m.more, &left)
	m.keep(gone, gone.secret)
	m.later(4)
	m.train(gone)
}
