package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

type procedureInspectionRow struct {
	Mill      string `gorm:"primaryKey"`
	ID        string `gorm:"primaryKey"`
	Procedure string
	At        int64                          // the day of the inspection
	Doc       procedures.ProcedureInspection `gorm:"serializer:json"`
}

func (procedureInspectionRow) TableName() string { return "procedure_inspections" }

type findingSeenToRow struct {
	Mill       string `gorm:"primaryKey"`
	Inspection string `gorm:"primaryKey"`
	Finding    int    `gorm:"primaryKey;autoIncrement:false"`
	At         int64
	Doc        procedures.ActionDone `gorm:"serializer:json"`
}

func (findingSeenToRow) TableName() string { return "findings_seen_to" }

type findingPart struct {
	procedures.Finding
	Said record.Personal `json:"said"`
}

type procedureInspectedBody struct {
	procedures.ProcedureInspection
	Outside  record.Personal `json:"outside"`
	WhyLater record.Personal `json:"why_later,omitzero"`
	Findings []findingPart   `json:"findings"`
}

func newProcedureInspectedBody(in procedures.ProcedureInspection) *procedureInspectedBody {
	b := &procedureInspectedBody{ProcedureInspection: in, Outside: record.Personal(in.Outside), WhyLater: record.Personal(in.WhyLater)}
	for _, f := range in.Findings {
		b.Findings = append(b.Findings, findingPart{f, record.Personal(f.Said)})
	}
	return b
}

func (b *procedureInspectedBody) inspection() procedures.ProcedureInspection {
	in := b.ProcedureInspection
	in.Outside, in.WhyLater, in.Findings = string(b.Outside), string(b.WhyLater), nil
	for _, f := range b.Findings {
		f.Finding.Said = string(f.Said)
		in.Findings = append(in.Findings, f.Finding)
	}
	return in
}

func (*procedureInspectedBody) kind() (string, int) { return KindProcedureInspected, 1 }

func (b *procedureInspectedBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *procedureInspectedBody) project(tx *Tx, e entry) error {
	in := b.inspection()
	return tx.add(&procedureInspectionRow{Mill: e.Mill, ID: string(in.ID), Procedure: string(in.Procedure), At: millis(in.On), Doc: in})
}

type findingSeenToBody struct {
	everywhere
	procedures.ActionDone
	Note record.Personal `json:"note"`
}

func (b *findingSeenToBody) done() procedures.ActionDone {
	d := b.ActionDone
	d.Note = string(b.Note)
	return d
}

func (*findingSeenToBody) kind() (string, int) { return KindFindingSeenTo, 1 }

func (b *findingSeenToBody) project(tx *Tx, e entry) error {
	d := b.done()
	return tx.add(&findingSeenToRow{Mill: e.Mill, Inspection: string(d.Inspection), Finding: d.Finding, At: millis(d.At), Doc: d})
}

// InspectProcedure signs the certificate of a periodic inspection of the
// procedure's version in force. watched is the lockout that was watched, "" for
// none. Its error is what [procedures.ProcedureInspection.Certify] refuses, or
// ErrNotFound.
func (m *Mill) InspectProcedure(ctx context.Context, submission string, in procedures.ProcedureInspection, watched procedures.LockoutID, by procedures.Person, at time.Time) (procedures.ProcedureInspectionID, error) {
	id, err := m.do(ctx, submission, "procedure-inspected", at, func(tx *Tx, at time.Time) (string, error) {
		facts, err := inspectionFacts(tx, m.id, in.Procedure, watched)
		if err != nil {
			return "", err
		}
		in.ID = procedures.ProcedureInspectionID(NewID())
		signed, err := in.Certify(facts, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: signed.On, Subject: string(signed.ID)}, newProcedureInspectedBody(signed))
		return string(signed.ID), err
	})
	return procedures.ProcedureInspectionID(id), err
}

// InspectionFacts loads what a certificate for the procedure's version in force
// is held against, for the form that asks for it.
func (m *Mill) InspectionFacts(ctx context.Context, id procedures.ProcedureID, watched procedures.LockoutID) (procedures.InspectionFacts, error) {
	return inspectionFacts(ctxReader{m, ctx}, m.id, id, watched)
}

