package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

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
	Rechecked     EventKind = "rechecked"      // one verify step done again: what can build up again
	HandedOver    EventKind = "handed-over"    // reported by the one coming on, who answers for it from now on
	LockTaken     EventKind = "lock-taken"     // by a supervisor: the lock of somebody who isn't here
	ToldOfLock    EventKind = "told-of-lock"   // by its owner: knows that the own lock was taken off
	TestAsked     EventKind = "test-asked"     // tools and people out, so that locks may come off for a test
	Energized     EventKind = "energized"      // power back for the test, own locks off
	TestEnded     EventKind = "test-ended"     // control off, or given up before power; isolation starts again
	WorkEnded     EventKind = "work-ended"
	Resumed       EventKind = "resumed"      // back from the release to work, to be proven at zero again first
	LockRemoved   EventKind = "lock-removed" // by its owner only
	LaterEnd      EventKind = "later-end"    // the end that was expected put off, by the one who answers for it
	Restored      EventKind = "restored"     // affected people told, back in service
	Cancelled     EventKind = "cancelled"    // only before the first lock
)

// EventKinds returns every kind, in the order a lockout may come to it.
func EventKinds() []EventKind {
	return []EventKind{Began, StepDone, LockApplied, WorkBegan, Joined, LeftJob, LeftOvernight, Reverified, Rechecked,
		HandedOver, LockTaken, ToldOfLock, TestAsked, Energized, TestEnded, LaterEnd, WorkEnded, Resumed, LockRemoved, Restored, Cancelled}
}

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
	OffBack bool      `json:"off_back"` // try-start, or the end of a test: control put back to off
	Told    string    `json:"told"`     // whom, and how; HandedOver: the state that was told
	Tools   bool      `json:"tools"`    // tools and parts counted out
	Note    string    `json:"note"`
	Photo   string    `json:"photo"` // digest
	Until   time.Time `json:"until"` // expected end, now or from now on, or morning of an overnight lock

	Entered time.Time `json:"entered,omitzero"` // Late: when it was; zero in what was entered before that was kept

	Craft       string       `json:"craft,omitzero"`       // Began, Joined: crew or craft, where there is more than one
	Coordinator PersonID     `json:"coordinator,omitzero"` // Began beside another lockout of the same equipment
	From        PersonID     `json:"from,omitzero"`        // HandedOver: who told the state
	KeysInBox   bool         `json:"keys_in_box,omitzero"` // HandedOver: the keys of the new locks are in the box; Joined on the box: those of every lock were seen in it
	ToEnd       bool         `json:"to_end,omitzero"`      // HandedOver: by a supervisor, for a primary who isn't here, and only to release it
	ToolsIn     int          `json:"tools_in,omitzero"`    // WorkBegan, Joined, Reverified: counted in by that person, beside what they counted in before; 0: not counted
	ToolsOut    int          `json:"tools_out,omitzero"`   // counted out again; LeftJob: the own ones
	Position    Position     `json:"position,omitzero"`    // a lock going on: where it holds the device
	Tag         Tag          `json:"tag,omitzero"`         // at Apply, on a device that takes no lock
	Means       []ExtraMeans `json:"means,omitzero"`       // beside a tag without a lock
	Where       string       `json:"where,omitzero"`       // Energized: where it is run from
	Clear       bool         `json:"clear,omitzero"`       // Energized: everybody seen clear; TestEnded for good: nobody went in since; WorkEnded before any work: nobody reached in
	Over        bool         `json:"over,omitzero"`        // TestEnded: the work is done with it, the release comes next
	NotHere     string       `json:"not_here,omitzero"`    // LockTaken, or ToEnd: how it was made sure the owner, or the primary, isn't here
	Tries       []Try        `json:"tries,omitzero"`       // LockTaken, or BeforeEnd: to reach the owner, or the primary
	BeforeEnd   bool         `json:"before_end,omitzero"`  // LockTaken, or ToEnd: looked for and not at the mill, though the end that was expected isn't past
	LeftMill    bool         `json:"left_mill,omitzero"`   // LockTaken, HandedOver: the owner, or the primary, is recorded as having left the mill
	Program     bool         `json:"program,omitzero"`     // LockTaken: the mill's written procedure for it is on file
}

// Try is one attempt to reach the owner of a lock that has to come off.
type Try struct {
	At     time.Time `json:"at"`
	Way    string    `json:"way"`
	Result string    `json:"result"`
}

// Words names the kind of act, for a list of what is possible.
func (k EventKind) Words() plain.Sentence {
	switch k {
	case Began:
		return plain.Say("begin a lockout")
	case StepDone:
		return plain.Say("report a step done")
	case LockApplied:
		return plain.Say("put an own lock on")
	case WorkBegan:
		return plain.Say("begin the work")
	case Joined:
		return plain.Say("join with an own lock")
	case LeftJob:
		return plain.Say("take the own lock off and sign off")
	case LeftOvernight:
		return plain.Say("leave the own lock on for the night")
	case Reverified:
		return plain.Say("prove zero again")
	case Rechecked:
		return plain.Say("prove again what can build up")
	case HandedOver:
		return plain.Say("take the lockout over")
	case LockTaken:
		return plain.Say("take off the lock of somebody who isn't here")
	case ToldOfLock:
		return plain.Say("say that you know your lock was taken off")
	case TestAsked:
		return plain.Say("tools and people out, for a test")
	case Energized:
		return plain.Say("power on for the test")
	case TestEnded:
		return plain.Say("end the test, or give it up")
	case LaterEnd:
		return plain.Say("put the expected end off")
	case WorkEnded:
		return plain.Say("end the work")
	case Resumed:
		return plain.Say("back to work from the release")
	case LockRemoved:
		return plain.Say("take the own lock off")
	case Restored:
		return plain.Say("back in service")
	case Cancelled:
		return plain.Say("cancel")
	}
	return plain.Say("not known")
}
