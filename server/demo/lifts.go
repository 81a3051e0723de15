package demo

import (
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server"
	"stillsaw/server/store"
)

// log is a round log on its way to the carriage: length in feet, diameters of
// its ends in inches, hooks in its ends, every question answered yes.
func (m *mill) log(species string, feet, small, large float64) lift.Lift {
	inch := float64(plain.Inch)
	kind, _ := lift.FindSpecies(species)
	return lift.Lift{
		Piece: lift.Piece{Shape: lift.Round, Length: feet * 12 * inch, Small: small * inch, Large: large * inch, Species: kind, Condition: lift.Green, Bark: true},
		Rig:   m.rig.Rig, Span: (feet*12 - 2) * inch, Placing: lift.AtEnds,
		Questions: lift.Questions{LandingClear: lift.Yes, NobodyUnder: lift.Yes, LatchClosed: lift.Yes, Free: lift.Yes, TrialLift: lift.Yes, Seated: lift.Yes},
	}
}

// cant is a log with two to four faces sawn, as it comes back for its next cut.
func (m *mill) cant(species string, feet, small, large float64, faces int) lift.Lift {
	l := m.log(species, feet, small, large)
	l.Piece.Shape = lift.Slabbed
	for i := range faces {
		l.Piece.Slabs[i] = m.between(1.5, 2.5, 0.25) * float64(plain.Inch)
	}
	return l
}

// usualLift is one of the lifts of a day that somebody keeps.
func (m *mill) usualLift(d day, by *hand) {
	kinds := sawnHere()
	kind := kinds[m.rng.IntN(len(kinds))]
	feet, small := m.between(5, 6.5, 0.5), m.between(11, 15, 0.5)
	l := m.log(kind, feet, small, small+m.between(0.5, 1, 0.5))
	if d.n%2 == 0 {
		l = m.cant(kind, feet, small+1, small+1.5, 2+m.rng.IntN(3))
	}
	m.lift(by, l)
	if d.n%4 == 2 {
		m.run(by, l.Questions)
	}
}

// run lifts two more like the piece lifted last on its check, if it was a GO.
func (m *mill) run(by *hand, answers lift.Questions) {
	var last []store.Lift
	m.do("find the last lift", func() (err error) {
		last, err = m.desk.Lifts(m.ctx, 1)
		return err
	})
	if len(last) == 0 || !last[0].Go {
		return
	}
	for range 2 {
		m.later(6)
		m.do("keep a lift of a run", func() error {
			_, err := server.KeepLiftOfRun(m.ctx, m.desk, store.NewID(), store.LiftOfRun{Lift: last[0].ID, Alike: lift.Yes, AsSet: lift.Yes, Questions: answers}, by.Person, m.clock)
			return err
		})
	}
}

// lift checks a lift from the yard onto the carriage and keeps the answer; it
// returns the kept lift's id.
func (m *mill) lift(by *hand, l lift.Lift) (id string) {
	m.do("keep a lift", func() (err error) {
		id, err = server.KeepLift(m.ctx, m.desk, store.NewID(), store.Lift{Rig: m.rig.ID, RigVersion: m.rig.version, Hoist: "hoist", LandsOn: "carriage"}, l, "", by.Person, m.clock)
		return err
	})
	return id
}
