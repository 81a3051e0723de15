package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// Verify recomputes every leaf and the tree of every mill in the database, holds
// against each entry the equipment it is found by and the photos it names, holds
// the checkpoints put by against it, and reports what does not agree, by mill; a
// database without a mill has no report.
// The tables made from the entries (see the bodies' project) are not compared.
func (s *Store) Verify(ctx context.Context) (map[checklists.MillID]record.Report, error) {
	return verify(ctx, s.reads, s.mill)
}

// verify verifies the mills that db sees, of a database of many the only one it may.
func verify(ctx context.Context, db *gorm.DB, only checklists.MillID) (reports map[checklists.MillID]record.Report, err error) {
	err = db.WithContext(ctx).Transaction(func(db *gorm.DB) (err error) {
		reports, err = verifyAll(&Tx{db: db}, only)
		return err
	})
	return reports, err
}

// verifyAll verifies every mill as tx reads it, or the only one.
func verifyAll(tx *Tx, only checklists.MillID) (map[checklists.MillID]record.Report, error) {
	// A mill whose row was removed still has its log, or at least its entries.
	var mills []checklists.MillID
	statement, args := "SELECT id FROM mills UNION SELECT mill FROM log_heads UNION SELECT DISTINCT mill FROM entries ORDER BY 1", []any(nil)
	if only != "" {
		statement = "SELECT id FROM mills WHERE id = ? UNION SELECT mill FROM log_heads WHERE mill = ? UNION SELECT DISTINCT mill FROM entries WHERE mill = ?"
		args = []any{only, only, only}
	}
	err := tx.gorm().Raw(statement, args...).Scan(&mills).Error
	if err != nil {
		return nil, err
	}
	lacks, err := schemaFaults(tx)
	if err != nil {
		return nil, err
	}
	reports := make(map[checklists.MillID]record.Report, len(mills))
	for _, mill := range mills {
		report, err := verifyMill(tx, mill)
		switch {
		case err != nil && len(lacks) > 0:
			return nil, fmt.Errorf("%s %w", lacks[0], err)
		case err != nil:
			return nil, err
		}
		for _, what := range lacks {
			report.Add(record.Fault{Seq: -1, Change: record.TablesDiffer, Field: "migrations", What: what})
		}
		reports[mill] = report
	}
	return reports, nil
}

func verifyMill(tx *Tx, mill checklists.MillID) (record.Report, error) {
	return verifyMillBy(tx, mill, (*besides).learn)
}

// verifyMillBy is verifyMill with what learns a form of entries, nil to look at each
// by itself.
func verifyMillBy(tx *Tx, mill checklists.MillID, learn func(*besides, record.Entry, []string) any) (record.Report, error) {
	head, err := headOf(tx, mill)
	if errors.Is(err, ErrNotFound) {
		head, err = record.Head{Mill: string(mill)}, nil
	}
	if err != nil {
		return record.Report{}, err
	}
	gone, err := droppedOf(tx, mill)
	if err != nil {
		return record.Report{}, err
	}
	photos, err := photosOf(tx, mill, gone)
	if err != nil {
		return record.Report{}, err
	}
	words, err := newSearchCheck(tx, mill)
	if err != nil {
		return record.Report{}, err
	}
	found, err := newFoundUnder(tx, mill)
	if err != nil {
		return record.Report{}, err
	}
	beside := besides{tx: tx, mill: mill, photos: photos, dropped: gone, words: words, found: found}
	rows := &verifyRows{tx: tx, mill: mill, gone: gone}
	checks := record.Checks{Each: beside.check, Alike: beside.alike, Opaque: opaqueTo}
	if learn != nil {
		checks.Learn = func(e record.Entry, ids []string) any { return learn(&beside, e, ids) }
	}
	report := record.VerifyBy(head, beside.comeBy(rows.all()), hashReader(tx, mill), checks)
	if beside.err != nil {
		return record.Report{}, beside.err
	}
	if err := words.finish(&report, head.Size); err != nil {
		return record.Report{}, err
	}
	photos.unnamed(&report)
	if err := verifyCheckpoints(tx, mill, head, beside.named, &report); err != nil {
		return record.Report{}, err
	}
	return report, strays(rows, found, &report)
}

// besides checks what is kept beside the entries of one mill.
type besides struct {
	tx     *Tx
	mill   checklists.MillID
	photos keptPhotos

	dropped *dropped
	words   *searchCheck
	named   []LogKey // keys the entries come by so far name
	err     error    // the first met while reading

	found *foundUnder
	kept  map[string]bool // photos seen to be kept
	bits  []uint64        // of found, of the entry come by last
}

// check is the record.Check of one entry.
func (b *besides) check(row record.Row, e record.Entry) (faults []record.Fault) {
	if b.err != nil {
		return nil
	}
	said, err := decode(e.Kind, e.Version, e)
	if err == nil && said == nil {
		err = errors.New("its kind and version are not known here")
	}
	if err != nil {
		return []record.Fault{{Change: record.LeafUnreadable, What: plain.Say("Entry %d can't be read by this Stillsaw: %s.", row.Seq, err.Error())}}
	}
	b.named = keysWith(b.named, said, row.Seq)
	if b.err = b.words.entry(row, e, said); b.err != nil {
		return nil
	}
	if !b.found.is(b.bits, said.about()) {
		faults = append(faults, record.Fault{Change: record.EquipmentDiffers, Field: "equipment", What: plain.Say(
			"Entry %d is found under other equipment than it is about.", row.Seq)})
	}
	pictures, err := b.pictures(row, said)
	kept, err2 := b.stillKept(said, e.At)
	forbidden, err3 := b.forbidden(said, row.Seq)
	b.err = cmp.Or(err, err2, err3)
	return slices.Concat(faults, pictures, kept, forbidden)
}

// comeBy looks up what equipment each row is found by, whatever else is wrong with it.
func (b *besides) comeBy(rows iter.Seq2[record.Row, error]) iter.Seq2[record.Row, error] {
	return func(yield func(record.Row, error) bool) {
		for row, err := range rows {
			if err == nil && b.err == nil {
				b.bits, b.err = b.found.of(row.Seq)
			}
			if !yield(row, err) {
				return
			}
		}
	}
}

// strays reports what is kept for entries that are not there.
func strays(rows *verifyRows, found *foundUnder, report *record.Report) error {
	seqs, err := found.straysOf(rows.done)
	if err != nil {
		return err
	}
	for _, seq := range seqs {
		report.Add(record.Fault{Seq: seq, Change: record.EquipmentDiffers, Field: "equipment", What: plain.Say(
			"Equipment is named for entry %d, which is not there.", seq)})
	}
	seqs, err = rows.straysOf()
	for _, seq := range seqs {
		report.Add(record.Fault{Seq: seq, Change: record.OpeningStray, What: plain.Say(
			"There are personal values for entry %d, which is not there.", seq)})
	}
	return err
}

func recordRow(row entryRow, openings []record.Opening) record.Row {
	return record.Row{Seq: row.Seq, Leaf: row.Leaf, Openings: openings, Columns: record.Columns{
		ID: row.ID, Kind: row.Kind, Version: row.Version, Subject: row.Subject, Actor: row.Actor,
		At: timeOf(row.At), Offset: row.AtOffset, Happened: timeOf(row.Happened), HappenedOffset: row.HappenedOffset, Day: row.Day,
	}}
}

// SortedMills are the mills of reports in a fixed order.
func SortedMills(reports map[checklists.MillID]record.Report) []checklists.MillID {
	return slices.Sorted(maps.Keys(reports))
}
