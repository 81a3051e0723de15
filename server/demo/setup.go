package demo

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server"
	"stillsaw/server/store"
)

// setUp is the first afternoon: the mill and its people are entered, the
// starters read, what the mill measured put in, and all of it put in force.
func (m *mill) setUp(t time.Time) {
	m.goTo(t)
	m.about.Kinds = sawnHere()
	m.do("set up", func() error {
		digest, err := server.Hash(m.marta.secret)
		if err != nil {
			return err
		}
		set, err := server.Starter(m.about, m.marta.Person, digest, m.clock)
		if err != nil {
			return err
		}
		m.plant = set.Plant
		return m.st.SetUp(m.ctx, set)
	})
	m.do("make the key", func() error {
		_, err := m.desk.EnsureKey(m.ctx, m.clock)
		return err
	})
	for _, h := range m.all()[1:] {
		m.later(3)
		m.keep(h, h.secret)
	}
	m.later(9)
	m.measured()
	m.photographed()
	m.do("change the equipment", func() error {
		return m.desk.ChangePlant(m.ctx, store.NewID(), m.plant, m.marta.Person, m.clock)
	})
	m.timed()
	for _, p := range procedures.StarterProcedures(m.plant, m.about.SetUp.Answers()) {
		m.later(4)
		m.publish(store.Procedures, string(p.ID), p.Title, p, store.NumberProcedure)
		m.do("read procedure", func() (err error) {
			m.papers[p.ID], err = m.desk.Procedure(m.ctx, p.ID, 0)
			return err
		})
	}
	m.later(5)
	m.sayProgram()
	m.signCard()
	m.train(m.oren, m.delphine, m.imre)
	m.later(10)
	m.rig = newRig(m.clock)
	m.publish(store.Rigs, m.rig.ID, m.rig.Name, m.rig.Rig, store.NumberRig)
	m.later(15)
	starters := checklists.StarterLists(m.about.SetUp, m.plant)
	m.publishOthers(starters)
	m.publishList(starters[0])
	m.answerForTasks()
	m.enterRegisters()
	m.setUpWitnesses()
}

// measured puts in what the mill measured on its own machines.
func (m *mill) measured() {
	sizes := map[procedures.EnergyID]string{
		"saw-electric": "40 hp, 480 V", "saw-rotation": "600 rpm, 52 in saw", "carriage-shaft": "off the mandrel, 2 in belt", "saw-heat": "too hot to touch after an hour's sawing",
		"saw-weight": "saw 210 lb, each guard door 35 lb", "saw-belt": "spring tensioner, about 90 lb", "saw-wood": "a pinched slab, up to 300 lb",
		"carriage-moving": "2,600 lb with a cant on it", "carriage-slope": "track level, rolls at a push", "carriage-rope": "3/8 in wire rope, counterweight 60 lb",
		"dogs-spring": "about 40 lb at each lever", "dogs-wood": "a cant of up to 1,200 lb", "dogs-arm": "22 lb each", "knees-spring": "about 70 lb at the pawl",
		"hoist-electric": "1 hp, 480 V", "hoist-load": "up to 1,200 lb at 6 ft", "hoist-brake": "inside the hoist, maker only",
		"fan-electric": "10 hp, 480 V", "fan-rotation": "1,750 rpm, 28 in wheel", "dust-weight": "up to 900 lb in the bin", "dust-ember": "smoulders unseen for hours",
		"dust-cloud": "fine dust of hardwood", "rotary-electric": "1/2 hp, 480 V", "set-electric": "3 hp, 480 V", "waste-electric": "rolls 3 hp, conveyor 5 hp, 480 V", "waste-jam": "about 200 lb at the chain",
		"waste-stack": "up to 500 lb of slabs", "blower-electric": "7.5 hp, 480 V", "blower-rotation": "1,800 rpm, 22 in wheel"}
	feet := func(ft float64) float64 { return ft * float64(plain.Foot) }
	for i := range m.plant {
		if m.plant[i].Kind == procedures.Carriage {
			m.plant[i].Headblocks, m.plant[i].LandingMark = []float64{feet(2), feet(5.5)}, feet(3.75)
		}
		for j := range m.plant[i].Energies {
			energy := &m.plant[i].Energies[j]
			energy.Magnitude = sizes[energy.ID]
		}
	}
}

// publish puts doc in force as the next version, in place of its draft.
func (m *mill) publish(sort store.Sort, id, title string, doc any, number func(string, int) (string, error)) {
	m.do("publish "+title, func() error {
		d, err := store.DraftOf(sort, id, title, doc)
		if err != nil {
			return err
		}
		drafts, err := m.desk.Drafts(m.ctx)
		if err != nil {
			return err
		}
		for _, standing := range drafts {
			if standing.Sort == sort && standing.ID == id {
				d.Revision = standing.Revision
			}
		}
		return m.desk.PublishDraft(m.ctx, store.NewID(), d, m.marta.Person, m.clock, number)
	})
}

// publishOthers puts in force what this mill has read by now of the other
// starters; the rest wait as drafts.
func (m *mill) publishOthers(starters []checklists.List) {
	for _, l := range starters {
		switch l.ID {
		case checklists.Yearly, checklists.AfterPowerLoss, checklists.AfterJam:
			m.publish(store.Lists, string(l.ID), l.Title, l, nil)
		}
	}
}

func (m *mill) publishList(l checklists.List) {
	m.publish(store.Lists, string(l.ID), l.Title, l, nil)
	m.do("read list", func() (err error) {
		m.list, err = m.desk.List(m.ctx, l.ID, 0)
		return err
	})
}
