package store

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Kinds of entries about what is done for a defect before it is mended, and
// about incidents, as they stand in the record for good.
const (
	KindDefectAssigned     = "defect-assigned"
	KindDefectRedated      = "defect-redated"
	KindDefectNoted        = "defect-noted"
	KindIncident           = "incident"
	KindIncidentAction     = "incident-action"
	KindIncidentActionDone = "incident-action-done"
	KindIncidentClosed     = "incident-closed"
	KindIncidentHarm       = "incident-harm"
)

// defectBodyOf makes an empty body of one of those kinds, nil for another kind.
func defectBodyOf(kind string) body {
	switch kind {
	case KindDefectAssigned:
		return &assignedBody{}
	case KindDefectRedated:
		return &redatedBody{}
	case KindDefectNoted:
		return &notedBody{}
	case KindIncident:
		return &incidentBody{}
	case KindIncidentAction:
		return &incidentActionBody{}
	case KindIncidentActionDone:
		return &incidentActionDoneBody{}
	case KindIncidentClosed:
		return &incidentClosedBody{}
	case KindIncidentHarm:
		return &incidentHarmBody{}
	}
	return nil
}

// defectDomainOf turns a body of one of those kinds into what pages know; nil
// for another.
func defectDomainOf(b body) any {
	switch b := b.(type) {
	case *assignedBody:
		return b.defect()
	case *redatedBody:
		return checklists.NewDate{Defect: b.defect(), Was: b.Was, Reason: string(b.Reason)}
	case *notedBody:
		return b.note()
	case *incidentBody:
		return b.incident()
	case *incidentActionBody:
		return b.action()
	case *incidentActionDoneBody:
		return b.action()
	case *incidentClosedBody:
		return IncidentClosed{Incident: b.Incident, Equipment: b.Equipment, Reason: string(b.Reason)}
	case *incidentHarmBody:
		return b.IncidentHarm
	}
	return nil
}

type assignedBody struct{ defectPart }

func (*assignedBody) kind() (string, int) { return KindDefectAssigned, 1 }

type redatedBody struct {
	defectPart
	Was    time.Time       `json:"was"`
	Reason record.Personal `json:"reason"`
}

func newRedatedBody(n checklists.NewDate) *redatedBody {
	return &redatedBody{defectPart: newDefectPart(n.Defect), Was: n.Was, Reason: record.Personal(n.Reason)}
}

func (*redatedBody) kind() (string, int) { return KindDefectRedated, 1 }

type notedBody struct {
	checklists.DefectNote
	Text record.Personal `json:"text"`
}

func newNotedBody(n checklists.DefectNote) *notedBody {
	return &notedBody{DefectNote: n, Text: record.Personal(n.Text)}
}

func (b *notedBody) note() checklists.DefectNote {
	n := b.DefectNote
	n.Text = string(b.Text)
	return n
}

func (*notedBody) kind() (string, int) { return KindDefectNoted, 1 }

func (b *notedBody) about() []procedures.EquipmentID { return []procedures.EquipmentID{b.Equipment} }

func (b *notedBody) project(tx *Tx, e entry) error {
	n := b.note()
	return tx.add(&defectNoteRow{Mill: e.Mill, ID: string(n.ID), Defect: string(n.Defect), At: millis(n.At), Doc: n})
}

// incidentBody is an incident as it was entered. Who was there and who was hurt
// stand in this entry and in no later one, so that they can be dropped whole.
type incidentBody struct {
	checklists.Incident
	Where   record.Personal `json:"where"`
	What    record.Personal `json:"what"`
	Present record.Personal `json:"present"`
	Harmed  record.Personal `json:"harmed"`
}

func newIncidentBody(i checklists.Incident) *incidentBody {
	return &incidentBody{Incident: i, Where: record.Personal(i.Where), What: record.Personal(i.What), Present: record.Personal(i.Present), Harmed: record.Personal(i.Harmed)}
}

