package server

import (
	"context"
	"errors"
	"net/http"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"
)

// Slow requests are named in the log.
const slowRequest = 2 * time.Second

// readyFor is how long an answer of /readyz holds: it costs a turn of the writer
// and a write to the disk, and anybody may ask.
const readyFor = 5 * time.Second

// readiness is the last answer of /readyz.
type readiness struct {
	mu   sync.Mutex
	at   time.Time
	last error
}

// measured counts each request and names the slow ones, by their route alone:
// what stands in the place of its parameters and who asked is nobody's business.
func (s *Server) measured(c *fiber.Ctx) error {
	began := s.now()
	err := c.Next()
	if err != nil { // answered here, so that the status counted is the one sent
		err = s.fail(c, err)
	}
	took := s.now().Sub(began)
	route, status := c.Route().Path, c.Response().StatusCode()
	s.meter.Request(c.Method(), route, status, took)
	s.answered(c, status)
	if took >= slowRequest {
		s.log.Warn("slow request", "method", c.Method(), "route", route, "status", status, "took", took.Round(time.Millisecond).String())
	}
	return err
}

// healthy says that the process answers.
func (s *Server) healthy(c *fiber.Ctx) error {
	c.Set(fiber.HeaderCacheControl, "no-store")
	return c.SendString("answers\n")
}

// ready says whether acts can be written down now. Why not stands in the log: it
// may name folders of this computer.
func (s *Server) ready(c *fiber.Ctx) error {
	c.Set(fiber.HeaderCacheControl, "no-store")
	if err := s.Ready(c.UserContext()); err != nil {
		return c.Status(fiber.StatusServiceUnavailable).SendString("can't write anything down; the log says why\n")
	}
	return c.SendString("ready\n")
}

// Ready tells whether acts can be written down, as it was at most some seconds ago.
func (s *Server) Ready(ctx context.Context) error {
	r := &s.readiness
	r.mu.Lock()
	defer r.mu.Unlock()
	now := s.now()
	if since := now.Sub(r.at); !r.at.IsZero() && since >= 0 && since < readyFor {
		return r.last
	}
	was := r.last
	r.at, r.last = now, s.store.Ready(ctx)
	switch {
	case r.last != nil && !errors.Is(r.last, context.Canceled):
		s.log.Error("not ready", "err", r.last)
	case was != nil:
		s.log.Info("ready again")
	}
	return r.last
}

// Watch answers at an address of its own, which is not for phones: /metrics for
// Prometheus, /healthz and /readyz.
func (s *Server) Watch() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", s.meter.Handler())
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { w.Write([]byte("answers\n")) })
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, r *http.Request) {
		if err := s.Ready(r.Context()); err != nil {
			http.Error(w, "can't write anything down: "+err.Error(), http.StatusServiceUnavailable)
			return
		}
		w.Write([]byte("ready\n"))
	})
	return mux
}
