package demo

import (
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// Days of the gear: measured each ninth working day from the fifth on, looked
// over at every second of these, which is less than a month apart.
const (
	firstGearDay = 4
	gaugeDays    = 9
	roundDays    = 2 * gaugeDays
)

// gauged is one size of a part as it was read at each measuring, in inches.
// The sizes are invented; they wear toward the limit and stay within it.
type gauged struct {
	link, what, note string
	asNew            float64
	read             [5]float64
}

func gaugedParts() []gauged {
	return []gauged{
		{link: "legs", what: "link", note: "Rear leg, third link above the hook", read: [5]float64{0.379, 0.377, 0.376, 0.374, 0.373}},
		{link: "legs", what: "reach", note: "Rear leg, the longer of the two", asNew: 30, read: [5]float64{30.020, 30.026, 30.030, 30.036, 30.041}},
		{link: "hoist-hook", what: "throat", asNew: 1.060, read: [5]float64{1.066, 1.069, 1.071, 1.075, 1.077}},
		{link: "end-hooks", what: "throat", note: "The wider of the pair", asNew: 4, read: [5]float64{4.035, 4.047, 4.058, 4.072, 4.081}},
	}
}

// lookAfterGear is the monthly inspection of every part, and the measuring
// between, by the millwright, who is qualified for lifting gear.
func (m *mill) lookAfterGear(d day) {
	since := d.n - firstGearDay
	if since < 0 || since%gaugeDays != 0 {
		return
	}
	m.later(4)
	if since%roundDays == 0 {
		m.inspectGear(since == 0)
		m.later(4)
	}
	for _, g := range gaugedParts() {
		m.later(2)
		m.gauge(g, since/gaugeDays)
	}
}

func (m *mill) gauge(g gauged, times int) {
	inch := float64(plain.Inch)
	m.do("measure "+g.link, func() error {
		_, err := m.desk.KeepGearMeasurement(m.ctx, store.NewID(), store.GearMeasurement{Rig: m.rig.ID, Link: g.link, What: g.what,
			Value: g.read[times] * inch, New: g.asNew * inch, Note: g.note}, m.imre.Person, m.clock)
		return err
	})
}

// inspectGear looks over every part in one go; the first time the plates are
// photographed too.
func (m *mill) inspectGear(first bool) {
	notes, plates := map[string]string{"hoist-hook": "Latch closes by itself", "legs": "Links wiped clean, no nick or bend", "end-hooks": "Points dressed, no crack seen"}, map[string]string{}
	if first {
		plates = map[string]string{"hoist": m.photo(hoistPlate), "yoke": m.photo(yokeStamp), "legs": m.photo(legTag)}
	}
	var all []store.GearInspection
	for i := range m.rig.Links {
		id := m.rig.Links[i].ID
		all = append(all, store.GearInspection{Rig: m.rig.ID, Link: id, Every: lift.EveryMonth.String(), Fit: true, Note: notes[id], Photo: plates[id]})
	}
	m.do("inspect the gear", func() error {
		_, err := m.desk.KeepGearInspections(m.ctx, store.NewID(), all, lift.EveryMonth.Thorough(), m.imre.Person, m.clock)
		return err
	})
}
