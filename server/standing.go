package server

import (
	"context"
	"errors"
	"math/rand/v2"
	"reflect"
	"sync"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

const (
	standEvery  = 3 * time.Second // how often it is looked which mills wrote something
	standAnyway = time.Minute     // what holds a machine changes with the time, too
	standTold   = 5 * time.Minute // one that stays the same is written again, to say so
	standLasts  = 10 * time.Second
	standAtOnce = 4 // mills reckoned at a time
)

// stood is what was told last of a mill to the page across mills. One goroutine at a
// time has it.
type stood struct {
	standing checklists.MillStanding
	changed  <-chan struct{} // closed once something was written since it was reckoned
	reckoned time.Time       // zero: not yet
	written  time.Time
}

// due tells whether the mill is to be reckoned again.
func (t *stood) due(now time.Time) bool {
	select {
	case <-t.changed:
		return true
	default:
		return t.reckoned.IsZero() || now.Sub(t.reckoned) >= standAnyway
	}
}

// standUntilStopped tells how this process's mills stand: one clock for all of them,
// however many.
func (m *Mills) standUntilStopped() {
	for m.rests(standEvery) {
		m.stand(time.Now())
	}
}

// stand reckons the mills that are due. What is waited for is told by wait, a clock
// that goes on where the mills' own stands still.
func (m *Mills) stand(wait time.Time) {
	m.stands.Lock()
	defer m.stands.Unlock()
	var work sync.WaitGroup
	places := make(chan struct{}, standAtOnce)
	for _, here := range m.here() {
		if here.hold.Lost() || !here.stood.due(wait) {
			continue
		}
		places <- struct{}{}
		work.Go(func() {
			defer func() { <-places }()
			ctx, cancel := context.WithTimeout(m.over, standLasts)
			defer cancel()
			if err := m.tell(ctx, here, wait); err != nil && m.over.Err() == nil && !here.hold.Lost() {
				here.server.log.Warn("how the mill stands can't be told", "error", err)
			}
		})
	}
	work.Wait()
}

// here are the mills this process has that are open, by their hosts.
func (m *Mills) here() map[string]*millHere {
	m.mu.Lock()
	defer m.mu.Unlock()
	open := make(map[string]*millHere, len(m.mills))
	for host, here := range m.mills {
		select {
		case <-here.ready:
			if here.err == nil {
				open[host] = here
			}
		default:
		}
	}
	return open
}

// tell writes down how the mill stands now, where that is another than before or was
// not said for a while. It is reckoned anew at another moment of the minute each time,
// so that mills opened together don't stay together.
func (m *Mills) tell(ctx context.Context, here *millHere, wait time.Time) error {
	t := &here.stood
	t.changed = here.store.Changed() // before anything is read
	t.reckoned = wait.Add(-rand.N(standAnyway / 6))
	now := here.server.now().UTC()
	standing, err := here.server.standing(ctx, now)
	if errors.Is(err, store.ErrNotFound) {
		return nil // nothing is set up
	}
	if err != nil || reflect.DeepEqual(standing, t.standing) && wait.Sub(t.written) < standTold {
		return err
	}
	if err := m.config.DB.KeepStanding(ctx, here.hold, standing, now); err != nil {
		return err
	}
	t.standing, t.written = standing, wait
	return nil
}

// standing is how the mill stands, from the facts its first page is made of.
func (s *Server) standing(ctx context.Context, now time.Time) (standing checklists.MillStanding, err error) {
	mill, err := s.store.TheMill(ctx)
	if err != nil {
		return standing, err
	}
	desk := s.store.Of(mill.ID)
	facts, err := desk.Facts(ctx, now)
	if err != nil {
		return standing, err
	}
	head, err := desk.Head(ctx)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return standing, err
	}
	return checklists.StandingOf(facts, head.Size, now), nil
}
