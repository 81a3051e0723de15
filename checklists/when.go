package checklists

import (
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Period is how often a list falls due.
type Period string

const (
	EachShift   Period = "shift"
	EachDay     Period = "day"
	EachWeek    Period = "week" // Monday to Sunday
	EachMonth   Period = "month"
	EachQuarter Period = "quarter"
	EachYear    Period = "year"
	AfterDays   Period = "days"  // Schedule.Days after it was last done
	AfterHours  Period = "hours" // Schedule.Hours on Schedule.Meter after it was last done
	OnEvent     Period = "event" // when one of Schedule.On has happened
)

// Schedule says when a list falls due.
type Schedule struct {
	Every Period `json:"every"`
	// Holds: the equipment of the list's items is HELD until it is done; for a
	// list on event that names its equipment, this equipment.
	Holds bool `json:"holds"`
	// HoldsLate: it is HELD once the list is late, not while it is merely due.
	HoldsLate bool `json:"holds_late,omitzero"`

	Days  int         `json:"days,omitzero"`  // AfterDays; and for Idle among On, how long is idle
	Hours float64     `json:"hours,omitzero"` // AfterHours, running hours
	Meter MeterID     `json:"meter,omitzero"` // AfterHours
	On    []EventKind `json:"on,omitzero"`    // OnEvent

	// Grace is how long it is due before it is late: minutes after the start of
	// a shift, running hours for AfterHours, else whole days in the mill's zone.
	Grace int `json:"grace,omitzero"`

	// Who is expected to do it: these people, else those named for the shift,
	// else anyone of the role; the zero values name nobody.
	People []procedures.PersonID `json:"people,omitzero"`
	Role   procedures.Role       `json:"role,omitzero"`
}

// Longest times a schedule may name, beyond which it is a slip of the hand.
const (
	mostDays  = 3660
	mostHours = 100_000
	mostGrace = 1440
)

// IdleDays is how long without a signed check counts as idle where a schedule
// doesn't say: a month, 29 CFR 1910.179(j)(4)(i) (from memory).
const IdleDays = 30

// Known tells whether p is one of the periods.
func (p Period) Known() bool { return p.calendar() || p == EachShift || p.sinceDone() || p == OnEvent }

// calendar tells whether p is a stretch of the calendar.
func (p Period) calendar() bool {
	switch p {
	case EachDay, EachWeek, EachMonth, EachQuarter, EachYear:
		return true
	}
	return false
}

func (p Period) sinceDone() bool { return p == AfterDays || p == AfterHours }

// validate adds what keeps the schedule from being reckoned with: the field is
// "schedule" for the period, "schedule.days" and the like for a part of it.
func (s Schedule) validate(bad *plain.Problems) {
	bad.Unless(s.Every.Known(), "schedule", "how often: shift, day, week, month, quarter, year, days since last done, running hours or event")
	if s.Every == AfterDays {
		bad.Unless(s.Days >= 1 && s.Days <= mostDays, "schedule.days", "1 to %d days", mostDays)
	}
	if s.Every == AfterHours {
		bad.Unless(s.Hours > 0 && s.Hours <= mostHours, "schedule.hours", "more than 0, at most %d running hours", mostHours)
		bad.Unless(s.Meter != "", "schedule.meter", "the meter whose hours count")
	}
	if s.Every == OnEvent {
		bad.Unless(len(s.On) > 0, "schedule.on", "at least one event")
		for i, kind := range s.On {
			bad.Unless(kind.Known() && !slices.Contains(s.On[:i], kind), "schedule.on", "events of the list, each once")
		}
		bad.Unless(s.Days >= 0 && s.Days <= mostDays, "schedule.days", "1 to %d days", mostDays)
	}
	bad.Unless(s.Grace >= 0 && s.Grace <= mostGrace, "schedule.grace", "0 to %d", mostGrace)
	bad.Unless(s.Role == "" || s.Role == procedures.Operator || s.Role == procedures.Supervisor, "schedule.role", "operator, supervisor, or nobody named")
}

// EventKind is something that happens at a mill and calls for a check.
type EventKind string

const (
	BladeChange EventKind = "blade-change"
	Filing      EventKind = "filing"
	Jam         EventKind = "jam"
	Repair      EventKind = "repair"
	Move        EventKind = "move"
	ShockLoad   EventKind = "shock-load"
	PowerLoss   EventKind = "power-loss"
	Idle        EventKind = "idle" // no check signed for Schedule.Days; found, not reported
)

// EventKinds lists every kind, in the order a page offers them.
func EventKinds() []EventKind {
	return []EventKind{BladeChange, Filing, Jam, Repair, Move, ShockLoad, PowerLoss, Idle}
}

// Known tells whether k is one of the kinds.
func (k EventKind) Known() bool { return slices.Contains(EventKinds(), k) }

// Said is the event in words.
func (k EventKind) Said() plain.Sentence {
	switch k {
	case BladeChange:
		return plain.Say("blade changed")
	case Filing:
		return plain.Say("saw filed or set")
	case Jam:
		return plain.Say("jam cleared")
	case Repair:
		return plain.Say("repaired")
	case Move:
		return plain.Say("moved or set up anew")
	case ShockLoad:
		return plain.Say("shock load")
	case PowerLoss:
		return plain.Say("power lost")
	case Idle:
		return plain.Say("stood idle")
	}
	return plain.Say("not known")
}
