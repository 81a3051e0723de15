package server

import (
	"context"
	"time"
)

// untilStopped makes a round now and one after every rest, until the server
// stops. A round that fails is logged as failed; the next one tries again.
func (s *Server) untilStopped(rest time.Duration, failed string, round func(context.Context) error) {
	again := time.NewTicker(rest)
	defer again.Stop()
	for {
		if err := round(s.stopping); err != nil && s.stopping.Err() == nil {
			s.log.Error(failed, "error", err)
		}
		select {
		case <-s.stopping.Done():
			return
		case <-again.C:
		}
	}
}
