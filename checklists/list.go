package checklists

import (
	"time"

	"stillsaw/procedures"
)

// ListID names a list through all its versions.
type ListID string

// ItemID names an item within a list through its versions, "C1".
type ItemID string

// MachineState is the state an item is done in. A list is walked by state, in
// this order, then by station.
type MachineState string

const (
	LockedOut MachineState = "locked-out" // under a verified lockout, own lock on
	Stopped   MachineState = "stopped"    // stopped, latched, nobody near
	Running   MachineState = "running"    // from the stand, people clear
)

// AnswerKind is what an item asks for.
type AnswerKind string

const (
	Choice AnswerKind = "choice" // OK, Defect, Not checked
	Number AnswerKind = "number" // a measurement within limits, or Not checked
	Text   AnswerKind = "text"   // words (a name, a serial), and a choice
)

// Severity is what a defect on an item means, set by the list's author.
type Severity string

const (
	Stop Severity = "stop" // may not run until mended and returned to service
	Mend Severity = "mend" // may run with a stop-gap until a date, then stop
)

// Limits of a Number item, in Unit as typed and shown ("in", "psi", "%").
// A nil bound is open.
type Limits struct {
	Unit string   `json:"unit"`
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
	Most float64  `json:"most"` // a typed number beyond this (or negative) is a slip of the hand, refused
	// HighOut: a number at High is out already, as with a crack of the length a
	// rule names; otherwise the bounds themselves are still within.
	HighOut bool `json:"high_out"`
	// StopAt: from this number up the defect is stop whatever the item's severity.
	StopAt *float64 `json:"stop_at"`
	// SiteSet: the bounds are start values; each mill puts in its maker's or its own.
	SiteSet bool `json:"site_set"`
}

// Item is one thing to check.
type Item struct {
	ID          ItemID                 `json:"id"`
	Station     string                 `json:"station"`
	Equipment   procedures.EquipmentID `json:"equipment"`
	Prompt      string                 `json:"prompt"`
	How         string                 `json:"how"`
	State       MachineState           `json:"state"`
	Kind        AnswerKind             `json:"kind"`
	Limits      Limits                 `json:"limits"`
	Severity    Severity               `json:"severity"`
	DefectPhoto bool                   `json:"defect_photo"` // a defect needs a photo
	AlwaysPhoto bool                   `json:"always_photo"`
	NotFitted   bool                   `json:"not_fitted"` // set by a supervisor: isn't asked
	Source      string                 `json:"source"`     // clause, or "common practice, no source"
}

// List is one published version of a list, or the draft of the next (Version 0).
type List struct {
	ID       ListID    `json:"id"`
	Version  int       `json:"version"`
	Title    string    `json:"title"`
	Schedule Schedule  `json:"schedule"`
	Items    []Item    `json:"items"`
	InForce  time.Time `json:"in_force"`
}

// Period is how often a list falls due.
type Period string

const (
	EachShift   Period = "shift"
	EachDay     Period = "day"
	EachWeek    Period = "week" // Monday to Sunday
	EachMonth   Period = "month"
	EachQuarter Period = "quarter"
	EachYear    Period = "year"
)

// Schedule says when a list falls due.
type Schedule struct {
	Every Period `json:"every"`
	// Holds: the equipment of the list's items is HELD until it is done.
	Holds bool `json:"holds"`
}