func (b *incidentBody) incident() checklists.Incident {
	i := b.Incident
	i.Where, i.What, i.Present, i.Harmed = string(b.Where), string(b.What), string(b.Present), string(b.Harmed)
	return i
}

func (*incidentBody) kind() (string, int) { return KindIncident, 1 }

func (b *incidentBody) about() []procedures.EquipmentID { return []procedures.EquipmentID{b.Equipment} }

func (b *incidentBody) project(tx *Tx, e entry) error { return tx.putIncident(e, b.incident()) }

func (tx *Tx) putIncident(e entry, i checklists.Incident) error {
	return tx.put(&incidentRow{Mill: e.Mill, ID: string(i.ID), Equipment: string(i.Equipment), Open: i.Open(), At: millis(i.At), Doc: i}, "open", "doc")
}

type incidentActionPart struct {
	checklists.IncidentAction
	What record.Personal `json:"what"`
	Done record.Personal `json:"done"`
}

func newIncidentActionPart(a checklists.IncidentAction) incidentActionPart {
	return incidentActionPart{IncidentAction: a, What: record.Personal(a.What), Done: record.Personal(a.Done)}
}

func (p incidentActionPart) action() checklists.IncidentAction {
	a := p.IncidentAction
	a.What, a.Done = string(p.What), string(p.Done)
	return a
}

func (p incidentActionPart) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{p.Equipment}
}

func (p incidentActionPart) project(tx *Tx, e entry) error {
	a := p.action()
	return tx.put(&incidentActionRow{Mill: e.Mill, ID: string(a.ID), Incident: string(a.Incident), Person: string(a.Person), Open: a.Open(), At: millis(a.At), Doc: a}, "open", "doc")
}

type (
	incidentActionBody     struct{ incidentActionPart }
	incidentActionDoneBody struct{ incidentActionPart }
)

func (*incidentActionBody) kind() (string, int)     { return KindIncidentAction, 1 }
func (*incidentActionDoneBody) kind() (string, int) { return KindIncidentActionDone, 1 }

// IncidentClosed is the end of an incident as pages know it.
type IncidentClosed struct {
	Incident  checklists.IncidentID
	Equipment procedures.EquipmentID
	Reason    string
}

type incidentClosedBody struct {
	Incident  checklists.IncidentID  `json:"incident"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Reason    record.Personal        `json:"reason"`
}

func newIncidentClosedBody(i checklists.Incident) *incidentClosedBody {
	return &incidentClosedBody{Incident: i.ID, Equipment: i.Equipment, Reason: record.Personal(i.Reason)}
}

func (*incidentClosedBody) kind() (string, int) { return KindIncidentClosed, 1 }

func (b *incidentClosedBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Equipment}
}

func (b *incidentClosedBody) project(tx *Tx, e entry) error {
	row, err := one[incidentRow](tx, "incident", "mill = ? AND id = ?", e.Mill, b.Incident)
	if err != nil {
		return err
	}
	row.Doc.ClosedBy, row.Doc.ClosedAt, row.Doc.Reason = e.Actor, e.At, string(b.Reason)
	return tx.putIncident(e, row.Doc)
}

// IncidentHarm is what harm was learnt of later, and when the mill was told.
type IncidentHarm struct {
	Incident  checklists.IncidentID  `json:"incident"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Harm      checklists.Harm        `json:"harm"`
	Known     time.Time              `json:"known"`
}

type incidentHarmBody struct{ IncidentHarm }

func (*incidentHarmBody) kind() (string, int) { return KindIncidentHarm, 1 }

func (b *incidentHarmBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Equipment}
}

func (b *incidentHarmBody) project(tx *Tx, e entry) error {
	row, err := one[incidentRow](tx, "incident", "mill = ? AND id = ?", e.Mill, b.Incident)
	if err != nil {
		return err
	}
	row.Doc.Harm, row.Doc.HarmKnown, row.Doc.HarmBy, row.Doc.HarmAt = b.Harm, b.Known, e.Actor, e.At
	return tx.putIncident(e, row.Doc)
}
