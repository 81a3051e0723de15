package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
)

// LockedSpan is a lockout as far as the calendar needs it: what it held, and from
// when to when. Ended is zero while it lasts.
type LockedSpan struct {
	Equipment    []procedures.EquipmentID
	Begun, Ended time.Time
}

// OutBy are the stretches in which equipment could not run: reported locked out,
// stopped by a defect until its return to service, or held by a departure until
// a supervisor closed it. What is linked to it is left out, so that a list is
// never called impossible on the word of a link.
func OutBy(locked []LockedSpan, defects []Defect, departures []Departure) []OutOfUse {
	var out []OutOfUse
	for _, l := range locked {
		for _, eq := range l.Equipment {
			out = append(out, OutOfUse{eq, l.Begun, l.Ended})
		}
	}
	for _, d := range defects {
		from := d.At
		if d.Severity == Mend {
			from = later(from, d.MendBy)
		}
		if d.ReturnedAt.IsZero() || d.ReturnedAt.After(from) {
			out = append(out, OutOfUse{d.Equipment, from, d.ReturnedAt})
		}
	}
	for _, d := range departures {
		out = append(out, OutOfUse{d.Equipment, d.At, d.ClosedAt})
	}
	slices.SortStableFunc(out, func(a, b OutOfUse) int { return a.From.Compare(b.From) })
	return out
}
