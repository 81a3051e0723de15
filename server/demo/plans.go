package demo

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

// plan is what is out of the ordinary on one day.
type plan struct {
	late                      bool            // the check begins too late
	idle                      bool            // nobody works
	found                     func() findings // nil: everything as it should be
	repair                    repair          // of what was found and stops a machine
	forenoon, noon, afternoon func()
}

// Days of the history, counted from the set-up, that are told of by number.
const (
	lineDay  = 24 // the power company works on the line: the mill is closed
	stormDay = 28 // nobody gets through: the check is missed
)

// plans are those of every day.
func (m *mill) plans(days []day) []plan {
	plans := make([]plan, len(days))
	days[lineDay-1].next = days[lineDay].next // known beforehand
	for i := range days {
		plans[i].noon = m.usualJob(days[i])
	}
	told := m.told(days)
	for i := range plans {
		if p, special := told[i]; special {
			if p.noon == nil && p.repair.item == "" {
				p.noon = plans[i].noon
			}
			plans[i] = p
		}
	}
	for i := range days {
		if days[i].final {
			m.ductOpen(&plans[i], days[i])
		}
	}
	return plans
}

// told is the story of the mill by day.
func (m *mill) told(days []day) map[int]plan {
	return map[int]plan{
		2:  {forenoon: func() { m.lift(m.perrin, m.log("sugar maple", 8, 24, 26)) }},
		3:  m.fullBin(days[3]),
		18: m.fullBin(days[18]),
		32: m.fullBin(days[32]),
		35: {afternoon: m.settleKeeping},
		34: {afternoon: m.logRolled},
		5: {found: func() findings {
			return findings{"S7": {Result: checklists.Found, Note: "Splitter shakes: one of its bolts has backed out", Photo: m.photo(looseWedge)}}
		},
			repair: repair{item: "S7", waits: "Head rig still locked, splitter loose", by: m.oren, back: m.imre,
				note: "New bolt and lock washer, splitter set in line with the saw", after: tightWedge, seen: "Shook it, spanner on every bolt, in line with the plate"}},
		7: {forenoon: func() { m.lift(m.hollis, m.log("white ash", 41.0/12, 15, 16)) }},
		9: {forenoon: m.stopTheHoist, afternoon: m.wroteTooMuch},
		11: {forenoon: func() {
			l := m.log("northern red oak", 6.5, 14, 15)
			l.Questions.Free = lift.No
			m.lift(m.hollis, l)
		}},
		12: {afternoon: m.reachedIn},
		13: {noon: func() {
			m.service("dogs-and-knees", "Dress the dog points", m.oren, m.delphine, 28, func() { m.lift(m.hollis, m.log("yellow birch", 6, 13, 14)) })
		}},
		14: {afternoon: m.stickOnTheList},
		16: {forenoon: func() {
			l := m.log("", 7, 19, 20.5)
			l.Piece.Species = lift.Species{}
			m.lift(m.perrin, l)
		}},
		17: {found: func() findings {
			return findings{"A3": {Result: checklists.Found, Note: "Lamp over hook-up is out", StopGap: "Work lamp on a stand, out of the way of the load", MendBy: days[17].at(15, 0)}}
		},
			afternoon: func() {
				m.mend(m.found("A3"), m.imre, "New lamp in the old fitting, power off at its switch and tried", "")
				m.later(12)
				m.back(m.found("A3"), m.perrin, "A pencil line can be seen")
			}},
		19: {forenoon: func() { m.lift(m.oren, m.log("American beech", 95.0/12, 13, 14)) }},
		20: {late: true},
		22: {found: func() findings {
			return findings{"H7": {Result: checklists.NotChecked, Note: "Truck stood under the hook until the shift began"}}
		},
			forenoon: func() {
				m.allowRun(m.oren, "hoist")
				m.later(5)
				m.amend(m.oren, checklists.Answer{Item: "H7", Result: checklists.OK, Note: "Truck gone, empty hook run up slowly: it stops by itself"})
			}},
		23:      {afternoon: func() { m.closeFor(days[lineDay]) }},
		lineDay: {idle: true},
		25: {forenoon: func() {
			l := m.log("black cherry", 6, 13, 14)
			l.Rig.Links = append([]lift.Link(nil), l.Rig.Links...)
			for i := range l.Rig.Links {
				if l.Rig.Links[i].Kind == lift.Yoke {
					l.Rig.Links[i].TagReadable = false
				}
			}
			m.lift(m.delphine, l)
		}, afternoon: func() { m.later(10); m.lift(m.delphine, m.log("black cherry", 6, 13, 14)) }},
		26: {found: func() findings {
			return findings{"K4": m.number(5.0/64, checklists.Answer{Note: "Rear knee runs ahead of the front one", StopGap: "Each board measured at both ends", MendBy: days[26].at(15, 0)})}
		},
			noon: func() {
				m.service("dogs-and-knees", "New setworks pawl", m.imre, m.oren, 34, func() { m.mend(m.found("K4"), m.imre, "New pawl, rack cleaned", "") })
				m.later(5)
				m.back(m.found("K4"), m.delphine, "Three sets measured, knees together")
				m.wear = 1.0 / 64
			}},
		stormDay: {idle: true},
		29:       {afternoon: func() { m.perrin.Left = true; m.keep(m.perrin, "") }},
		30: {afternoon: func() {
			m.train(m.hollis)
			m.hollis.Authorized = true
			m.keep(m.hollis, "")
			m.later(10)
			m.inspectProcedure()
			m.exchange()
		}},
		21: {noon: m.triedUnderPower},
		27: {noon: m.handedOver},
		31: {forenoon: func() { m.lift(m.hollis, m.log("sugar maple", 7, 21, 23)) }},
		33: {found: func() findings {
			return findings{"C2": {Result: checklists.Found, Note: "Crack across the rubber of the bumper at the saw end", Photo: m.photo(crackedEnd)}}
		},
			repair: repair{item: "C2", waits: "Carriage held, bumper cracked", procedure: "carriage", task: "New bumper at the saw end", by: m.imre, back: m.oren,
				note: "New rubber, two new bolts", after: newBumper, seen: "Pushed with a foot, both bolts tight"}},
		36: {forenoon: func() {
			m.newHasp()
			m.rewordHoist()
			m.later(5)
			l := m.log("eastern hemlock", 6.5, 15, 16)
			l.Questions.NobodyUnder = lift.Unanswered
			m.lift(m.hollis, l)
		}},
		38: {forenoon: func() { m.lift(m.oren, m.log("white oak", 7, 20, 22)) }},
	}
}

