package demo

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// errNow ends the history: the next act would lie later than now.
var errNow = errors.New("the history has reached now")

// mill is the invented mill while its history is told. Every act happens at
// clock. After the first error, errNow among them, acts do nothing, so that the
// telling needs no check after each.
type mill struct {
	crew
	ctx   context.Context // of the one call of Fill
	st    *store.Store
	desk  *store.Mill
	about checklists.Mill
	plant procedures.Plant
	rig   rigged
	zone  *time.Location
	rng   *rand.Rand
	scale *rand.Rand // of what is weighed, so that weighing leaves the rest as it is told
	now   time.Time
	clock time.Time
	err   error

	list      checklists.List                                 // in force
	papers    map[procedures.ProcedureID]procedures.Procedure // in force
	certified procedures.ProcedureInspectionID                // the inspection of a procedure
	photos    map[picture]string                              // digests of those taken so far
	night     *job                                            // the lock left on overnight
	wear      float64                                         // of the setworks: how far the knees differ, inches
	bin       float64                                         // how full the dust bin is, percent
	saw       int                                             // which of the two saws is on
	saws      []checklists.BladeID                            // of the register
	safety    []checklists.SafetyID                           // extinguishers and the first-aid kit
	walked    checklists.InspectionID                         // this morning's
}

func newMill(ctx context.Context, st *store.Store, now time.Time) (*mill, error) {
	about := checklists.Mill{
		ID: st.NewMillID(), Name: "Quillet Brook Mill", Zone: "America/New_York", Units: checklists.InchPound,
		SetUp: checklists.SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2,
			Hoist: "electric", Collector: "cyclone", Setworks: "powered", OffBearing: "powered", SawDiameter: 1.3208, SpindleSpeed: 600}, // a saw of 52 in
		Shifts: []checklists.Shift{{Name: "Day", Start: 7 * 60, End: 15*60 + 30, Days: workingDays()}},
	}
	zone, err := about.Location()
	if err != nil {
		return nil, err
	}
	hands := newCrew()
	hands.imre.LiftingNote, hands.imre.LiftingUntil = "Rigger's course of two days, Brackwater", now.AddDate(0, 0, 20).UTC()
	return &mill{crew: hands, ctx: ctx, st: st, desk: st.Of(about.ID), about: about, zone: zone, rng: rand.New(rand.NewPCG(1847, 52)), scale: rand.New(rand.NewPCG(1847, 53)), now: now.UTC(),
		papers: map[procedures.ProcedureID]procedures.Procedure{}, photos: map[picture]string{}, wear: 1.0 / 64, bin: 35}, nil
}

// goTo moves the clock to t.
func (m *mill) goTo(t time.Time) {
	switch {
	case m.err != nil:
	case t.After(m.now):
		m.err = errNow
	case t.Before(m.clock):
		m.err = fmt.Errorf("an act at %s would come before one at %s", t.In(m.zone), m.clock.In(m.zone))
	default:
		m.clock = t.UTC()
	}
}

// later moves the clock on by some minutes.
func (m *mill) later(minutes int) { m.goTo(m.clock.Add(time.Duration(minutes) * time.Minute)) }

// do runs one act unless an earlier one ended the history.
func (m *mill) do(what string, act func() error) {
	if m.err != nil {
		return
	}
	if err := act(); err != nil {
		m.err = fmt.Errorf("%s at %s: %w", what, m.clock.In(m.zone), err)
	}
}

// between is a number from low to high, in steps of step.
func (m *mill) between(low, high, step float64) float64 { return steps(m.rng, low, high, step) }

func steps(rng *rand.Rand, low, high, step float64) float64 {
	return low + step*float64(rng.IntN(int((high-low)/step+0.5)+1))
}