func inspectionFacts(r reader, mill checklists.MillID, id procedures.ProcedureID, watched procedures.LockoutID) (f procedures.InspectionFacts, err error) {
	if f.Procedure, err = procedure(r, mill, id, 0); err != nil {
		return f, err
	}
	if f.Editions, err = editions(r, mill, id); err != nil {
		return f, err
	}
	own, err := one[millRow](r, "mill", "id = ?", mill)
	if err != nil {
		return f, err
	}
	f.Mill = own.Name
	if f.People, err = people(r, mill); err != nil {
		return f, err
	}
	if f.Trainings, err = trainings(r, mill); err != nil {
		return f, err
	}
	if f.Affected, err = affected(r, mill); err != nil {
		return f, err
	}
	if watched != "" {
		row, err := one[lockoutRow](r, "lockout", "mill = ? AND id = ?", mill, watched)
		if err != nil {
			return f, err
		}
		f.Watched = &row.Doc
	}
	before, err := procedureInspections(r, mill, id)
	if err != nil {
		return f, err
	}
	var since int64
	for _, in := range before {
		since = max(since, millis(in.On))
	}
	var used []lockoutRow
	err = r.gorm().Order("at, id").Find(&used, "mill = ? AND procedure = ? AND at >= ?", mill, id, since).Error
	for i := range used {
		f.Used = append(f.Used, used[i].Doc)
	}
	return f, err
}

// ProcedureInspection loads one.
func (m *Mill) ProcedureInspection(ctx context.Context, id procedures.ProcedureInspectionID) (procedures.ProcedureInspection, error) {
	row, err := one[procedureInspectionRow](ctxReader{m, ctx}, "inspection", "mill = ? AND id = ?", m.id, id)
	return row.Doc, err
}

// ProcedureInspections lists the periodic inspections of a procedure, of every
// one for "", the oldest first.
func (m *Mill) ProcedureInspections(ctx context.Context, id procedures.ProcedureID) ([]procedures.ProcedureInspection, error) {
	return procedureInspections(ctxReader{m, ctx}, m.id, id)
}

func procedureInspections(r reader, mill checklists.MillID, id procedures.ProcedureID) ([]procedures.ProcedureInspection, error) {
	var rows []procedureInspectionRow
	err := r.gorm().Order("at, id").Find(&rows, "mill = ? AND (? = '' OR procedure = ?)", mill, id, id).Error
	all := make([]procedures.ProcedureInspection, len(rows))
	for i := range rows {
		all[i] = rows[i].Doc
	}
	return all, err
}

// SeeToFinding reports that a finding of an inspection, by its place from 0, is
// seen to. Its error is what [procedures.ActionDone.SeeTo] refuses, or ErrNotFound.
func (m *Mill) SeeToFinding(ctx context.Context, submission string, id procedures.ProcedureInspectionID, finding int, note string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "finding-seen-to", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[procedureInspectionRow](tx, "inspection", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		before, err := findingsSeenTo(tx, m.id)
		if err != nil {
			return "", err
		}
		done, err := procedures.ActionDone{Finding: finding, Note: note}.SeeTo(row.Doc, before, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &findingSeenToBody{ActionDone: done, Note: record.Personal(done.Note)})
		return string(id), err
	})
	return err
}

// FindingsSeenTo lists which findings of inspections were reported seen to.
func (m *Mill) FindingsSeenTo(ctx context.Context) ([]procedures.ActionDone, error) {
	return findingsSeenTo(ctxReader{m, ctx}, m.id)
}

func findingsSeenTo(r reader, mill checklists.MillID) ([]procedures.ActionDone, error) {
	var rows []findingSeenToRow
	err := r.gorm().Order("at, inspection, finding").Find(&rows, "mill = ?", mill).Error
	all := make([]procedures.ActionDone, len(rows))
	for i := range rows {
		all[i] = rows[i].Doc
	}
	return all, err
}
