package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// Verify recomputes every leaf and the tree of every mill in the database, holds
// against each entry the equipment it is found by and the photos it names, holds
// the checkpoints put by against it, and reports what does not agree, by mill; a
// database without a mill has no report.
// The tables made from the entries (see the bodies' project) are not compared.
func (s *Store) Verify(ctx context.Context) (map[checklists.MillID]record.Report, error) {
	return verify(ctx, s.reads)
}

func verify(ctx context.Context, db *gorm.DB) (reports map[checklists.MillID]record.Report, err error) {
	err = db.WithContext(ctx).Transaction(func(db *gorm.DB) (err error) {
		reports, err = verifyAll(&Tx{db: db})
		return err
	})
	return reports, err
}

// verifyAll verifies every mill as tx reads it.
func verifyAll(tx *Tx) (map[checklists.MillID]record.Report, error) {
	// A mill whose row was removed still has its log, or at least its entries.
	var mills []checklists.MillID
	err := tx.gorm().Raw("SELECT id FROM mills UNION SELECT mill FROM log_heads UNION SELECT DISTINCT mill FROM entries ORDER BY 1").Scan(&mills).Error
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
	beside := besides{tx: tx, mill: mill, photos: photos, dropped: gone, words: words}
	report := record.Verify(head, tx.rows(mill, gone), hashReader(tx, mill), beside.check)
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
	return report, strays(tx, mill, &report)
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

	equipment map[int64][]procedures.EquipmentID // of the entries before upTo, not yet come by
	upTo      int64
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
	var found []procedures.EquipmentID
	if found, b.err = b.foundBy(row.Seq); b.err != nil {
		return nil
	}
	if !slices.Equal(found, distinct(said.about())) {
		faults = append(faults, record.Fault{Change: record.EquipmentDiffers, Field: "equipment", What: plain.Say(
			"Entry %d is found under other equipment than it is about.", row.Seq)})
	}
	pictures, err := b.pictures(row, said)
	kept, err2 := b.stillKept(said, e.At)
	forbidden, err3 := b.forbidden(said, row.Seq)
	b.err = cmp.Or(err, err2, err3)
	return slices.Concat(faults, pictures, kept, forbidden)
}

// equipmentWindow is for how many entries the equipment is read at once: the
// index on it has the equipment first, so that each reading goes through all.
const equipmentWindow = 10_000

// foundBy is the equipment that the entry at seq is found by, sorted.
func (b *besides) foundBy(seq int64) ([]procedures.EquipmentID, error) {
	if seq >= b.upTo {
		b.equipment, b.upTo = map[int64][]procedures.EquipmentID{}, seq+equipmentWindow
		var rows []entryEquipmentRow
		if err := b.tx.gorm().Order("equipment").Find(&rows, "mill = ? AND seq >= ? AND seq < ?", b.mill, seq, b.upTo).Error; err != nil {
			return nil, err
		}
		for _, row := range rows {
			b.equipment[row.Seq] = append(b.equipment[row.Seq], procedures.EquipmentID(row.Equipment))
		}
	}
	return b.equipment[seq], nil
}

// strays reports what is kept for entries that are not there.
func strays(tx *Tx, mill checklists.MillID, report *record.Report) error {
	var seqs []int64
	err := tx.gorm().Raw("SELECT DISTINCT seq FROM entry_equipment AS kept WHERE mill = ? AND NOT EXISTS (SELECT 1 FROM entries WHERE entries.mill = kept.mill AND entries.seq = kept.seq) ORDER BY seq LIMIT 1000", mill).Scan(&seqs).Error
	if err != nil {
		return err
	}
	for _, seq := range seqs {
		report.Add(record.Fault{Seq: seq, Change: record.EquipmentDiffers, Field: "equipment", What: plain.Say(
			"Equipment is named for entry %d, which is not there.", seq)})
	}
	seqs = nil
	err = tx.gorm().Raw("SELECT DISTINCT seq FROM openings AS kept WHERE mill = ? AND NOT EXISTS (SELECT 1 FROM entries WHERE entries.mill = kept.mill AND entries.seq = kept.seq) ORDER BY seq LIMIT 1000", mill).Scan(&seqs).Error
	for _, seq := range seqs {
		report.Add(record.Fault{Seq: seq, Change: record.OpeningStray, What: plain.Say(
			"There are personal values for entry %d, which is not there.", seq)})
	}
	return err
}

// verifyPage is how many entries are held in memory at once while verifying.
const verifyPage = 500

// rows streams a mill's entries in order with their openings, and which of those
// gone says were dropped.
func (tx *Tx) rows(mill checklists.MillID, gone *dropped) iter.Seq2[record.Row, error] {
	return func(yield func(record.Row, error) bool) {
		from := int64(math.MinInt64) // an altered seq may be any number
		for {
			page, openings, err := pageFrom(tx, mill, from, verifyPage)
			if err != nil {
				yield(record.Row{}, err)
				return
			}
			paths, err := gone.paths(page)
			if err != nil {
				yield(record.Row{}, err)
				return
			}
			for _, row := range page {
				whole := recordRow(row, openings[row.Seq])
				whole.Dropped = paths[row.Seq]
				if !yield(whole, nil) {
					return
				}
				from = row.Seq + 1
			}
			if len(page) < verifyPage || from == math.MinInt64 {
				return
			}
		}
	}
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
