package server

import (
	"bufio"
	"errors"
	"fmt"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/server/store"
)

// hereEvery is how often an open page hears that the server is still there; a
// page that hears nothing for 30 s says NOT KNOWN.
const hereEvery = 8 * time.Second

// backAfter is how soon a browser that lost the stream comes back, in milliseconds.
const backAfter = 2000

// events is the stream a page listens to: "moved" with the length of the record
// at once and whenever it grows, "here" in between. A browser that comes back says
// by Last-Event-ID what length it heard of last, and is told of a move only if
// there was one. It tells nothing that is not on the first page, so anyone may
// listen.
func (s *Server) events(c *fiber.Ctx) error {
	v, err := s.visit(c)
	if err != nil {
		return err
	}
	desk := v.desk
	heard, err := strconv.ParseInt(c.Get("Last-Event-ID"), 10, 64)
	if err != nil {
		heard = -1
	}
	c.Set(fiber.HeaderContentType, "text/event-stream")
	c.Set(fiber.HeaderCacheControl, "no-store")
	c.Set("X-Accel-Buffering", "no")
	c.Context().SetBodyStreamWriter(func(out *bufio.Writer) {
		tick := time.NewTicker(hereEvery)
		defer tick.Stop()
		s.listening.Add(1)
		defer s.listening.Add(-1)
		last := heard
		if say(out, "retry: %d\nevent: here\ndata: %d\n\n", backAfter, last) != nil {
			return
		}
		for {
			changed := s.store.Changed()
			head, err := desk.Head(s.stopping)
			if err != nil && !errors.Is(err, store.ErrNotFound) {
				return // the page finds out by hearing nothing more
			}
			if head.Size != last {
				last = head.Size
				if say(out, "event: moved\nid: %d\ndata: %d\n\n", last, last) != nil {
					return
				}
			}
			select {
			case <-changed:
			case <-tick.C:
				if say(out, "event: here\ndata: %d\n\n", last) != nil {
					return
				}
			case <-s.stopping.Done():
				return
			}
		}
	})
	return nil
}

func say(out *bufio.Writer, format string, args ...any) error {
	if _, err := fmt.Fprintf(out, format, args...); err != nil {
		return err
	}
	return out.Flush()
}
