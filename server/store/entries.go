package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Filter chooses entries of the record; an empty field chooses all.
type Filter struct {
	Day       string // local date, "2026-03-02"
	Equipment procedures.EquipmentID
	Person    procedures.PersonID
	Kind      string
	Subject   string
	Before    int64 // only entries with a smaller seq; 0: from the newest
	Newer     bool  // the entries that follow After instead, still newest first
	After     int64
	Limit     int
}

// Entry is one entry of the record as a page shows it.
type Entry struct {
	Seq      int64
	ID       string
	Kind     string
	Subject  string
	Actor    procedures.PersonID
	At       time.Time
	Happened time.Time
	Phone    time.Time // what the phone's own clock said, in its own zone; zero where it told none
	Body     any       // the domain's type, see bodies; nil when this Stillsaw does not know the version
}

// Entries lists entries, newest first, and whether more match on the far side:
// older ones, or newer ones where f asks for those.
func (m *Mill) Entries(ctx context.Context, f Filter) (entries []Entry, more bool, err error) {
	q := m.gorm().WithContext(ctx).Model(&entryRow{}).Where("entries.mill = ?", m.id)
	if f.Equipment != "" {
		q = q.Joins("JOIN entry_equipment ON entry_equipment.mill = entries.mill AND entry_equipment.seq = entries.seq AND entry_equipment.equipment = ?", f.Equipment)
	}
	for _, by := range []struct{ column, value string }{{"day", f.Day}, {"actor", string(f.Person)}, {"kind", f.Kind}, {"subject", f.Subject}} {
		if by.value != "" {
			q = q.Where("entries."+by.column+" = ?", by.value)
		}
	}
	if f.Before > 0 {
		q = q.Where("entries.seq < ?", f.Before)
	}
	order := "entries.seq DESC"
	if f.Newer {
		q, order = q.Where("entries.seq > ?", f.After), "entries.seq"
	}
	var rows []entryRow
	if err := q.Order(order).Limit(f.Limit + 1).Find(&rows).Error; err != nil {
		return nil, false, err
	}
	if more = len(rows) > f.Limit; more {
		rows = rows[:f.Limit]
	}
	if f.Newer {
		slices.Reverse(rows)
	}
	openings, err := openingsOf(ctxReader{m, ctx}, m.id, rows)
	if err != nil {
		return nil, false, err
	}
	for _, row := range rows {
		e, err := entryOf(row, openings[row.Seq])
		if err != nil {
			return nil, false, err
		}
		entries = append(entries, e)
	}
	return entries, more, nil
}

// Leaf is the exact text of one entry as it stands in the log.
func (m *Mill) Leaf(ctx context.Context, seq int64) (Entry, []byte, error) {
	row, err := one[entryRow](ctxReader{m, ctx}, "entry", "mill = ? AND seq = ?", m.id, seq)
	if err != nil {
		return Entry{}, nil, err
	}
	openings, err := openingsOf(ctxReader{m, ctx}, m.id, []entryRow{row})
	if err != nil {
		return Entry{}, nil, err
	}
	e, err := entryOf(row, openings[row.Seq])
	return e, row.Leaf, err
}

func openingsOf(r reader, mill checklists.MillID, rows []entryRow) (map[int64][]record.Opening, error) {
	openings := make(map[int64][]record.Opening, len(rows))
	if len(rows) == 0 {
		return openings, nil
	}
	seqs := make([]int64, len(rows))
	for i, row := range rows {
		seqs[i] = row.Seq
	}
	var kept []openingRow
	if err := r.gorm().Order("seq, path").Find(&kept, "mill = ? AND seq IN ?", mill, seqs).Error; err != nil {
		return nil, err
	}
	for _, o := range kept {
		openings[o.Seq] = append(openings[o.Seq], record.Opening{Path: o.Path, Salt: o.Salt, Value: o.Value})
	}
	for _, row := range rows {
		openings[row.Seq] = blanksIn(row.BlankPaths, row.BlankSalts).with(nil, openings[row.Seq])
	}
	return openings, nil
}

func entryOf(row entryRow, openings []record.Opening) (Entry, error) {
	e := Entry{Seq: row.Seq, ID: row.ID, Kind: row.Kind, Subject: row.Subject, Actor: procedures.PersonID(row.Actor), At: timeOf(row.At), Happened: timeOf(row.Happened)}
	// Whether a leaf is in the one form it may have is asked when it is verified.
	opened, err := record.Reread(row.Leaf, openings)
	if err != nil {
		return e, fmt.Errorf("entry %d of the record: %w", row.Seq, err)
	}
	if !opened.Phone.IsZero() {
		e.Phone = opened.Phone.In(time.FixedZone("", 60*opened.PhoneOffset))
	}
	b, err := decode(row.Kind, row.Version, opened)
	if err != nil || b == nil {
		return e, err
	}
	e.Body = domainOf(b)
	return e, nil
}

