package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// EnterDeparture puts on record something that happened against the rule: a
// fact, never refused to anyone of the mill. Its equipment is HELD from now
// until a supervisor closes it. Its error is a [plain.Problems] for
// "equipment", "what" and "happened".
func EnterDeparture(id DepartureID, equipment procedures.EquipmentID, what string, happened time.Time, photo string, by procedures.PersonID, plant procedures.Plant, now time.Time) (Departure, error) {
	var bad plain.Problems
	_, known := plant.Find(equipment)
	bad.Unless(known, "equipment", "a piece of equipment of this mill")
	what = strings.TrimSpace(what)
	bad.Unless(worded(what, LongestNote), "what", "what happened, in at most %d letters", LongestNote)
	bad.Unless(!happened.IsZero() && !happened.After(now), "happened", "when it happened, not later than now")
	if err := bad.Err(); err != nil {
		return Departure{}, err
	}
	return Departure{ID: id, Equipment: equipment, What: what, Happened: happened, By: by, At: now, Photo: photo}, nil
}

// Open tells whether the departure still holds its equipment.
func (d Departure) Open() bool { return d.ClosedAt.IsZero() }

// CloseDeparture ends the hold of a departure on a supervisor's signed reason.
// It stays on the record. Its error is a [plain.Problems] for "reason", or a
// [plain.Refusal].
func CloseDeparture(d Departure, by procedures.Person, reason string, now time.Time) (Departure, error) {
	if !by.Supervises() {
		return Departure{}, plain.Refuse("", "A departure is closed by the supervisor or the deputy.")
	}
	if !d.Open() {
		return Departure{}, plain.Refuse("", "This departure is closed already.")
	}
	if now.Before(d.At) {
		return Departure{}, plain.Refuse("", "The clock stands before the time this was entered. Set the clock right first.")
	}
	reason = strings.TrimSpace(reason)
	var bad plain.Problems
	bad.Unless(worded(reason, LongestNote), "reason", "what was done about it, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Departure{}, err
	}
	d.ClosedBy, d.ClosedAt, d.Reason = by.ID, now, reason
	return d, nil
}
