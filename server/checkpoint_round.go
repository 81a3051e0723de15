package server

import (
	"context"
	"errors"
	"time"

	"stillsaw/server/store"
)

const (
	checkpointEvery = 10 * time.Minute
	checkpointLasts = 5 * time.Second // the last one, while the server stops
)

// checkpointsUntilStopped puts a checkpoint by whenever the record went on, and a
// last one as the server stops.
func (s *Server) checkpointsUntilStopped() {
	s.untilStopped(checkpointEvery, "no checkpoint was kept", func(ctx context.Context) error {
		return s.checkpointRound(ctx, store.KeptInPassing)
	})
	ending, cancel := context.WithTimeout(context.WithoutCancel(s.stopping), checkpointLasts)
	defer cancel()
	if err := s.checkpointRound(ending, store.KeptAtStop); err != nil {
		s.log.Error("no checkpoint was kept at the end", "error", err)
	}
}

// checkpointRound puts a checkpoint by where the record is another than the
// newest kept one saw. Without a mill or a key there is nothing to keep; the
// page Verify and the start of the server say so.
func (s *Server) checkpointRound(ctx context.Context, why string) error {
	mill, err := s.store.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	desk := s.store.Of(mill.ID)
	newest, err := desk.KeptCheckpoints(ctx, 1)
	if err != nil {
		return err
	}
	now, err := desk.Checkpoint(ctx)
	if errors.Is(err, store.ErrNoKey) {
		return nil
	}
	if err != nil || len(newest) > 0 && newest[0].Head == now.Head {
		return err
	}
	return desk.KeepCheckpoint(ctx, now, why, s.now().UTC())
}
