package store

import (
	"errors"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// checkpointsAPage is how many checkpoints put by are held in memory at once.
const checkpointsAPage = 500

// verifyCheckpoints holds the checkpoints put by against the record's hashes,
// which were verified before, and the keys its entries name. What is wrong with
// many of them alike is one fault that names the first.
func verifyCheckpoints(tx *Tx, mill checklists.MillID, head record.Head, named []LogKey, report *record.Report) error {
	if !tx.db.Migrator().HasTable(&checkpointRow{}) { // before step 20, or [schemaFaults] tells of it
		return nil
	}
	hashes := newPagedHashes(tx, mill, head.Size)
	found := keptFaults{}
	for last := (checkpointRow{Size: -1}); ; {
		var page []checkpointRow
		if err := tx.gorm().Where("mill = ? AND (size > ? OR size = ? AND text > ?)", mill, last.Size, last.Size, last.Text).Order("size, text").Limit(checkpointsAPage).Find(&page).Error; err != nil {
			return err
		}
		for _, row := range page {
			if err := found.check(row, head, named, hashes); err != nil {
				return err
			}
		}
		if len(page) < checkpointsAPage {
			break
		}
		last = page[len(page)-1]
	}
	found.tell(report)
	return nil
}

// keptFaults are the checkpoints that do not agree: of each sort the first, and
// how many more.
type keptFaults struct {
	agreed                 int64 // size of the largest that agrees with the record
	differ, beyond, forged badCheckpoints
}

type badCheckpoints struct {
	first KeptCheckpoint
	more  int64
	any   bool
}

func (b *badCheckpoints) add(k KeptCheckpoint) {
	if b.any {
		b.more++
		return
	}
	b.any, b.first = true, k
}

func (k *keptFaults) check(row checkpointRow, head record.Head, named []LogKey, hashes *pagedHashes) error {
	kept := row.kept()
	if said, err := record.ReadHead(row.Text); err != nil || said.Size != row.Size || said.Mill != row.Mill {
		kept.Size = row.Size
		k.forged.add(kept)
		return nil
	}
	if signature, _ := signedBy(record.Found{Head: kept.Head, Text: kept.Text}, named); signature != Signed {
		k.forged.add(kept)
		return nil
	}
	how, err := agreement(kept.Head, head, hashes)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return err
	}
	switch how {
	case Agrees:
		k.agreed = max(k.agreed, kept.Size)
	case Changed:
		k.differ.add(kept)
	case CutBack:
		k.beyond.add(kept)
	}
	return nil
}

func (k *keptFaults) tell(report *record.Report) {
	if k.differ.any {
		report.Add(record.Fault{Seq: -1, Change: record.CheckpointDiffers, Field: "checkpoint", What: plain.Say(
			"The checkpoint of %[1]s over %[2]d entries, and %[3]d after it, saw another record. The last that agrees saw %[4]d entries: what was changed lies between.",
			k.differ.first.At, k.differ.first.Size, k.differ.more, k.agreed)})
	}
	if k.beyond.any {
		report.Add(record.Fault{Seq: -1, Change: record.CheckpointBeyond, Field: "checkpoint", What: plain.Say(
			"The checkpoint of %[1]s saw %[2]d entries, and %[3]d after it more: the record was cut back.", k.beyond.first.At, k.beyond.first.Size, k.beyond.more)})
	}
	if k.forged.any {
		report.Add(record.Fault{Seq: -1, Change: record.CheckpointForged, Field: "checkpoint", What: plain.Say(
			"The checkpoint kept on %[1]s for %[2]d entries, and %[3]d after it, is not signed by a key the record names for that time.", k.forged.first.At, k.forged.first.Size, k.forged.more)})
	}
}
