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
	Choice       AnswerKind = "choice" // OK, Defect, Not checked; with Options one of these words in place of OK
	Number       AnswerKind = "number" // a measurement within limits, or Not checked
	Text         AnswerKind = "text"   // words (a name, a serial), and a choice
	Photo        AnswerKind = "photo"  // a photo is the answer, and a choice
	MeterReading AnswerKind = "meter"  // what a meter shows, an hour meter say, and a choice
	Somebody     AnswerKind = "person" // one of the crew, and a choice
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

	Options   []string      `json:"options,omitzero"`   // Choice: words to choose from, every one of them in order
	Meter     MeterID       `json:"meter,omitzero"`     // MeterReading: which meter, the same on every list that reads it
	Qualified Qualification `json:"qualified,omitzero"` // what the one named (Somebody), or who answers OK, must be recorded as qualified for
	Picture   string        `json:"picture,omitzero"`   // digest of a photo that shows how
	Repeat    Repeat        `json:"repeat,omitzero"`    // asked once for each of these
	When      Condition     `json:"when,omitzero"`      // asked only if an earlier answer is so

	// Nth is which of its kind the item is, from 1, once a repeated item is
	// asked ([List.Asks]); never kept.
	Nth int `json:"-"`
}

// MeterID names one meter of the mill, "engine-hours".
type MeterID string

// Qualification is what somebody has to be recorded as qualified for.
type Qualification string

const (
	AnyOfCrew     Qualification = ""
	ForLifting    Qualification = "lifting"    // procedures.Person.QualifiedLifting
	ForElectrical Qualification = "electrical" // procedures.Person.QualifiedElectrical
)

// RepeatPer is what an item is asked once for each of.
type RepeatPer string

const (
	PerDog        RepeatPer = "dog" // an upper and a lower one at each headblock
	PerHook       RepeatPer = "hook"
	PerEntryPoint RepeatPer = "entry-point"
	PerHeadblock  RepeatPer = "headblock"
)

// Repeat asks an item once for each of something. The zero value asks it once.
type Repeat struct {
	Per   RepeatPer `json:"per"`
	Count int       `json:"count,omitzero"` // 0: as many as were counted at set-up
	Times int       `json:"times,omitzero"` // how many this version asks for; filled in when it is published
}

// Condition is an answer to an earlier item that an item depends on: its
// result, the word chosen, or its number within bounds (a nil one is open, both
// themselves count). The zero value is no condition.
type Condition struct {
	Item   ItemID   `json:"item"`
	Result Result   `json:"result,omitzero"`
	Choice string   `json:"choice,omitzero"`
	From   *float64 `json:"from,omitzero"`
	To     *float64 `json:"to,omitzero"`
}

// List is one published version of a list, or the draft of the next (Version 0).
type List struct {
	ID       ListID    `json:"id"`
	Version  int       `json:"version"`
	Title    string    `json:"title"`
	Schedule Schedule  `json:"schedule"`
	Items    []Item    `json:"items"`
	InForce  time.Time `json:"in_force"`

	Repeats  int        `json:"repeats,omitzero"`  // the version this one publishes anew
	Loosened []Loosened `json:"loosened,omitzero"` // what this version asks less of than the one before, and why
}

// Loosened is one demand of a rule that a version asks less of, with the reason
// the supervisor who published it gave.
type Loosened struct {
	Item   ItemID `json:"item"`
	Prompt string `json:"prompt"` // as it was
	Source string `json:"source"` // the rule it came from
	Reason string `json:"reason"`
}
