package checklists

import (
	"time"

	"stillsaw/procedures"
)

// InspectionID names one walk through a list, from its draft on.
type InspectionID string

// Result is the answer to an item. The zero value is no answer.
type Result string

const (
	OK         Result = "ok"
	Found      Result = "defect"
	NotChecked Result = "not-checked" // with a reason; a stop item not checked keeps the hold
)

// Answer is what was found at one item. Under and Run are set by the rules when
// the answer is taken, never by the person answering.
type Answer struct {
	Item     ItemID               `json:"item"`
	Result   Result               `json:"result"`
	Number   *float64             `json:"number"`
	Text     string               `json:"text"`
	Note     string               `json:"note"`  // what is wrong, or why not checked
	Photo    string               `json:"photo"` // digest
	Severity Severity             `json:"severity"`
	StopGap  string               `json:"stop_gap"` // mend: what makes it fit to run meanwhile
	MendBy   time.Time            `json:"mend_by"`  // mend: after this it is stop
	By       procedures.PersonID  `json:"by"`
	At       time.Time            `json:"at"`
	Under    procedures.LockoutID `json:"under"` // locked-out items: the verified lockout it was done under
	Run      RunCheckID           `json:"run"`   // running items: the run check it was done in

	Person procedures.PersonID `json:"person,omitzero"` // Somebody: who
	Meter  MeterID             `json:"meter,omitzero"`  // MeterReading: which meter Number was read off; set by the rules
	// Replaced: the meter was changed or set back since it was last read, so it
	// may show less; the note says why.
	Replaced bool `json:"replaced,omitzero"`
}

// Reading is what a meter showed.
type Reading struct {
	Meter    MeterID
	Value    float64 // in the unit of the item that read it
	At       time.Time
	By       procedures.PersonID
	Replaced bool // it was changed or set back before this
}

// Inspection is a signed walk through one version of a list.
type Inspection struct {
	ID      InspectionID        `json:"id"`
	List    ListID              `json:"list"`
	Version int                 `json:"version"`
	Title   string              `json:"title"`
	Answers []Answer            `json:"answers"`
	Signer  procedures.PersonID `json:"signer"`
	Began   time.Time           `json:"began"`
	At      time.Time           `json:"at"` // signed, server time
	Phone   time.Time           `json:"phone"`
	Late    bool                `json:"late"` // signed after the shift had started
}

// RunCheckID names one leave to run for checking.
type RunCheckID string

// RunCheck lets one person turn a machine for the items that need it.
type RunCheck struct {
	ID        RunCheckID               `json:"id"`
	Equipment []procedures.EquipmentID `json:"equipment"`
	Person    procedures.PersonID      `json:"person"`
	From      time.Time                `json:"from"`
	Until     time.Time                `json:"until"`

	Inspection InspectionID `json:"inspection,omitzero"` // the walk it was given for, ended by its signature; "" for none
}

// AmendmentID names one amendment.
type AmendmentID string

// Amendment is a further signed entry to an inspection: answers that were left
// unchecked, or that stand differently now. The inspection itself stays as it
// was signed.
type Amendment struct {
	ID         AmendmentID         `json:"id"`
	Inspection InspectionID        `json:"inspection"`
	List       ListID              `json:"list"`
	Version    int                 `json:"version"`
	Answers    []Answer            `json:"answers"`
	Signer     procedures.PersonID `json:"signer"`
	At         time.Time           `json:"at"`
}
