package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// ClockTolerance is how far the time of a request may lie behind the newest
// entry before the clock counts as wrong: somebody else's act may be written
// while a request is under way. Common practice, no source.
const ClockTolerance = 2 * time.Minute

// ClockConfirmation is a supervisor's word that the computer's clock is right
// again: whatever was entered before it with a later time has a wrong time.
type ClockConfirmation struct {
	Confirmed time.Time `json:"confirmed"` // what the clock showed, and shows rightly
}

// ClockBehind tells whether the clock stands before the newest entry, which
// holds everything.
func (f Facts) ClockBehind(now time.Time) bool { return f.LastEntry.After(now.Add(ClockTolerance)) }

// ConfirmClock ends the hold of a clock that ran ahead once and is right now,
// on a supervisor's word. Its error is a [plain.Refusal].
func ConfirmClock(f Facts, by procedures.Person, now time.Time) (ClockConfirmation, error) {
	if !by.Supervises() {
		return ClockConfirmation{}, plain.Refuse("", "The clock is confirmed by the supervisor or the deputy.")
	}
	if !f.ClockBehind(now) {
		return ClockConfirmation{}, plain.Refuse("", "No entry has a later time than the clock shows, so there is nothing to confirm.")
	}
	return ClockConfirmation{Confirmed: now}, nil
}

// redated is a time as it counts since the clock was confirmed, the zero time
// if it never was: one still to come was taken off the wrong clock, and is put
// where that clock was set right.
func redated(at, confirmed, now time.Time) time.Time {
	if !confirmed.IsZero() && !confirmed.After(now) && at.After(now) {
		return confirmed
	}
	return at
}

// Redated is the defect without times off a clock that ran ahead, so that it
// can be mended and returned before they come.
func (d Defect) Redated(confirmed, now time.Time) Defect {
	d.At, d.MendedAt = redated(d.At, confirmed, now), redated(d.MendedAt, confirmed, now)
	return d
}

// Redated is the departure without a time off a clock that ran ahead, so that
// it can be closed before that comes.
func (d Departure) Redated(confirmed, now time.Time) Departure {
	d.At = redated(d.At, confirmed, now)
	return d
}

// Redated is the incident without a time off a clock that ran ahead, so that it
// can be closed before that comes.
func (i Incident) Redated(confirmed, now time.Time) Incident {
	i.At = redated(i.At, confirmed, now)
	return i
}
