package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// Sort is what a published document is.
type Sort string

const (
	Lists      Sort = "list"
	Procedures Sort = "procedure"
	Rigs       Sort = "rig"
)

// Draft is the working text of the next version, JSON of the domain's type.
type Draft struct {
	Sort     Sort
	ID       string
	Title    string
	Revision int
	At       time.Time
	Doc      string

	// Renewal is said of a procedure's next version when it is put in force; no
	// draft keeps it.
	Renewal procedures.Renewal
	// From and Reasons are said of a list's next version likewise: when it takes
	// force, zero for at the signature, and why it asks less where it does.
	From    time.Time
	Reasons map[checklists.ItemID]string
}

// Publication is one version that was put in force.
type Publication struct {
	Sort    Sort
	ID      string
	Version int
	Title   string
	By      procedures.PersonID
	At      time.Time
	Doc     string
	Renewal procedures.Renewal // of a procedure, in the entry that put it in force; else see [Mill.Renewal]
}

// DraftOf makes a Draft from a domain document.
func DraftOf(sort Sort, id, title string, doc any) (Draft, error) {
	text, err := marshal(doc)
	return Draft{Sort: sort, ID: id, Title: title, Doc: text}, err
}

// Drafts lists what is being written.
func (m *Mill) Drafts(ctx context.Context) ([]Draft, error) {
	var rows []draftRow
	err := m.gorm().WithContext(ctx).Order("sort, title").Find(&rows, "mill = ?", m.id).Error
	drafts := make([]Draft, len(rows))
	for i, row := range rows {
		drafts[i] = draftOf(row)
	}
	return drafts, err
}

// Draft loads one.
func (m *Mill) Draft(ctx context.Context, sort Sort, id string) (Draft, error) {
	row, err := one[draftRow](ctxReader{m, ctx}, "draft", "mill = ? AND sort = ? AND id = ?", m.id, sort, id)
	return draftOf(row), err
}

func draftOf(row draftRow) Draft {
	return Draft{Sort: Sort(row.Sort), ID: row.ID, Title: row.Title, Revision: row.Revision, At: timeOf(row.At), Doc: row.Doc}
}

// KeepDraft stores d if nobody changed it since d.Revision was read; the error
// is ErrChanged otherwise, unless the same text stands there already, as when a
// form was sent twice. A new draft has revision 0.
func (m *Mill) KeepDraft(ctx context.Context, d Draft, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error { return m.keepDraft(tx, d, at) })
}

