package store

import (
	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Kinds of entries about what is kept for how long, and what went.
const (
	KindKeepFor    = "keep-for"
	KindHold       = "hold"
	KindHoldLifted = "hold-lifted"
	KindDropped    = "dropped"
)

type keepPolicyRow struct {
	Mill string `gorm:"primaryKey"`
	Sort string `gorm:"primaryKey"`
	Seq  int64
	Doc  checklists.KeepPolicy `gorm:"serializer:json"`
}

func (keepPolicyRow) TableName() string { return "keep_policies" }

type keepHoldRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	On   bool   `gorm:"column:on_"`
	At   int64
	Doc  checklists.KeepHold `gorm:"serializer:json"`
}

func (keepHoldRow) TableName() string { return "keep_holds" }

type droppedValueRow struct {
	Mill  string `gorm:"primaryKey"`
	Seq   int64  `gorm:"primaryKey;autoIncrement:false"`
	Path  string `gorm:"primaryKey"`
	Entry int64
}

func (droppedValueRow) TableName() string { return "dropped_values" }

// keepForBody is a policy as it was set.
type keepForBody struct {
	everywhere
	checklists.KeepPolicy
	Reason record.Personal `json:"reason"`
}

func newKeepForBody(p checklists.KeepPolicy) *keepForBody {
	return &keepForBody{KeepPolicy: p, Reason: record.Personal(p.Reason)}
}

func (b *keepForBody) policy() checklists.KeepPolicy {
	p := b.KeepPolicy
	p.Reason = string(b.Reason)
	return p
}

func (*keepForBody) kind() (string, int) { return KindKeepFor, 1 }

func (b *keepForBody) project(tx *Tx, e entry) error {
	return tx.put(&keepPolicyRow{Mill: e.Mill, Sort: string(b.Sort), Seq: e.Seq, Doc: b.policy()}, "seq", "doc")
}

type holdPart struct {
	checklists.KeepHold
	Reason     record.Personal `json:"reason"`
	LiftReason record.Personal `json:"lift_reason"`
}

func newHoldPart(h checklists.KeepHold) holdPart {
	return holdPart{KeepHold: h, Reason: record.Personal(h.Reason), LiftReason: record.Personal(h.LiftReason)}
}

func (p holdPart) hold() checklists.KeepHold {
	h := p.KeepHold
	h.Reason, h.LiftReason = string(p.Reason), string(p.LiftReason)
	return h
}

func (p holdPart) about() []procedures.EquipmentID {
	if p.Equipment == "" {
		return nil
	}
	return []procedures.EquipmentID{p.Equipment}
}

func (p holdPart) project(tx *Tx, e entry) error {
	h := p.hold()
	return tx.put(&keepHoldRow{Mill: e.Mill, ID: string(h.ID), On: h.On(), At: millis(h.At), Doc: h}, "on_", "doc")
}

type (
	holdBody       struct{ holdPart }
	holdLiftedBody struct{ holdPart }
)

func (*holdBody) kind() (string, int)       { return KindHold, 1 }
func (*holdLiftedBody) kind() (string, int) { return KindHoldLifted, 1 }

// DroppedValues are personal values of one entry by their places in its body.
type DroppedValues struct {
	Seq   int64    `json:"seq"`
	Paths []string `json:"paths"`
}

// Dropped says what went for good, and by which word. Of the values it has the
// places, of the photos the digests: neither gives anything away.
type Dropped struct {
	Sort   checklists.KeepSort `json:"sort,omitzero"`   // by policy: whose
	Policy int64               `json:"policy,omitzero"` // by policy: seq of the entry that set it; 0 by hand
	Values []DroppedValues     `json:"values,omitzero"`
	Photos []string            `json:"photos,omitzero"` // digests, sorted
	Rule   string              `json:"rule"`            // by hand: which rule or request lets it go
	Reason string              `json:"reason"`          // by hand: why
}

// Count is how many personal values d names.
func (d Dropped) Count() int {
	n := 0
	for _, one := range d.Values {
		n += len(one.Paths)
	}
	return n
}

// Empty tells whether d names nothing.
func (d Dropped) Empty() bool { return len(d.Values)+len(d.Photos) == 0 }

type droppedBody struct {
	everywhere
	Dropped
	Rule   record.Personal `json:"rule"`
	Reason record.Personal `json:"reason"`
}

func newDroppedBody(d Dropped) *droppedBody {
	return &droppedBody{Dropped: d, Rule: record.Personal(d.Rule), Reason: record.Personal(d.Reason)}
}

func (b *droppedBody) dropped() Dropped {
	d := b.Dropped
	d.Rule, d.Reason = string(b.Rule), string(b.Reason)
	return d
}

func (*droppedBody) kind() (string, int) { return KindDropped, 1 }

func (b *droppedBody) project(tx *Tx, e entry) error {
	var rows []droppedValueRow
	for _, one := range b.Values {
		for _, path := range one.Paths {
			rows = append(rows, droppedValueRow{Mill: e.Mill, Seq: one.Seq, Path: path, Entry: e.Seq})
		}
	}
	return createAll(tx, rows)
}

// retentionBodyOf is bodyOf for these kinds, nil for any other.
func retentionBodyOf(kind string) body {
	switch kind {
	case KindKeepFor:
		return &keepForBody{}
	case KindHold:
		return &holdBody{}
	case KindHoldLifted:
		return &holdLiftedBody{}
	case KindDropped:
		return &droppedBody{}
	}
	return nil
}

// retentionDomainOf is domainOf for the bodies of these kinds, nil for any other.
func retentionDomainOf(b body) any {
	switch b := b.(type) {
	case *keepForBody:
		return b.policy()
	case *holdBody:
		return b.hold()
	case *holdLiftedBody:
		return b.hold()
	case *droppedBody:
		return b.dropped()
	}
	return nil
}