// fullBin is a morning with the bin nearly full, emptied at noon.
func (m *mill) fullBin(d day) plan {
	return plan{
		found: func() findings {
			return findings{"X2": m.number(88, checklists.Answer{Note: "Bin nearly full, nobody emptied it yesterday", StopGap: "Looked at every hour, emptied at noon", MendBy: d.at(15, 0)})}
		},
		noon: func() {
			m.service("dust-collection", "Empty the bin", m.delphine, nil, 22, func() { m.mend(m.found("X2"), m.delphine, "Emptied from outside", "") })
			m.later(3)
			m.back(m.found("X2"), m.oren, "Bin empty, door shut")
			m.bin = 10
		}}
}

func (m *mill) number(x float64, a checklists.Answer) checklists.Answer {
	a.Number = &x
	return a
}

// ductOpen leaves a defect for the day after the history to mend.
func (m *mill) ductOpen(p *plan, d day) {
	by := onWall(d.date.AddDate(0, 0, 9), d.zone, 15, 0)
	p.found = func() findings {
		return findings{"X4": {Result: checklists.Found, Note: "Seam of the duct behind the saw has opened a hand's width", StopGap: "Taped; looked at each hour", MendBy: by, Photo: m.photo(tapedDuct)}}
	}
	before := p.forenoon
	p.forenoon = func() {
		if before != nil {
			before()
		}
		m.careForDuct()
	}
}

// closeFor says beforehand that the mill is closed on a day.
func (m *mill) closeFor(d day) {
	m.about.Closed = append(m.about.Closed, checklists.Closure{From: onWall(d.date, d.zone, 0, 0).UTC(),
		Until: onWall(d.date.AddDate(0, 0, 1), d.zone, 0, 0).UTC(), Reason: "The power company works on the line"})
	m.do("close for a day", func() error {
		return m.desk.ChangeMill(m.ctx, store.NewID(), m.about, m.marta.Person, m.clock)
	})
}

// usualJob is what is serviced at noon on two days of the week, nil on others.
func (m *mill) usualJob(d day) func() {
	weekday := d.date.Weekday()
	if weekday != time.Tuesday && weekday != time.Thursday {
		return nil
	}
	jobs := []struct {
		procedure  procedures.ProcedureID
		task       string
		by, helper *hand
		minutes    int
	}{
		{"head-saw", "Change teeth, clean the shanks", m.imre, m.delphine, 32},
		{"dust-collection", "Clear the fan wheel, grease its bearings", m.delphine, nil, 24},
		{"carriage", "Take up the feed rope", m.imre, m.oren, 26},
		{"hoist", "Oil the load chain, look the hook over", m.imre, nil, 18},
		{"head-saw", "Put the other saw on", m.oren, m.imre, 36},
		{"dust-collection", "Change the fan belt", m.imre, m.delphine, 28},
	}
	j := jobs[(d.n/2)%len(jobs)]
	return func() {
		m.service(j.procedure, j.task, j.by, j.helper, j.minutes, nil)
		if j.task == "Put the other saw on" {
			m.changeSaws(j.by)
		}
	}
}
