package demo

// work is one day, from the walk before the shift to the lock for the night.
func (m *mill) work(d day, p plan) {
	if p.idle {
		return
	}
	m.morning(d, p)
	m.goTo(d.at(8, 10+m.rng.IntN(25)))
	m.usualLift(d, m.hollis)
	m.goTo(d.at(10, m.rng.IntN(20)))
	if p.forenoon != nil {
		p.forenoon()
	}
	m.goTo(d.at(12, 2+m.rng.IntN(4)))
	if p.noon != nil {
		p.noon()
	}
	m.goTo(d.at(13, 20+m.rng.IntN(25)))
	if d.n%3 == 1 {
		m.usualLift(d, m.oren)
	}
	m.weighOne(d)
	m.goTo(d.at(14, m.rng.IntN(25)))
	if p.afternoon != nil {
		p.afternoon()
	}
	m.lookAfterGear(d)
	m.monthlyLook(d)
	m.wear += 1.0 / 800
	m.bin += m.between(3, 9, 1)
	if m.bin > 70 {
		m.bin = 15 // emptied from outside at the end of the day
	}
	m.lockForTheNight(d)
}
