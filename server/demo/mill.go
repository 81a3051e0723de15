package demo

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/store"
)

// errNow ends the history: the next act would lie later than now.
var errNow = errors.New("the history has reached now")

// mill is the invented mill while its history is being told, in order of time.
type mill struct {
	crew
	ctx   context.Context //nolint:containedctx // one telling is one call
	st    *store.Store
	desk  *store.Mill
	about checklists.Mill
	plant procedures.Plant
	zone  *time.Location
	rng   *rand.Rand
	now   time.Time
	last  time.Time // of the newest act
}

func newMill(ctx context.Context, st *store.Store, now time.Time) (*mill, error) {
	about := checklists.Mill{
		ID: checklists.MillID(store.NewID()), Name: "Quillet Brook Mill", Zone: "America/New_York", Units: checklists.InchPound,
		SetUp: checklists.SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2,
			Hoist: "electric", Collector: "cyclone", SawDiameter: 1.3208, SpindleSpeed: 600},
		Shifts: []checklists.Shift{{Name: "Day", Start: 7 * 60, End: 15*60 + 30,
			Days: []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}}},
	}
	zone, err := about.Location()
	if err != nil {
		return nil, err
	}
	return &mill{crew: newCrew(), ctx: ctx, st: st, desk: st.Of(about.ID), about: about, zone: zone, now: now.UTC()}, nil
}

// at asks leave for an act at t: errNow when the history ends before it.
func (m *mill) at(t time.Time) (time.Time, error) {
	switch {
	case t.After(m.now):
		return t, errNow
	case t.Before(m.last):
		return t, fmt.Errorf("an act at %s would come before one at %s", t.In(m.zone), m.last.In(m.zone))
	}
	m.last = t
	return t.UTC(), nil
}

func (m *mill) history() error {
	first := m.now.In(m.zone).AddDate(0, 0, -63)
	for first.Weekday() != time.Monday {
		first = first.AddDate(0, 0, -1)
	}
	y, mo, d := first.Date()
	return m.setUp(time.Date(y, mo, d, 13, 0, 0, 0, m.zone))
}

// setUp is the first afternoon: the mill, its people, everything read and put
// in force.
func (m *mill) setUp(t time.Time) error {
	at, err := m.at(t)
	if err != nil {
		return err
	}
	digest, err := m.marta.digest()
	if err != nil {
		return err
	}
	set, err := server.Starter(m.about, m.marta.Person, digest, at)
	if err != nil {
		return err
	}
	m.plant = set.Plant
	if err := m.st.SetUp(m.ctx, set); err != nil {
		return err
	}
	for i, h := range m.all()[1:] {
		if at, err = m.at(t.Add(time.Duration(i+3) * time.Minute)); err != nil {
			return err
		}
		if digest, err = h.digest(); err != nil {
			return err
		}
		if err := m.desk.KeepPerson(m.ctx, store.NewID(), h.Person, digest, m.marta.Person, at); err != nil {
			return err
		}
	}
	return nil
}
