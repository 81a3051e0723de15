package demo

import (
	"math"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server"
	"stillsaw/server/store"
)

// Days on which the scale showed what it should not.
const (
	heldDownDay = 19 // the piece was still caught: put aside
	propDay     = 29 // one end still bore on the pile: flagged, not looked into yet
)

// weighOne lifts a piece on the crane scale on every second day: a green log of
// one kind or a part-dry cant of another.
func (m *mill) weighOne(d day) {
	if d.n < 5 || d.n%2 == 0 {
		return
	}
	pick := func(low, high, step float64) float64 { return steps(m.scale, low, high, step) }
	feet, small := pick(5, 6.5, 0.5), pick(11, 14, 0.5)
	mean, spread := 1.03, 0.045
	l := m.log("sugar maple", feet, small, small+0.5)
	if d.n%4 == 3 {
		mean, spread = 0.96, 0.05
		l = m.log("eastern hemlock", feet, small+2, small+2.5)
		l.Piece.Shape, l.Piece.Condition, l.Piece.Bark = lift.Slabbed, lift.PartDry, false
		for i := range 2 {
			l.Piece.Slabs[i] = pick(1.5, 2.5, 0.25) * float64(plain.Inch)
		}
	}
	share := mean + spread*max(-1.8, min(1.8, m.scale.NormFloat64()))
	switch d.n {
	case heldDownDay:
		share = 1.44
	case propDay:
		share = 0.64
	}
	m.later(7)
	id := m.lift(m.hollis, l)
	m.later(3)
	m.weigh(id, l.Piece, share, m.hollis, "")
	if d.n == heldDownDay {
		m.later(2)
		m.weigh(id, l.Piece, share, m.marta, "Lower edge was still caught behind the stake when this was read")
	}
}

// weigh enters a reading at which the wood weighs that share of what is
// predicted. Yoke, legs and end hooks hang below the scale, which tells 5 lb. A
// note puts it aside.
func (m *mill) weigh(id string, p lift.Piece, share float64, by *hand, note string) {
	const fine = 5 * float64(plain.Pound)
	gear := 0.0
	for _, l := range m.rig.Links {
		if l.Kind == lift.Yoke || l.Kind == lift.Leg || l.Kind == lift.EndHook {
			gear += l.OwnMass
		}
	}
	m.do("weigh a lift", func() error {
		const trial = 2000 * float64(plain.Pound)
		read, err := lift.CompareScale(p, trial, gear)
		if err != nil {
			return err
		}
		reading := fine * math.Round((trial-read.Weighed+share*read.Predicted)/fine)
		_, err = server.KeepWeighing(m.ctx, m.desk, store.NewID(), store.Weighing{Lift: id, Reading: reading, Gear: gear, Aside: note != "", Note: note}, by.Person, m.clock)
		return err
	})
}
