// Package demo makes an invented mill with some weeks of history, by the same
// domain calls and commands of the store as a real one. Mill, people and places
// are made up; any likeness is chance.
package demo

import (
	"context"
	"errors"
	"math/rand/v2"
	"time"

	"stillsaw/server/store"
)

// SignIn is somebody of the invented mill and what signs them in.
type SignIn struct{ Name, Secret, What string }

// Fill makes the mill in st, which must be empty, with a history of at least
// eight weeks that ends at now: whatever was under way then is under way.
// Nothing in it lies later than now. Ids apart it is the same mill every time.
func Fill(ctx context.Context, st *store.Store, now time.Time) ([]SignIn, error) {
	m, err := newMill(ctx, st, now)
	if err != nil {
		return nil, err
	}
	m.rng = rand.New(rand.NewPCG(1847, 52))
	if err := m.history(); err != nil && !errors.Is(err, errNow) {
		return nil, err
	}
	return m.signIns(), nil
}
