package procedures

import "time"

// LockoutID names one lockout.
type LockoutID string

// EventKind is one kind of act within a lockout.
type EventKind string

const (
	Began         EventKind = "began"          // who, which task
	StepDone      EventKind = "step-done"      // a step of the present stage, with its proof
	LockApplied   EventKind = "lock-applied"   // own numbered lock and tag on a device
	WorkBegan     EventKind = "work-began"     // after everything is verified
	Joined        EventKind = "joined"         // another authorized person's own lock goes on every device or the box
	LeftJob       EventKind = "left-job"       // takes the own lock off and signs off the job
	LeftOvernight EventKind = "left-overnight" // own lock left on purpose
	Reverified    EventKind = "reverified"     // proven at zero again, e.g. in the morning
	WorkEnded     EventKind = "work-ended"
	LockRemoved   EventKind = "lock-removed" // by its owner only
	Restored      EventKind = "restored"     // affected people told, back in service
	Cancelled     EventKind = "cancelled"    // only before the first lock
)

// Event is one act of one person at one time. A lockout's state is the fold of
// its events and nothing else.
type Event struct {
	Kind    EventKind `json:"kind"`
	Person  PersonID  `json:"person"`
	At      time.Time `json:"at"`   // when it happened
	Late    bool      `json:"late"` // entered afterwards, e.g. from the printed placard
	Step    StepID    `json:"step"`
	Device  DeviceID  `json:"device"`
	Lock    string    `json:"lock"` // number on the lock
	Proof   Proof     `json:"proof"`
	OffBack bool      `json:"off_back"` // try-start: control put back to off
	Told    string    `json:"told"`     // whom, and how
	Tools   bool      `json:"tools"`    // tools and parts counted out
	Note    string    `json:"note"`
	Photo   string    `json:"photo"` // digest
	Until   time.Time `json:"until"` // expected end, or morning of an overnight lock
}
