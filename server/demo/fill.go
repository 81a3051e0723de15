// Package demo makes an invented mill with some weeks of history, by the same
// domain calls and commands of the store as a real one. The mill, its people
// and its gear are made up; any likeness is chance.
package demo

import (
	"context"
	"errors"
	"time"

	"stillsaw/server/store"
)

// SignIn is somebody of the invented mill and what signs them in.
type SignIn struct{ Name, Secret, What string }

// Fill makes the mill in st, which must be empty, with a history of at least
// eight weeks that ends at now: whatever was under way then is under way, and
// nothing lies later. Ids and salts apart it is the same mill every time.
func Fill(ctx context.Context, st *store.Store, now time.Time) ([]SignIn, error) {
	m, err := newMill(ctx, st, now)
	if err != nil {
		return nil, err
	}
	m.history()
	if m.err != nil && !errors.Is(m.err, errNow) {
		return nil, m.err
	}
	return m.signIns(), nil
}

// history tells everything in order of time, until it reaches now.
func (m *mill) history() {
	days := m.days()
	m.setUp(days[0].at(13, 0))
	m.lockForTheNight(days[0])
	plans := m.plans(days)
	for i := 1; i < len(days) && m.err == nil; i++ {
		m.work(days[i], plans[i])
		m.keepCheckpoint()
	}
}
