package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Status is whether a piece of equipment may run. The zero value is NOT KNOWN.
type Status int

const (
	NotKnown Status = iota
	Held
	RunCheckOnly
	MayRun
)

// String is the word on the screen.
func (s Status) String() string {
	switch s {
	case Held:
		return "HELD"
	case RunCheckOnly:
		return "RUN CHECK ONLY"
	case MayRun:
		return "MAY RUN"
	}
	return "NOT KNOWN"
}

// HoldKind is why something is held.
type HoldKind string

const (
	HeldByDue       HoldKind = "due"       // a check is due
	HeldUnchecked   HoldKind = "unchecked" // a stop item was not checked
	HeldByDefect    HoldKind = "defect"
	HeldByReturn    HoldKind = "return" // mended, not yet returned to service
	HeldByLockout   HoldKind = "lockout"
	HeldByDeparture HoldKind = "departure"
	HeldByClock     HoldKind = "clock"    // the server's clock is behind the last entry
	HeldUnread      HoldKind = "unread"   // no list in force covers it
	HeldUnsigned    HoldKind = "unsigned" // checked without contact, not yet signed
	HeldByFinding   HoldKind = "finding"  // a stop found in a walk nobody has signed
)

// Hold is one reason a piece of equipment may not run and what clears it.
type Hold struct {
	Kind   HoldKind
	From   procedures.EquipmentID // where the reason lies; differs from the held one when it travelled along a link
	Reason plain.Sentence
	Clears plain.Sentence
	Since  time.Time
	By     procedures.PersonID
	Ref    string // id of the defect, lockout, departure or list
}

// Readiness is the answer to "may it run" for one piece of equipment.
type Readiness struct {
	Equipment procedures.EquipmentID
	Status    Status
	Holds     []Hold
	RunCheck  *RunCheck
}

// Facts is everything readiness is derived from, as loaded at one moment.
type Facts struct {
	Mill        Mill
	Plant       Plant
	Lists       []List       // every list in force
	Inspections []Inspection // at least those of each list's present and previous period
	Amendments  []Amendment  // to these inspections
	Defects     []Defect     // not yet returned to service
	Lockouts    []procedures.Lockout
	RunChecks   []RunCheck
	Departures  []Departure // not yet closed
	Blades      []Blade     // the saw register
	BladeActs   []BladeAct  // everything done with these saws
	Events      []Event     // reported, since the oldest that no list on event has answered
	Returned    []Defect    // returned to service in that time
	Quiet       []Quiet     // stretches without a signed check, long enough for some list on idle
	Excuses     []Excuse    // of the time inspections are loaded for
	LastEntry   time.Time   // latest server time among the entries since the clock was last confirmed

	ClockConfirmed time.Time // zero: never; what has a later time and was entered before is not among the facts

	Since map[ListID]time.Time // when each list first took force; without it, its version in force

	// What was over again since the oldest run check in force was given; it
	// holds nothing any more, but ends run checks.
	LockoutsOver []procedures.Lockout
	DefectsOver  []Defect

	People   []procedures.Person // the mill's, those who left among them
	Readings []Reading           // at least the newest of each meter

	Unsigned      []Unsigned      // finished without contact, the walk itself not signed
	FoundUnsigned []FoundUnsigned // stops found in walks under way

	Minors procedures.MinorRule // what people under 18 may do here; zero: nothing
}