func (m *Mill) keepDraft(tx *Tx, d Draft, at time.Time) error {
	row, err := one[draftRow](tx, "draft", "mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID)
	switch {
	case errors.Is(err, ErrNotFound) && d.Revision == 0:
		return tx.gorm().Create(&draftRow{Mill: string(m.id), Sort: string(d.Sort), ID: d.ID, Title: d.Title, Revision: 1, At: millis(at), Doc: d.Doc}).Error
	case errors.Is(err, ErrNotFound):
		return ErrChanged
	case err != nil:
		return err
	case row.Title == d.Title && row.Doc == d.Doc:
		return nil
	case row.Revision != d.Revision:
		return ErrChanged
	}
	return tx.gorm().Model(&draftRow{}).
		Where("mill = ? AND sort = ? AND id = ?", m.id, d.Sort, d.ID).
		Select("title", "revision", "at", "doc").
		Updates(&draftRow{Title: d.Title, Revision: d.Revision + 1, At: millis(at), Doc: d.Doc}).Error
}

// DiscardDraft takes away what is being written, read at that revision; what is
// in force stays. One that is gone already is no error, as when a form was sent
// twice. The error is ErrChanged when somebody wrote on meanwhile, or a
// [plain.Refusal] for who doesn't supervise.
func (m *Mill) DiscardDraft(ctx context.Context, sort Sort, id string, revision int, by procedures.Person) error {
	if !by.Supervises() {
		return refuseRole()
	}
	return m.s.writer.do(ctx, func(tx *Tx) error {
		row, err := one[draftRow](tx, "draft", "mill = ? AND sort = ? AND id = ?", m.id, sort, id)
		switch {
		case errors.Is(err, ErrNotFound):
			return nil
		case err != nil:
			return err
		case row.Revision != revision:
			return ErrChanged
		}
		return tx.gorm().Where("mill = ? AND sort = ? AND id = ?", m.id, sort, id).Delete(&draftRow{}).Error
	})
}

// Publish puts the draft that was read at revision in force as the next
// version. number tells the document its number and checks it: it is the
// domain's rule, run on the text as it stands in the transaction. A list has
// none: it is held against the version it takes the place of.
func (m *Mill) Publish(ctx context.Context, submission string, sort Sort, id string, revision int, by procedures.Person, at time.Time,
	number Number) error {
	_, err := m.do(ctx, submission, "publish", at, func(tx *Tx, at time.Time) (string, error) {
		draft, err := one[draftRow](tx, "draft", "mill = ? AND sort = ? AND id = ?", m.id, sort, id)
		if err != nil {
			return "", err
		}
		if draft.Revision != revision {
			return "", ErrChanged
		}
		return id, m.putInForce(tx, draftOf(draft), by, at, number)
	})
	return err
}

func lastVersion(r reader, mill checklists.MillID, sort Sort, id string) (int, error) {
	var last int
	err := r.gorm().Raw("SELECT coalesce(max(version), 0) FROM publications WHERE mill = ? AND sort = ? AND id = ?", mill, sort, id).Scan(&last).Error
	return last, err
}

// InForce lists the newest version of every document of a sort.
func (m *Mill) InForce(ctx context.Context, sort Sort) ([]Publication, error) {
	return inForce(ctxReader{m, ctx}, m.id, sort)
}

func inForce(r reader, mill checklists.MillID, sort Sort) ([]Publication, error) {
	var rows []publicationRow
	err := r.gorm().Order("title, id").Find(&rows, `mill = ? AND sort = ? AND version = (
		SELECT max(version) FROM publications AS newer WHERE newer.mill = ? AND newer.sort = publications.sort AND newer.id = publications.id)`, mill, sort, mill).Error
	published := make([]Publication, len(rows))
	for i, row := range rows {
		published[i] = publicationOf(row)
	}
	return published, err
}

func publicationOf(row publicationRow) Publication {
	return Publication{Sort: Sort(row.Sort), ID: row.ID, Version: row.Version, Title: row.Title, By: procedures.PersonID(row.Actor), At: timeOf(row.At), Doc: row.Doc}
}

// Published loads one version of a document, the newest for version 0.
func (m *Mill) Published(ctx context.Context, sort Sort, id string, version int) (Publication, error) {
	return published(ctxReader{m, ctx}, m.id, sort, id, version)
}

func published(r reader, mill checklists.MillID, sort Sort, id string, version int) (Publication, error) {
	if version == 0 {
		last, err := lastVersion(r, mill, sort, id)
		if err != nil {
			return Publication{}, err
		}
		version = last
	}
	row, err := one[publicationRow](r, string(sort), "mill = ? AND sort = ? AND id = ? AND version = ?", mill, sort, id, version)
	return publicationOf(row), err
}

// read parses a stored document as the domain's type.
func read[T any](doc string) (T, error) {
	var value T
	if err := json.Unmarshal([]byte(doc), &value); err != nil {
		return value, fmt.Errorf("a stored document can't be read: %w", err)
	}
	return value, nil
}

// List, Procedure load one version, the newest for version 0.
func (m *Mill) List(ctx context.Context, id checklists.ListID, version int) (checklists.List, error) {
	return list(ctxReader{m, ctx}, m.id, id, version)
}

func list(r reader, mill checklists.MillID, id checklists.ListID, version int) (checklists.List, error) {
	p, err := published(r, mill, Lists, string(id), version)
	if err != nil {
		return checklists.List{}, err
	}
	return read[checklists.List](p.Doc)
}

// Procedure loads one version of a procedure, the newest for version 0.
func (m *Mill) Procedure(ctx context.Context, id procedures.ProcedureID, version int) (procedures.Procedure, error) {
	return procedure(ctxReader{m, ctx}, m.id, id, version)
}

func procedure(r reader, mill checklists.MillID, id procedures.ProcedureID, version int) (procedures.Procedure, error) {
	p, err := published(r, mill, Procedures, string(id), version)
	if err != nil {
		return procedures.Procedure{}, err
	}
	return read[procedures.Procedure](p.Doc)
}

// procedureAt is the version of a procedure that was in force at that time.
func procedureAt(r reader, mill checklists.MillID, id procedures.ProcedureID, at time.Time) (procedures.Procedure, error) {
	if last, err := procedure(r, mill, id, 0); errors.Is(err, ErrNotFound) {
		return last, nothingInForce("procedure")
	} else if err != nil {
		return last, err
	}
	row, err := one[publicationRow](r, "procedure", "mill = ? AND sort = ? AND id = ? AND version = (SELECT max(version) FROM publications WHERE mill = ? AND sort = ? AND id = ? AND at <= ?)",
		mill, Procedures, id, mill, Procedures, id, millis(at))
	if errors.Is(err, ErrNotFound) {
		return procedures.Procedure{}, plain.Refuse(procedures.Clause("(c)(4)(i)"), "No version of this procedure was in force at that time. Enter what was done then as something that went against the order; or correct when it began.")
	}
	if err != nil {
		return procedures.Procedure{}, err
	}
	return read[procedures.Procedure](row.Doc)
}

// NumberProcedure is the check and numbering a procedure goes through.
func NumberProcedure(doc string, version int) (string, error) {
	p, err := read[procedures.Procedure](doc)
	if err != nil {
		return "", err
	}
	if err := p.Validate(); err != nil {
		return "", err
	}
	p.Version = version
	return marshal(p)
}

// Rig loads one version of a rig with when and by whom it was put in force, the
// newest for version 0.
func (m *Mill) Rig(ctx context.Context, id string, version int) (lift.Rig, Publication, error) {
	p, err := m.Published(ctx, Rigs, id, version)
	if err != nil {
		return lift.Rig{}, Publication{}, err
	}
	r, err := ReadRig(p.Doc)
	return r, p, err
}

// ReadRig parses the text of a rig, as a draft holds it.
func ReadRig(doc string) (lift.Rig, error) { return read[lift.Rig](doc) }

// NumberRig is the check a rig goes through when published. What is merely
// unknown passes: every lift with it is a NO-GO that says so.
func NumberRig(doc string, _ int) (string, error) {
	r, err := ReadRig(doc)
	if err != nil {
		return "", err
	}
	if err := r.Validate(); err != nil {
		return "", err
	}
	return marshal(r)
}

// noDraft is said where an act needs something in force that nobody published.
func nothingInForce(what string) error {
	return plain.Refuse("", "no %s is in force yet; a supervisor reads and publishes one first", what)
}
