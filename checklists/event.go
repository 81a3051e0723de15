package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// EventID names one reported event.
type EventID string

// Event is something that happened and calls for a check: reported by somebody,
// or following from what is kept anyway.
type Event struct {
	ID        EventID                `json:"id"` // "" for one that follows from something else
	Kind      EventKind              `json:"kind"`
	Equipment procedures.EquipmentID `json:"equipment"` // "" or the site: the mill as a whole
	Happened  time.Time              `json:"happened"`
	Note      string                 `json:"note"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"` // when it was reported

	Defect DefectID `json:"-"` // that it follows from
}

// Quiet is a stretch without any signed check; Until is zero while it lasts.
type Quiet struct{ From, Until time.Time }

// ReportedWithin is how far back an event may be entered. Common practice, no source.
const ReportedWithin = 31 * 24 * time.Hour

// Report takes the word of somebody of the crew that something happened that
// calls for a check. Happened is when, the zero time for now. Its error is a
// [plain.Refusal], or a [plain.Problems] for "kind", "equipment", "happened" and
// "note". An idle time is found by itself; a shock load is reported at the
// hoist, [Shocked].
func Report(e Event, plant procedures.Plant, by procedures.Person, now time.Time) (Event, error) {
	if !by.Works() {
		return Event{}, plain.Refuse("", "Only somebody of the crew reports what happened. Sign in as yourself.")
	}
	var bad plain.Problems
	bad.Unless(e.Kind.Reported(), "kind", "what happened, of the list")
	_, known := plant.Find(e.Equipment)
	bad.Unless(known, "equipment", "a piece of equipment of this mill, or the mill as a whole")
	if e.Happened.IsZero() {
		e.Happened = now
	}
	bad.Unless(!e.Happened.After(now) && now.Sub(e.Happened) <= ReportedWithin, "happened", "a time before now, at most a month ago")
	bad.Unless(tidy(e.Note, LongestNote), "note", "at most %d letters", LongestNote)
	e.By, e.At = by.ID, now
	return e, bad.Err()
}

// Reported tells whether somebody reports such an event here.
func (k EventKind) Reported() bool { return k.Known() && k != Idle && k != ShockLoad }

// events are those reported and those that follow from defects: a shock load
// from the defect that holds its hoist, a repair from a return to service.
func (f Facts) events() []Event {
	var all []Event
	all = append(all, f.Events...)
	all = append(all, f.bladeEvents()...)
	for _, d := range f.Defects {
		if d.ShockLoad {
			all = append(all, d.event(ShockLoad, d.At))
		}
	}
	for _, d := range f.Returned {
		if d.ShockLoad {
			all = append(all, d.event(ShockLoad, d.At))
			continue
		}
		all = append(all, d.event(Repair, d.ReturnedAt))
	}
	return all
}

func (d Defect) event(kind EventKind, at time.Time) Event {
	return Event{Kind: kind, Equipment: d.Equipment, Happened: at, Note: d.What, By: d.By, At: at, Defect: d.ID}
}
