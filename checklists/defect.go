package checklists

import (
	"time"

	"stillsaw/procedures"
)

// DefectID names one defect.
type DefectID string

// Defect is something found wrong, from an inspection or by anyone at any time
// ("stop it"), until it is returned to service.
type Defect struct {
	ID         DefectID               `json:"id"`
	Equipment  procedures.EquipmentID `json:"equipment"`
	Inspection InspectionID           `json:"inspection"` // "" when raised by stop it
	List       ListID                 `json:"list"`
	Item       ItemID                 `json:"item"`
	What       string                 `json:"what"`
	Severity   Severity               `json:"severity"`
	StopGap    string                 `json:"stop_gap"`
	MendBy     time.Time              `json:"mend_by"`
	Photo      string                 `json:"photo"`
	By         procedures.PersonID    `json:"by"` // "" when raised by somebody not signed in
	At         time.Time              `json:"at"`

	MendedBy  procedures.PersonID `json:"mended_by"`
	MendedAt  time.Time           `json:"mended_at"`
	MendNote  string              `json:"mend_note"`
	MendPhoto string              `json:"mend_photo"`

	ReturnedBy procedures.PersonID `json:"returned_by"`
	ReturnedAt time.Time           `json:"returned_at"`
	ReturnNote string              `json:"return_note"`
	NoSecond   bool                `json:"no_second"` // returned by its own mender at a single-handed mill

	ShockLoad bool `json:"shock_load,omitzero"` // nothing found yet: lifting gear that was dropped, snatched or bumped

	// Assigned is who is to see to it by Due; see [Defect.Assign].
	Assigned procedures.PersonID `json:"assigned,omitzero"`
	Due      time.Time           `json:"due,omitzero"`

	// Again is the defect this one is a recurrence of, and Times how often it was
	// found with this one; see [Defect.Recurring]. Times is 0 for the first.
	Again DefectID `json:"again,omitzero"`
	Times int      `json:"times,omitzero"`
}

// Recheck is the item of a mended defect answered again, and what it was
// answered with.
type Recheck struct {
	Answer Answer   // as [Take] returned it; for a defect without an item, result and photo
	Run    RunCheck // the machine was turned in it after mending
	Note   string
}

// DepartureID names one departure.
type DepartureID string

// Departure is something that happened against the rule: a lock cut, work begun
// early, a machine run while held. A fact is never refused; its equipment is
// HELD until a supervisor closes it with a reason, and it stays on the record.
type Departure struct {
	ID        DepartureID            `json:"id"`
	Equipment procedures.EquipmentID `json:"equipment"`
	What      string                 `json:"what"`
	Happened  time.Time              `json:"happened"`
	By        procedures.PersonID    `json:"by"` // who entered it
	At        time.Time              `json:"at"`
	Photo     string                 `json:"photo"`
	ClosedBy  procedures.PersonID    `json:"closed_by"`
	ClosedAt  time.Time              `json:"closed_at"`
	Reason    string                 `json:"reason"`

	// Lockout is the one it happened in, "" for none; About whose training or lock
	// it is, where the rules found it, "" where somebody entered it.
	Lockout procedures.LockoutID `json:"lockout,omitzero"`
	About   procedures.PersonID  `json:"about,omitzero"`

	// Unexpected: something started, moved or let go that nobody expected.
	Unexpected bool `json:"unexpected,omitzero"`
}
