package store

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Selection is what of a record is asked for; an empty field asks for all. From
// and Until are local days of the mill, "2026-03-02", both inclusive. Person
// chooses what they entered and what was entered of them. Subject is the id of a
// lockout, defect, inspection, incident or the like; with it comes what hangs on
// it, see [Selection.subjects].
type Selection struct {
	From, Until string
	Equipment   procedures.EquipmentID
	Person      procedures.PersonID
	Subject     string
}

// Withhold is what of the entries selected is not shown: who a person is, what
// people wrote, pictures. Each entry still proves that something stands there.
type Withhold struct{ Names, Notes, Photos bool }

// Exported is one entry of an export. Proof shows Row.Leaf to lie under the
// checkpoint's root; Withheld are the personal fields not shown, whether kept
// back now or dropped before. Entry.Body is nil where this Stillsaw can't read it.
type Exported struct {
	Entry    Entry
	Row      record.Row
	Proof    []tlog.Hash
	Withheld []string
	Dropped  []string // those of Withheld the record itself no longer keeps
	Photos   []string

	Equipment []procedures.EquipmentID // what it is found under

	// Also: it was not selected, and comes after those that were, without its
	// openings. It names a key of the mill, or says that something of them was dropped.
	Also bool
}

// exportPage is how many entries an export holds in memory at once, beside the
// numbers of all that were selected.
const exportPage = 200

// exported streams the entries selected in the order of the log, with their
// proofs under head, which must be read in the same transaction.
func (tx *Tx) exported(mill checklists.MillID, head record.Head, selection Selection, withhold Withhold, each func(Exported) error) error {
	chosen, err := selection.chosen(tx, mill)
	if err != nil {
		return err
	}
	// Which entries they are stands in an index whatever was asked for; asked for
	// page by page, the whole record would be read for a few of them.
	var seqs []int64
	if err := chosen().Model(&entryRow{}).Pluck("entries.seq", &seqs).Error; err != nil {
		return err
	}
	slices.Sort(seqs)
	seqs = slices.DeleteFunc(seqs, func(seq int64) bool { return seq < 0 || seq >= head.Size })
	out := exporting{tx: tx, mill: mill, size: head.Size, hashes: newPagedHashes(tx, mill, head.Size), each: each}
	hold, err := withholdingOf(tx, mill, withhold)
	if err != nil {
		return err
	}
	leant := leaning{tx: tx, mill: mill, on: map[int64]bool{}, photos: map[string]bool{}}
	err = out.page(seqs, func(row entryRow, openings []record.Opening) Exported {
		one := exportedOf(row, hold.of(row, openings))
		one.Dropped = lacking(one.Withheld, openings)
		leant.take(one)
		return one
	}, leant.look)
	if err != nil {
		return err
	}
	also, err := leant.entries(seqs, head.Size)
	if err != nil {
		return err
	}
	return out.page(also, func(row entryRow, _ []record.Opening) Exported {
		one := exportedOf(row, nil)
		one.Also = true
		return one
	}, func() error { return nil })
}

// exporting hands out entries with their proofs.
type exporting struct {
	tx     *Tx
	mill   checklists.MillID
	size   int64
	hashes tlog.HashReader
	each   func(Exported) error
}

// page hands out the entries at seqs, some at a time; between is called after each
// lot.
func (x exporting) page(seqs []int64, of func(entryRow, []record.Opening) Exported, between func() error) error {
	for part := range slices.Chunk(seqs, exportPage) {
		var page []entryRow
		if err := x.tx.gorm().Where("mill = ? AND seq IN ?", x.mill, part).Order("seq").Find(&page).Error; err != nil {
			return err
		}
		openings, err := openingsOf(x.tx, x.mill, page)
		if err != nil {
			return err
		}
		for _, row := range page {
			one := of(row, openings[row.Seq])
			if one.Proof, err = tlog.ProveRecord(x.size, row.Seq, x.hashes); err != nil {
				return err
			}
			if err := x.each(one); err != nil {
				return err
			}
		}
		if err := between(); err != nil {
			return err
		}
	}
	return nil
}

