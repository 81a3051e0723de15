package server

import (
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

// registered is the rig with what was entered of its parts, and with those
// marked that hung idle.
func registered(r lift.Rig, g store.Gear, now time.Time) lift.Rig {
	looked := lookedOf(g)
	return r.Registered(looked, takenOf(g)).Idled(g.Uses, looked, now)
}

func lookedOf(g store.Gear) []lift.Looked {
	all := make([]lift.Looked, len(g.Inspections))
	for i, in := range g.Inspections {
		every, err := lift.ParseEvery(in.Every)
		if err != nil {
			every = lift.EveryUnknown // of a later Stillsaw: it passes nothing, and not fit is not fit
		}
		all[i] = lift.Looked{Link: in.Link, Every: every, Fit: in.Fit && every != lift.EveryUnknown, At: in.At}
	}
	return all
}

func takenOf(g store.Gear) []lift.Taken {
	all := make([]lift.Taken, len(g.Measurements))
	for i, m := range g.Measurements {
		all[i] = taken(m)
	}
	return all
}

func taken(m store.GearMeasurement) lift.Taken {
	return lift.Taken{Link: m.Link, What: m.What, Value: m.Value, New: m.New, At: m.At}
}
