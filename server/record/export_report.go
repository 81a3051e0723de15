package record

import (
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/procedures/plain"
)

// ExportFault is one thing found wrong with an export. Place is where, in words
// of a fixed form that every verifier of exports uses: a member of the export
// ("made", "checkpoint", "seal" …), "line 12", "entry 41", "entry 41 leaf",
// "entry 41 proof", "entry 41 opening /name", "photo 0a1b2c3d4e5f", "file
// record.csv", "end".
type ExportFault struct {
	Place string
	What  plain.Sentence
}

// ExportRun is entries that follow one another without a gap.
type ExportRun struct{ First, Last int64 }

// ExportReport is what [ReadExport] found. The zero report is not OK.
type ExportReport struct {
	Header ExportHeader
	Head   Head   // of the checkpoint
	Key    string // the verifier that the checkpoint and the seal are signed with, "" if they are not

	Counts    ExportCounts // as read
	PhotosOut int64        // photos without their bytes
	Runs      []ExportRun  // the first 1000
	RunCount  int64
	Files     []ExportFile // as the export names them

	Faults     []ExportFault // the first 1000
	FaultCount int64

	// Unused are checkpoints of [ExportHold.Kept] that say nothing of the export.
	Unused []UnusedKept

	// Agreed are the heads of [ExportHold] that the export shows to be of the
	// same log, by their size; it can show that of one of its own size, and of a
	// smaller one whose entries it has all.
	Agreed map[int64]bool

	places   map[string]bool // members with a fault
	finished bool
}

// OK tells whether everything was read and nothing is wrong.
func (r *ExportReport) OK() bool { return r.finished && r.FaultCount == 0 }

func (r *ExportReport) fault(part, place string, what string, args ...any) {
	r.FaultCount++
	r.places[part] = true
	if len(r.Faults) < maxListed {
		r.Faults = append(r.Faults, ExportFault{place, plain.Say(what, args...)})
	}
}

// AddFault notes what whoever reads the export found wrong beside it.
func (r *ExportReport) AddFault(f ExportFault) {
	r.FaultCount++
	if len(r.Faults) < maxListed {
		r.Faults = append(r.Faults, f)
	}
}

func (r *ExportReport) ran(seq int64) {
	last := len(r.Runs) - 1
	switch {
	case r.RunCount > 0 && last >= 0 && int64(last+1) == r.RunCount && r.Runs[last].Last+1 == seq:
		r.Runs[last].Last = seq
	default:
		r.RunCount++
		if len(r.Runs) < maxListed {
			r.Runs = append(r.Runs, ExportRun{seq, seq})
		}
	}
}

// ExportHold is what an export is held against beside itself.
type ExportHold struct {
	// Heads are those of checkpoints of the mill's log that were got another way and
	// are believed.
	Heads []Head

	// Kept are such checkpoints as they were kept, with their signatures: one that
	// was mistyped or is of another mill is not held against the export, and is in
	// [ExportReport.Unused].
	Kept []Found

	// Earlier are those of exports read before; one of another mill is passed by.
	Earlier []Head

	// Each is called with every entry that was read, if not nil. Proven tells
	// whether it lies under the checkpoint with nothing wrong.
	Each func(e ExportedEntry)
}

// ExportedEntry is one entry as an export shows it.
type ExportedEntry struct {
	Seq    int64
	Hash   tlog.Hash // of its leaf as read
	Leaf   []byte
	Entry  Entry // zero where the leaf can't be read
	Proven bool
}