// exportedOf is the entry as it goes out. One that can't be read, since the
// database was altered, goes out as it is: the export must not hide it, and
// whoever checks the export is told.
func exportedOf(row entryRow, openings []record.Opening) Exported {
	one := Exported{Row: recordRow(row, openings)}
	one.Photos = record.PhotosNamed(row.Leaf)
	one.Entry = Entry{Seq: row.Seq, ID: row.ID, Kind: row.Kind, Subject: row.Subject, Actor: procedures.PersonID(row.Actor), At: timeOf(row.At), Happened: timeOf(row.Happened)}
	read, err := record.Read(row.Leaf, openings)
	if err != nil {
		return one
	}
	one.Withheld = read.Withheld
	if !read.Phone.IsZero() {
		one.Entry.Phone = read.Phone.In(time.FixedZone("", 60*read.PhoneOffset))
	}
	if b, err := decode(row.Kind, row.Version, read); err == nil && b != nil {
		one.Entry.Body, one.Equipment = domainOf(b), distinct(b.about())
	}
	return one
}

// chosen makes queries for the entries selected.
func (s Selection) chosen(tx *Tx, mill checklists.MillID) (func() *gorm.DB, error) {
	subjects, err := s.subjects(tx, mill)
	if err != nil {
		return nil, err
	}
	return func() *gorm.DB {
		q := tx.gorm().Where("entries.mill = ?", mill)
		if s.Equipment != "" {
			q = q.Joins("JOIN entry_equipment ON entry_equipment.mill = entries.mill AND entry_equipment.seq = entries.seq AND entry_equipment.equipment = ?", s.Equipment)
		}
		if s.From != "" {
			q = q.Where("entries.day >= ?", s.From)
		}
		if s.Until != "" {
			q = q.Where("entries.day <= ?", s.Until)
		}
		if s.Person != "" {
			q = q.Where("(entries.actor = ? OR entries.subject = ?)", s.Person, s.Person)
		}
		if len(subjects) > 0 {
			q = q.Where("entries.subject IN ?", subjects)
		}
		return q
	}, nil
}

// subjects are the subject asked for and what hangs on it: with a defect the
// inspection it was found in, with an inspection the defects it found, with a
// lockout the departures from it, with an incident what it holds the machine by.
func (s Selection) subjects(tx *Tx, mill checklists.MillID) ([]string, error) {
	if s.Subject == "" {
		return nil, nil
	}
	subjects := []string{s.Subject}
	for _, held := range []struct{ table, member string }{{"defects", "inspection"}, {"departures", "lockout"}} {
		var ids []string
		err := tx.gorm().Raw("SELECT id FROM "+held.table+" WHERE mill = ? AND doc LIKE ? ESCAPE '\\' ORDER BY id", mill, mentions(held.member, s.Subject)).Scan(&ids).Error
		if err != nil {
			return nil, err
		}
		subjects = append(subjects, ids...)
	}
	defect, err := one[defectRow](tx, "defect", "mill = ? AND id = ?", mill, s.Subject)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, err
	}
	incident, err := one[incidentRow](tx, "incident", "mill = ? AND id = ?", mill, s.Subject)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, err
	}
	for _, id := range []string{string(defect.Doc.Inspection), string(incident.Doc.Defect), string(incident.Doc.Departure)} {
		if id != "" {
			subjects = append(subjects, id)
		}
	}
	return subjects, nil
}

// mentions is a LIKE pattern for a document whose member is id.
func mentions(member, id string) string {
	return `%"` + member + `":"` + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(id) + `"%`
}

// Export streams the entries selected, in the order of the log and in one read
// transaction, and returns the checkpoint their proofs lead to.
func (m *Mill) Export(ctx context.Context, selection Selection, withhold Withhold, each func(Exported) error) (checkpoint Checkpoint, err error) {
	err = m.ExportUnder(ctx, selection, withhold, func(c Checkpoint, _ note.Signer) error { checkpoint = c; return nil }, each)
	return checkpoint, err
}

// ExportUnder is [Mill.Export] for a file that says first which checkpoint its
// proofs lead to: begin is called with it, and with what signs for the mill,
// before the first entry. Its error is [ErrNoKey] where nothing can be signed.
func (m *Mill) ExportUnder(ctx context.Context, selection Selection, withhold Withhold, begin func(Checkpoint, note.Signer) error, each func(Exported) error) error {
	return m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		tx := &Tx{db: db}
		head, err := headOf(tx, m.id)
		if err != nil {
			return err
		}
		c, err := m.checkpointAt(tx, head)
		if err != nil {
			return err
		}
		signer, _, err := m.s.keys.signer(m.id, c.Keys[len(c.Keys)-1].Verifier)
		if err != nil {
			return err
		}
		if err := begin(c, signer); err != nil {
			return err
		}
		return tx.exported(m.id, head, selection, withhold, each)
	})
}
