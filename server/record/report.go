package record

import (
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/procedures/plain"
)

// Change is a way in which a record differs from what was written.
type Change int

// The changes [Verify] tells apart. Zero is none of them.
const (
	_                Change = iota
	LeafDiffers             // a leaf is not the one its stored hash was made of
	LeafUnreadable          // a leaf is not an entry, although its hash may fit
	ColumnDiffers           // a stored column disagrees with the leaf
	EntryMissing            // a place has no entry
	EntryExtra              // an entry stands outside the log
	EntryTwice              // a place has a second entry
	EntryMoved              // an entry stands at another place, or in another mill, than its own
	EntryOutOfOrder         // an entry came after a later one
	OpeningDiffers          // an opening doesn't fit its commitment
	OpeningStray            // an opening is for a field that isn't personal
	OpeningTwice            // a field has a second opening
	OpeningMissing          // a field has no opening, and no entry says that it was dropped
	HashMissing             // a stored hash can't be read
	HashDiffers             // a stored inner hash doesn't follow from those beneath it
	SizeDiffers             // the head counts otherwise than the rows
	RootDiffers             // the head's root doesn't follow from the stored hashes
	Unfinished              // the rows couldn't be read to their end
	EquipmentDiffers        // the equipment an entry is found by is not what it is about
	PhotoMissing            // a photo an entry names is not kept
	PhotoDiffers            // a photo is not the one its digest was made of
	WordsDiffer             // the words an entry is found by are not those in it
	DroppedKept             // an entry says that it was dropped, and it is still kept
	DropForbidden           // an entry says that something was dropped which nobody may have dropped
	TablesDiffer            // the database lacks a table it should have, or has one it should not have yet

	CheckpointDiffers // a checkpoint has another root than the record had at that size
	CheckpointBeyond  // a checkpoint counts more entries than the record has
	CheckpointForged  // a checkpoint bears no signature by a key the record names at that size
)

// String names the change for logs and error texts.
func (c Change) String() string {
	switch c {
	case LeafDiffers:
		return "entry changed"
	case LeafUnreadable:
		return "entry not readable"
	case ColumnDiffers:
		return "column changed"
	case EntryMissing:
		return "entry missing"
	case EntryExtra:
		return "entry outside the log"
	case EntryTwice:
		return "second entry at one place"
	case EntryMoved:
		return "entry moved"
	case EntryOutOfOrder:
		return "entry out of order"
	case OpeningDiffers:
		return "does not fit its commitment"
	case OpeningStray:
		return "no personal field there"
	case OpeningTwice:
		return "given twice"
	case OpeningMissing:
		return "value not kept"
	case HashMissing:
		return "stored hash not readable"
	case HashDiffers:
		return "stored hash changed"
	case SizeDiffers:
		return "size differs"
	case RootDiffers:
		return "root differs"
	case Unfinished:
		return "not read to the end"
	case EquipmentDiffers:
		return "equipment changed"
	case PhotoMissing:
		return "photo not kept"
	case PhotoDiffers:
		return "photo changed"
	case WordsDiffer:
		return "words changed"
	case DroppedKept:
		return "said to be dropped, still kept"
	case DropForbidden:
		return "a drop nobody may have made"
	case TablesDiffer:
		return "other tables than the upgrades made"
	case CheckpointDiffers:
		return "other than a checkpoint"
	case CheckpointBeyond:
		return "shorter than a checkpoint"
	case CheckpointForged:
		return "checkpoint without a known key"
	}
	return "no change"
}

// Fault is one thing found wrong. Seq is the place it concerns, the first of
// them where there are several, and -1 where it is the head. ID and Kind are
// the entry's, as its leaf has them if that can be read and as the columns have
// them if not; empty where no row stands for it. Field is the column or the
// JSON pointer concerned, if any.
type Fault struct {
	Seq      int64
	ID, Kind string
	Change   Change
	Field    string
	What     plain.Sentence
}

// Withheld are the personal fields of one entry that have no opening.
type Withheld struct {
	Seq   int64
	ID    string
	Paths []string
}

// maxListed bounds the lists of a Report, so that a ruined record of any size
// is reported in little memory.
const maxListed = 1000

// Report is what [Verify] found. The zero Report is not OK.
type Report struct {
	Entries int64     // rows read
	Root    tlog.Hash // over the leaves as they are; zero where they can't give one

	Faults         []Fault // the first 1000
	FaultCount     int64   // all
	Withheld       []Withheld
	FieldsOpen     int64 // personal fields with their opening
	FieldsDropped  int64 // personal fields without, of which an entry says that they were dropped
	FieldsWithheld int64 // other personal fields without, those listed in Withheld and more

	finished bool
}

// OK tells whether everything was read and nothing is wrong.
func (r Report) OK() bool { return r.finished && r.FaultCount == 0 }

// Add notes what whoever keeps the record found wrong beside it.
func (r *Report) Add(f Fault) { r.fault(f) }

func (r *Report) fault(f Fault) {
	r.FaultCount++
	if len(r.Faults) < maxListed {
		r.Faults = append(r.Faults, f)
	}
}

func (r *Report) withhold(w Withheld) {
	r.FieldsWithheld += int64(len(w.Paths))
	if len(r.Withheld) < maxListed {
		r.Withheld = append(r.Withheld, w)
	}
}
