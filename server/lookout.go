package server

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"
)

// What the log is told of that touches the guards of the server, beside what was
// refused.
const (
	signedInLine   = "signed in"
	wrongPINLine   = "wrong PIN or password"
	wrongTokenLine = "wrong token"
	wrongCodeLine  = "wrong set-up code"
	slowedLine     = "made to wait after wrong tries"
	refusedLine    = "refused"
	unreadLine     = "not read"
	crowdedLine    = "too many connections"
	heavyLine      = "too much under way"
	listenersLine  = "too many pages listening"
)

// Why something was refused, where the status alone does not tell.
const (
	forgedWhy  = "form of another site"
	roleWhy    = "not for the role"
	packedWhy  = "packed"
	lengthsWhy = "read in more than one way"
)

// linesOfASort is how many lines of one sort the log gets in a minute, each of
// another address or route; what comes beyond is one line more.
const linesOfASort = 20

// sight is what a line of the log tells: phones by their addresses, pages by their
// routes, nothing that somebody typed, and nobody by name or id: the log lies outside
// the record, where no drop reaches it.
type sight struct {
	what, why     string
	method, route string
	status        int
	address       string
}

// sort is what lines are bounded by.
func (s sight) sort() sight { return sight{what: s.what, why: s.why, status: s.status} }

// level: what happens to everybody is no warning.
func (s sight) level() slog.Level {
	switch {
	case s.what == signedInLine,
		s.what == refusedLine && (s.status == fiber.StatusUnauthorized || s.status == fiber.StatusConflict || s.status == fiber.StatusUnprocessableEntity):
		return slog.LevelInfo
	}
	return slog.LevelWarn
}

// lookout tells the log who signed in, rightly or not, and what was refused. The
// first of its kind in a minute is told at once. Those after it are counted, and
// their number is told with the first line of a later minute or when the server
// stops: a flood of them is few lines.
type lookout struct {
	log *slog.Logger
	now func() time.Time

	mu     sync.Mutex
	minute time.Time
	again  map[sight]int // how often since it was told
	sorts  map[sight]int // how many of again are of one sort
}

func newLookout(log *slog.Logger, now func() time.Time) *lookout {
	return &lookout{log: log, now: now, again: map[sight]int{}, sorts: map[sight]int{}}
}

// saw tells the log of one, or counts it.
func (l *lookout) saw(one sight) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if minute := l.now().Truncate(time.Minute); !minute.Equal(l.minute) {
		l.tellCounted()
		l.minute = minute
	}
	if _, told := l.again[one]; !told && l.sorts[one.sort()] >= linesOfASort {
		one = one.sort()
		one.address = "several"
	}
	if _, told := l.again[one]; told {
		l.again[one]++
		return
	}
	l.again[one] = 0
	l.sorts[one.sort()]++
	l.tell(one)
}

// tellCounted tells how often what was told in the minute came again in it.
func (l *lookout) tellCounted() {
	for one, times := range l.again {
		if times > 0 {
			l.tell(one, slog.Int("again", times), slog.Time("minute", l.minute.UTC()))
		}
	}
	clear(l.again)
	clear(l.sorts)
}

func (l *lookout) tell(one sight, more ...slog.Attr) {
	var all []slog.Attr
	add := func(name, value string) {
		if value != "" {
			all = append(all, slog.String(name, value))
		}
	}
	add("why", one.why)
	add("method", one.method)
	add("route", one.route)
	if one.status != 0 {
		all = append(all, slog.Int("status", one.status))
	}
	add("address", one.address)
	l.log.LogAttrs(context.Background(), one.level(), one.what, append(all, more...)...)
}

// end tells what was only counted until now.
func (l *lookout) end() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.tellCounted()
}

type noticedKey struct{}

// notice has the line of this request say what, and why.
func notice(c *fiber.Ctx, what, why string) {
	c.Locals(noticedKey{}, sight{what: what, why: why})
}

// answered tells of a request that was refused or in which somebody signed in. One
// for what is not there is no line: browsers ask for such by themselves.
func (s *Server) answered(c *fiber.Ctx, status int) {
	found, _ := c.Locals(noticedKey{}).(sight)
	if found.what == "" {
		if status < 400 || status >= 500 || status == fiber.StatusNotFound {
			return
		}
		found.what = refusedLine
	}
	found.method, found.route, found.status, found.address = c.Method(), c.Route().Path, status, s.addressOf(c)
	s.lookout.saw(found)
}

// failUnread answers what could not be read as a request: too long a body, too slow
// a one, no HTTP. Such a request has no route, and its method is whatever was sent.
// A browser's spare connection, on which nothing was asked, is none.
func (s *Server) failUnread(c *fiber.Ctx, err error) error {
	failed := s.fail(c, err)
	if len(c.Request().Header.RawHeaders()) > 0 || c.Response().StatusCode() != fiber.StatusRequestTimeout {
		s.lookout.saw(sight{what: unreadLine, status: c.Response().StatusCode(), address: s.addressOf(c)})
	}
	return failed
}
