package checklists

import (
	"sync"
	"time"
)

// settled keeps what lists came to on days that no later look sees otherwise: a
// calendar is read again and again of the same facts, and most of its days are over.
type settled struct {
	mu   sync.Mutex
	days map[settledOf]settledDay
}

type settledOf struct {
	list ListID
	from int64 // of the day, in milliseconds since 1970
}

type settledDay struct {
	day  ListDay
	from time.Time // looked at from then on
}

func (s *settled) of(list ListID, day span, now time.Time) (ListDay, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	kept, known := s.days[settledOf{list, day.From.UnixMilli()}]
	return kept.day, known && !now.Before(kept.from)
}

// keep takes a day looked at now whose last moment that decides about it was at from.
func (s *settled) keep(list ListID, day span, one ListDay, from, now time.Time) {
	if now.Before(from) {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.days == nil {
		s.days = map[settledOf]settledDay{}
	}
	s.days[settledOf{list, day.From.UnixMilli()}] = settledDay{one, from}
}

// settles is from when on a list's day is seen as it was looked at: its own time is
// over, that of shifts that began on it, and the period it lies in.
func (c *Calendar) settles(list List, day span, one ListDay) time.Time {
	at := later(day.Until.Add(offShiftAfter), c.window(list, day).Until)
	for _, check := range one.Checks {
		at = later(at, check.Ends)
	}
	return at
}
