package store

import (
	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// What people wrote by hand is personal: it enters the leaf as a commitment.
// Each type below shadows the fields of the domain type it carries.

type answerPart struct {
	checklists.Answer
	Text    record.Personal `json:"text"`
	Note    record.Personal `json:"note"`
	StopGap record.Personal `json:"stop_gap"`
}

func answerParts(answers []checklists.Answer) []answerPart {
	parts := make([]answerPart, len(answers))
	for i, a := range answers {
		parts[i] = answerPart{Answer: a, Text: record.Personal(a.Text), Note: record.Personal(a.Note), StopGap: record.Personal(a.StopGap)}
	}
	return parts
}

func answersOf(parts []answerPart) []checklists.Answer {
	answers := make([]checklists.Answer, len(parts))
	for i, p := range parts {
		a := p.Answer
		a.Text, a.Note, a.StopGap = string(p.Text), string(p.Note), string(p.StopGap)
		answers[i] = a
	}
	return answers
}

type defectPart struct {
	checklists.Defect
	What       record.Personal `json:"what"`
	StopGap    record.Personal `json:"stop_gap"`
	MendNote   record.Personal `json:"mend_note"`
	ReturnNote record.Personal `json:"return_note"`
}

func newDefectPart(d checklists.Defect) defectPart {
	return defectPart{Defect: d, What: record.Personal(d.What), StopGap: record.Personal(d.StopGap),
		MendNote: record.Personal(d.MendNote), ReturnNote: record.Personal(d.ReturnNote)}
}

func (p defectPart) defect() checklists.Defect {
	d := p.Defect
	d.What, d.StopGap, d.MendNote, d.ReturnNote = string(p.What), string(p.StopGap), string(p.MendNote), string(p.ReturnNote)
	return d
}

func (p defectPart) about() []procedures.EquipmentID { return []procedures.EquipmentID{p.Equipment} }

func (p defectPart) project(tx *Tx, e entry) error {
	d := p.defect()
	return tx.put(&defectRow{Mill: e.Mill, ID: string(d.ID), Equipment: string(d.Equipment), Open: d.Open(), At: millis(d.At), Doc: d}, "open", "doc")
}

// The acts of a defect's life each carry the whole defect as it then was.
type (
	defectBody    struct{ defectPart }
	describedBody struct{ defectPart }
	mendedBody    struct{ defectPart }
	returnedBody  struct{ defectPart }
)

func (*defectBody) kind() (string, int)    { return KindDefect, 1 }
func (*describedBody) kind() (string, int) { return KindDescribed, 1 }
func (*mendedBody) kind() (string, int)    { return KindMended, 1 }
func (*returnedBody) kind() (string, int)  { return KindReturned, 1 }

// inspectionBody is a signed walk and the defects it found.
type inspectionBody struct {
	checklists.Inspection
	Answers   []answerPart             `json:"answers"`
	Defects   []defectPart             `json:"defects"`
	Equipment []procedures.EquipmentID `json:"equipment"`
}

func newInspectionBody(in checklists.Inspection, found []checklists.Defect, equipment []procedures.EquipmentID) *inspectionBody {
	b := &inspectionBody{Inspection: in, Answers: answerParts(in.Answers), Equipment: equipment}
	for _, d := range found {
		b.Defects = append(b.Defects, newDefectPart(d))
	}
	return b
}

func (b *inspectionBody) inspection() checklists.Inspection {
	in := b.Inspection
	in.Answers = answersOf(b.Answers)
	return in
}

func (*inspectionBody) kind() (string, int) { return KindInspection, 1 }

func (b *inspectionBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *inspectionBody) project(tx *Tx, e entry) error {
	in := b.inspection()
	doc, err := marshal(in)
	if err != nil {
		return err
	}
	err = tx.insert("inspections (mill, id, list, signer, at, seq, doc, version, began, late, day)", []any{
		e.Mill, string(in.ID), string(in.List), string(in.Signer), millis(in.At), e.Seq, doc, in.Version, millis(in.Began), in.Late, e.Day,
	})
	if err != nil {
		return err
	}
	signed := signedDayRow{Mill: e.Mill, Day: e.Day, List: string(in.List), Signer: string(in.Signer), Signed: 1}
	if in.Late {
		signed.Late = 1
	}
	if err := tx.count(signed); err != nil {
		return err
	}
	if err := signedNow(tx, e.Mill, in.ID); err != nil {
		return err
	}
	if err := metersRead(tx, e.Mill, string(in.ID), in.Answers); err != nil {
		return err
	}
	for _, d := range b.Defects {
		if err := d.project(tx, e); err != nil {
			return err
		}
	}
	return nil
}

type runCheckBody struct {
	checklists.RunCheck
}

func (*runCheckBody) kind() (string, int) { return KindRunCheck, 1 }

func (b *runCheckBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *runCheckBody) project(tx *Tx, e entry) error {
	return tx.add(&runCheckRow{Mill: e.Mill, ID: string(b.ID), Person: string(b.Person), Until: millis(b.Until), Doc: b.RunCheck})
}

type departurePart struct {
	checklists.Departure
	What   record.Personal `json:"what"`
	Reason record.Personal `json:"reason"`
}

func newDeparturePart(d checklists.Departure) departurePart {
	return departurePart{Departure: d, What: record.Personal(d.What), Reason: record.Personal(d.Reason)}
}

func (p departurePart) departure() checklists.Departure {
	d := p.Departure
	d.What, d.Reason = string(p.What), string(p.Reason)
	return d
}

func (p departurePart) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{p.Equipment}
}

func (p departurePart) project(tx *Tx, e entry) error {
	d := p.departure()
	return tx.put(&departureRow{Mill: e.Mill, ID: string(d.ID), Equipment: string(d.Equipment), Open: d.Open(), At: millis(d.At), Doc: d}, "open", "doc")
}

type (
	departureBody       struct{ departurePart }
	departureClosedBody struct{ departurePart }
)

func (*departureBody) kind() (string, int)       { return KindDeparture, 1 }
func (*departureClosedBody) kind() (string, int) { return KindDepartureClosed, 1 }

// amendmentBody is what was answered again after an inspection was signed.
type amendmentBody struct {
	checklists.Amendment
	Answers   []answerPart             `json:"answers"`
	Defects   []defectPart             `json:"defects"`
	Equipment []procedures.EquipmentID `json:"equipment"`
}

func newAmendmentBody(a checklists.Amendment, found []checklists.Defect, l checklists.List) *amendmentBody {
	b := &amendmentBody{Amendment: a, Answers: answerParts(a.Answers)}
	for _, d := range found {
		b.Defects = append(b.Defects, newDefectPart(d))
	}
	for _, answer := range a.Answers {
		if item, ok := l.Item(answer.Item); ok {
			b.Equipment = append(b.Equipment, item.Equipment)
		}
	}
	return b
}

func (b *amendmentBody) amendment() checklists.Amendment {
	a := b.Amendment
	a.Answers = answersOf(b.Answers)
	return a
}

func (*amendmentBody) kind() (string, int) { return KindAmendment, 1 }

func (b *amendmentBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *amendmentBody) project(tx *Tx, e entry) error {
	a := b.amendment()
	if err := tx.add(&amendmentRow{Mill: e.Mill, ID: string(a.ID), Inspection: string(a.Inspection), At: millis(a.At), Doc: a}); err != nil {
		return err
	}
	if err := metersRead(tx, e.Mill, string(a.ID), a.Answers); err != nil {
		return err
	}
	for _, d := range b.Defects {
		if err := d.project(tx, e); err != nil {
			return err
		}
	}
	return nil
}
