package server

import (
	"fmt"
	"math/rand/v2"
	"net"
	"slices"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"
)

// How soon a browser that lost the stream comes back: each is told a time of its own
// between these, so that after a restart not all of them come at once.
const (
	backSoonest = time.Second
	backLatest  = 4 * time.Second
)

// events is the stream a page listens to: "moved" with the length of the record
// at once and whenever it grows, "here" in between. A browser that comes back says
// by Last-Event-ID what length it heard of last, and is told of a move only if
// there was one. It tells nothing that is not on the first page, so anyone may
// listen, and whether somebody is signed in is not asked.
//
// The connection is taken from fasthttp: what it holds for a request under way, some
// 30 KB of buffers and stacks, would be held for as long as the page is open.
func (s *Server) events(c *fiber.Ctx) error {
	mill, err := s.store.TheMill(c.UserContext())
	if err != nil {
		return err
	}
	heard, err := strconv.ParseInt(c.Get("Last-Event-ID"), 10, 64)
	if err != nil {
		heard = -1
	}
	c.Set(fiber.HeaderContentType, "text/event-stream")
	c.Set(fiber.HeaderCacheControl, "no-store")
	c.Set("X-Accel-Buffering", "no")
	if c.Method() != fiber.MethodGet {
		return nil
	}
	address := s.addressOf(c)
	r := s.streams.join(mill.ID, address)
	if r == nil {
		c.Set(fiber.HeaderContentType, fiber.MIMETextPlainCharsetUTF8)
		c.Set(fiber.HeaderRetryAfter, "15") // as often as a page without a stream asks
		return c.Status(fiber.StatusServiceUnavailable).SendString("too many pages listen\n")
	}
	// Without a length the answer goes on until the connection ends, in every HTTP/1.
	c.Response().Header.SetConnectionClose()
	begin := slices.Clone(c.Response().Header.Header())
	back := backSoonest + rand.N(backLatest-backSoonest)
	begin = fmt.Appendf(begin, "retry: %d\nevent: here\ndata: %d\n\n", back.Milliseconds(), heard)
	hijack(c, func(conn net.Conn) {
		defer s.streams.leave(r, address)
		defer conn.Close()
		r.tell(conn, begin, heard)
	})
	return nil
}

// hijack takes the connection from fasthttp, which sends nothing more over it, and has
// answer write to it on a goroutine of its own and close it.
func hijack(c *fiber.Ctx, answer func(net.Conn)) {
	c.Context().HijackSetNoResponse(true)
	c.Context().Hijack(func(taken net.Conn) {
		conn := taken
		if whole, ok := taken.(interface{ UnsafeConn() net.Conn }); ok {
			conn = whole.UnsafeConn() // nothing more is read of it, so nothing was read ahead
		}
		go answer(conn)
	})
}
