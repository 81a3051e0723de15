package main

import (
	"fmt"
	"os"

	"stillsaw/server/record"
)

// leadMost is how many bytes of a file are read to see whether it is a proof.
const leadMost = 1 << 16

// readKept reads the checkpoints in a file, or their three lines without a
// signature; of an export, or the ZIP of one, its own.
func (v *fileVerifier) readKept(path string) error {
	text, err := keptIn(path)
	if err != nil {
		return err
	}
	found := record.FindCheckpoints(text)
	if len(found) == 0 {
		return fmt.Errorf("%s: no checkpoint: want the log's name, its size and its root, a line each", path)
	}
	v.kept = append(v.kept, found...)
	return nil
}

// readLead tells whether the file is a consistency proof, and takes it and the
// checkpoint it leads to.
func (v *fileVerifier) readLead(path string) bool {
	if info, err := os.Stat(path); err != nil || info.Size() > leadMost {
		return false
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return false
	}
	lead, is := record.FindLead(string(text))
	if !is {
		return false
	}
	v.leads, v.kept = append(v.leads, lead), append(v.kept, lead.To)
	fmt.Fprintf(v.out, "%s: a consistency proof that leads to a checkpoint of mill %s over %d entries, root %s\n", path, lead.To.Mill, lead.To.Size, lead.To.Root)
	return true
}

// lead notes the older checkpoints from which a proof leads to one that the export
// shows to be of the same record.
func (v *fileVerifier) lead(r *record.ExportReport) {
	for _, proof := range v.leads {
		if proof.To.Mill != r.Head.Mill || proof.To.Head != r.Head && !r.Agreed[proof.To.Size] {
			continue
		}
		for _, older := range v.kept {
			if older.Mill == r.Head.Mill && proof.From(older.Head) {
				r.Agreed[older.Size] = true
			}
		}
	}
}

// alone says what checkpoints show where nothing was given to hold them against.
func (v *fileVerifier) alone() {
	for _, kept := range v.kept {
		signed, err := record.SignedBy(kept.Text, v.files.key)
		switch {
		case err != nil || kept.Text == "":
		case signed:
			fmt.Fprintf(v.out, "The checkpoint of %d entries is signed by the key you gave.\n", kept.Size)
		default:
			v.wrong = true
			fmt.Fprintf(v.out, "The checkpoint of %d entries is not signed by the key you gave: it was mistyped or changed, or another key signed it.\n", kept.Size)
		}
		for _, proof := range v.leads {
			if proof.To.Mill == kept.Mill && proof.From(kept.Head) {
				fmt.Fprintf(v.out, "The proof leads: the record of %d entries goes on from the checkpoint of %d.\n", proof.To.Size, kept.Size)
			}
		}
	}
	fmt.Fprintln(v.out, "A checkpoint alone says what its log was; it shows something when it is held against an export or another checkpoint.")
}
