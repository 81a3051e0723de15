package demo

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// saws are the serial numbers of the two head saws.
func saws() []string { return []string{"QB-52-A", "QB-52-B"} }

// enterRegisters enters the saws, the extinguishers and the first-aid kit.
func (m *mill) enterRegisters() {
	for i, serial := range append(saws(), "QB-48-OLD") {
		diameter := 52 * plain.Inch
		if i == 2 {
			diameter = 48 * plain.Inch
		}
		m.do("enter a saw", func() error {
			id, err := m.desk.KeepBlade(m.ctx, store.NewID(), "", checklists.Blade{Serial: serial, Diameter: diameter, Gauge: "8", Marked: []float64{700, 650, 540}[i], Teeth: []int{42, 42, 38}[i], Kind: checklists.InsertedTeeth},
				m.marta.Person, m.clock)
			m.saws = append(m.saws, id)
			return err
		})
		m.later(1)
	}
	cracked := plain.Metres(2.125) * plain.Inch
	m.sawWork(m.imre, 0, checklists.BladeFiled, new(plain.Metres), "")
	m.sawWork(m.imre, 1, checklists.BladeHammered, new(plain.Metres), "Ned Garrow, sawsmith")
	m.sawWork(m.imre, 2, checklists.BladeLooked, &cracked, "")
	m.sawWork(m.oren, 0, checklists.BladeFitted, nil, "")
	for _, one := range []checklists.SafetyItem{
		{Kind: checklists.ExtinguisherKind, Place: "Sawyer's stand", Serial: "X-1", Size: "10 lb, 4-A:80-B:C", Type: "dry-stored", Made: m.today().AddDate(-2, -3, 0)},
		{Kind: checklists.ExtinguisherKind, Place: "Dust collector", Serial: "X-2", Size: "2 1/2 gal, 2-A", Type: "water-stored", Made: m.today().AddDate(-4, -11, 0)},
		{Kind: checklists.ExtinguisherKind, Place: "Filing room", Serial: "X-3", Size: "10 lb, 10-B:C", Type: "carbon-dioxide", Made: m.today().AddDate(-1, 0, 0)},
		{Kind: checklists.FirstAidKind, Place: "Office door", Contents: []string{"2 tourniquets", "4 pressure dressings", "Gauze", "Eye rinse", "Gloves", "Rescue blanket"}},
	} {
		m.do("enter safety equipment", func() error {
			id, err := m.desk.KeepSafetyItem(m.ctx, store.NewID(), "", one, m.marta.Person, m.clock)
			m.safety = append(m.safety, id)
			return err
		})
		m.later(1)
	}
	for i := range 3 {
		m.looked(m.marta, i, checklists.SafetyCheck{Work: checklists.SafetyMaintenance, Right: true, Who: "Brackwater Fire Service", On: m.today().AddDate(0, -5, 0)})
	}
	for i := range 4 {
		m.looked(m.hollis, i, checklists.SafetyCheck{Work: checklists.SafetyLook, Right: true})
	}
	m.makeTokens()
}

// sawWork enters that something was done with one of the saws.
func (m *mill) sawWork(by *hand, saw int, work checklists.BladeWork, crack *plain.Metres, who string) {
	m.do("enter work on a saw", func() error {
		return m.desk.BladeDone(m.ctx, store.NewID(), checklists.BladeAct{Blade: m.saws[saw], Work: work, On: m.clock, Crack: crack, Who: who}, by.Person, m.clock)
	})
	m.later(1)
}

// changeSaws takes one saw off and puts the other on, as was done under lock.
func (m *mill) changeSaws(by *hand) {
	m.sawWork(by, m.saw, checklists.BladeTakenOff, nil, "")
	m.saw = 1 - m.saw
	m.sawWork(by, m.saw, checklists.BladeFitted, nil, "")
	m.sawWork(by, 1-m.saw, checklists.BladeFiled, new(plain.Metres), "")
}

// looked enters a look at one piece of safety equipment.
func (m *mill) looked(by *hand, item int, c checklists.SafetyCheck) {
	m.do("look at safety equipment", func() error {
		if c.Item = m.safety[item]; c.On.Equal(time.Time{}) {
			c.On = m.today()
		}
		return m.desk.CheckSafetyItem(m.ctx, store.NewID(), c, by.Person, m.clock)
	})
}

// monthlyLook is the round of the extinguishers and the kit; one of them is
// forgotten, and something of the kit is used up.
func (m *mill) monthlyLook(d day) {
	if d.n%20 != 19 {
		return
	}
	for _, i := range []int{0, 2} {
		m.looked(m.hollis, i, checklists.SafetyCheck{Work: checklists.SafetyLook, Right: true})
	}
	kit := checklists.SafetyCheck{Work: checklists.SafetyLook, Right: true}
	if d.n > 30 {
		kit = checklists.SafetyCheck{Work: checklists.SafetyLook, Missing: []string{"Gauze"}, Note: "used on a cut thumb, ordered"}
	}
	m.looked(m.hollis, 3, kit)
}
