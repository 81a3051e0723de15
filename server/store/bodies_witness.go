package store

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Kinds of entries about witnesses, as they stand in the record for good.
const (
	KindWitness      = "witness"
	KindWitnessAlarm = "witness-alarm-closed"
)

// WitnessChange is what was done with a witness.
type WitnessChange string

const (
	WitnessSetUp   WitnessChange = "set-up"
	WitnessOn      WitnessChange = "on"
	WitnessOff     WitnessChange = "off"
	WitnessRemoved WitnessChange = "removed"
)

// WitnessAct is the entry that a witness was set up, switched or removed. Where it
// is, and whose, it does not say.
type WitnessAct struct {
	Witness checklists.WitnessID   `json:"witness"`
	Kind    checklists.WitnessKind `json:"kind"`
	Act     WitnessChange          `json:"act"`
}

type witnessBody struct {
	everywhere
	WitnessAct
}

func (*witnessBody) kind() (string, int)      { return KindWitness, 1 }
func (*witnessBody) project(*Tx, entry) error { return nil }

// witnessAlarmBody is a closed alarm, whose reason may say something of a person.
type witnessAlarmBody struct {
	everywhere
	Alarm    checklists.AlarmID     `json:"alarm"`
	Witness  checklists.WitnessID   `json:"witness"`
	Kind     checklists.WitnessKind `json:"kind"`
	Why      checklists.AlarmWhy    `json:"why"`
	HeldSize int64                  `json:"held_size"`
	HeldRoot string                 `json:"held_root"`
	OwnSize  int64                  `json:"own_size"`
	OwnRoot  string                 `json:"own_root"`
	Raised   time.Time              `json:"raised"`
	Closed   time.Time              `json:"closed"`
	By       procedures.PersonID    `json:"by"`
	Reason   record.Personal        `json:"reason"`
}

func newWitnessAlarmBody(a checklists.WitnessAlarm) *witnessAlarmBody {
	return &witnessAlarmBody{Alarm: a.ID, Witness: a.Witness, Kind: a.Kind, Why: a.Why, HeldSize: a.HeldSize, HeldRoot: a.HeldRoot, OwnSize: a.OwnSize, OwnRoot: a.OwnRoot,
		Raised: a.Raised, Closed: a.Closed, By: a.By, Reason: record.Personal(a.Reason)}
}

func (b *witnessAlarmBody) alarm() checklists.WitnessAlarm {
	return checklists.WitnessAlarm{ID: b.Alarm, Witness: b.Witness, Kind: b.Kind, Why: b.Why, HeldSize: b.HeldSize, HeldRoot: b.HeldRoot, OwnSize: b.OwnSize, OwnRoot: b.OwnRoot,
		Raised: b.Raised, Closed: b.Closed, By: b.By, Reason: string(b.Reason)}
}

func (*witnessAlarmBody) kind() (string, int)      { return KindWitnessAlarm, 1 }
func (*witnessAlarmBody) project(*Tx, entry) error { return nil }

// witnessBodyOf is bodyOf for these kinds, nil for any other.
func witnessBodyOf(kind string) body {
	switch kind {
	case KindWitness:
		return &witnessBody{}
	case KindWitnessAlarm:
		return &witnessAlarmBody{}
	}
	return nil
}

// witnessDomainOf is domainOf for the bodies of these kinds, nil for any other.
func witnessDomainOf(b body) any {
	switch b := b.(type) {
	case *witnessBody:
		return b.WitnessAct
	case *witnessAlarmBody:
		return b.alarm()
	}
	return nil
}
