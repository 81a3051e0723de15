package demo

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// photographed puts in where the disconnects are, each marked in its photo.
func (m *mill) photographed() {
	places := map[procedures.DeviceID]struct {
		of picture
		at procedures.Point
	}{
		"saw-disconnect": {mainPanel, procedures.Point{X: .265, Y: .3}}, "set-disconnect": {mainPanel, procedures.Point{X: .505, Y: .3}},
		"fan-disconnect": {mainPanel, procedures.Point{X: .745, Y: .3}}, "hoist-disconnect": {hoistPost, procedures.Point{X: .49, Y: .44}},
	}
	for i := range m.plant {
		for j := range m.plant[i].Devices {
			d := &m.plant[i].Devices[j]
			if place, ok := places[d.ID]; ok {
				d.Photo, d.Point = m.photo(place.of), place.at
			}
		}
	}
}

// timed is Oren with a stopwatch: three times each thing that coasts, the
// longest of which counts from then on.
func (m *mill) timed() {
	for _, turning := range []struct {
		at      procedures.EquipmentID
		energy  procedures.EnergyID
		seconds [3]float64
	}{{"head-saw", "saw-rotation", [3]float64{94, 96, 91.5}}, {"dust-collection", "fan-rotation", [3]float64{143, 150, 148}}, {"off-bearing", "blower-rotation", [3]float64{68, 71, 70}}} {
		for _, seconds := range turning.seconds {
			m.later(1)
			m.do("measure a coast time", func() error {
				c := procedures.CoastMeasured{Energy: turning.energy, Seconds: seconds, By: m.oren.ID, At: m.clock.Add(-30 * time.Second), How: "Stopwatch from the stand, no cant, mark seen through the mesh"}
				return m.desk.KeepCoast(m.ctx, store.NewID(), turning.at, c, m.marta.Person, m.clock)
			})
		}
	}
	m.do("read the equipment", func() (err error) {
		m.plant, err = m.desk.Plant(m.ctx)
		return err
	})
}