// domainOf turns an entry's body into the type pages know.
func domainOf(b body) any {
	if said := retentionDomainOf(b); said != nil {
		return said
	}
	if said := happeningDomainOf(b); said != nil {
		return said
	}
	if said := tokenDomainOf(b); said != nil {
		return said
	}
	switch b := b.(type) {
	case *millBody:
		return b.mill()
	case *personBody:
		return b.person()
	case *pinResetBody:
		return PINReset{Person: b.Person, How: b.How}
	case *plantBody:
		return b.Plant
	case *publishedBody:
		doc, err := b.doc()
		if err != nil {
			return nil // a body this Stillsaw can't show
		}
		return Publication{Sort: b.Sort, ID: b.ID, Version: b.Version, Title: b.Title, Doc: doc, Renewal: b.Renewal.renewal()}
	case *inspectionBody:
		return b.inspection()
	case *unsignedBody:
		return b.Unsigned
	case *asideBody:
		return b.setAside()
	case *amendmentBody:
		return b.amendment()
	case *runCheckBody:
		return b.RunCheck
	case *defectBody:
		return b.defect()
	case *describedBody:
		return b.defect()
	case *mendedBody:
		return b.defect()
	case *returnedBody:
		return b.defect()
	case *departureBody:
		return b.departure()
	case *departureClosedBody:
		return b.departure()
	case *liftBody:
		return b.lift()
	case *liftOfRunBody:
		return b.LiftOfRun
	case *clockBody:
		return b.ClockConfirmation
	case *lighterBody:
		return b.Lighter
	case *weighedBody:
		return b.weighing()
	case *gearInspectedBody:
		return b.inspection()
	case *gearMeasuredBody:
		return b.measurement()
	case *trainingBody:
		return b.training()
	case *procedureInspectedBody:
		return b.inspection()
	case *findingSeenToBody:
		return b.done()
	case *lockItemBody:
		return b.LockItem
	case *contractorBody:
		return b.contractor()
	case *programBody:
		return b.program()
	case *coastBody:
		return b.coast()
	case *declarationBody:
		return b.Declaration
	case *taskBody:
		return b.task()
	case *emergencyCardBody:
		return b.card()
	case *logKeyBody:
		return b.named()
	case *backupBody:
		return b.BackupAct
	case *lockoutBody:
		return LockoutAct{Lockout: b.Lockout, Procedure: b.Procedure, Version: b.Version, Event: b.event()}
	}
	if said := registerDomainOf(b); said != nil {
		return said
	}
	if said := witnessDomainOf(b); said != nil {
		return said
	}
	return defectDomainOf(b)
}

// PINReset is the entry that a person's PIN or password was set anew.
type PINReset struct {
	Person procedures.PersonID
	How    string
}

// LockoutAct is one event of a lockout as its entry keeps it.
type LockoutAct struct {
	Lockout   procedures.LockoutID
	Procedure procedures.ProcedureID
	Version   int
	Event     procedures.Event
}

// Proof is an entry's place in the log, proven to lie under the head's root.
type Proof struct {
	Leaf tlog.Hash // hash of the entry's leaf
	Head record.Head
	Path []tlog.Hash // the other hashes on the way from the leaf to the root
}

// Prove shows that a leaf stands at its place under the present root. An error
// means that it does not, or that the stored hashes can't show it.
func (m *Mill) Prove(ctx context.Context, seq int64, leaf []byte) (p Proof, err error) {
	p.Leaf = tlog.RecordHash(leaf)
	// One transaction, so that head and hashes are of one moment.
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		tx := &Tx{db: db}
		if p.Head, err = headOf(tx, m.id); err != nil {
			return err
		}
		if p.Path, err = tlog.ProveRecord(p.Head.Size, seq, hashReader(tx, m.id)); err != nil {
			return err
		}
		return tlog.CheckRecord(p.Path, p.Head.Size, p.Head.Root, seq, p.Leaf)
	})
	return p, err
}

// Head is where a mill's log stands.
func (m *Mill) Head(ctx context.Context) (record.Head, error) {
	return headOf(ctxReader{m, ctx}, m.id)
}

func headOf(r reader, mill checklists.MillID) (record.Head, error) {
	row, err := logHeadOf(r, mill)
	if err != nil {
		return record.Head{}, err
	}
	return row.head()
}

// decode reads an entry's body into its type, nil for a version this Stillsaw
// does not know.
func decode(kind string, version int, opened record.Entry) (body, error) {
	b := bodyOf(kind, version)
	if b == nil {
		return nil, nil
	}
	if err := record.Decode(opened, &b); err != nil {
		return b, err
	}
	if l, ok := b.(*lockoutBody); ok {
		l.notShown(opened.Withheld)
	}
	return b, nil
}
