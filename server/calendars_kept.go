package server

import (
	"sync"
	"time"

	"stillsaw/checklists"
)

// calendarsMost is how many calendars are kept prepared: of a year and of the last
// two weeks, mostly.
const calendarsMost = 4

// keptCalendars are calendars prepared from what is written down, until something
// more is: the record and the year are looked at by several, and read again by each.
type keptCalendars = keptUntil[daysOfMill, keptCalendar]

type daysOfMill struct {
	mill        checklists.MillID
	from, until int64
}

type keptCalendar struct {
	mu sync.Mutex
	c  *checklists.Calendar // nil until it was prepared
}

// calendar is the calendar of the days from one local midnight to another. Who asks
// for the same one meanwhile waits for it.
func (v *visit) calendar(from, until time.Time) (*checklists.Calendar, error) {
	changed := v.s.store.Changed() // before anything is read
	kept := v.s.calendars.of(daysOfMill{v.mill.ID, from.UnixMilli(), until.UnixMilli()}, changed, calendarsMost)
	if kept == nil {
		kept = &keptCalendar{}
	}
	kept.mu.Lock()
	defer kept.mu.Unlock()
	if kept.c != nil {
		return kept.c, nil
	}
	facts, err := v.desk.CalendarFacts(v.ctx(), from, until)
	if err != nil {
		return nil, err
	}
	kept.c, err = checklists.NewCalendar(facts)
	return kept.c, err
}
