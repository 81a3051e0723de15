package record

import (
	"errors"
	"slices"

	"golang.org/x/mod/sumdb/note"

	"stillsaw/procedures/plain"
)

// UnusedKept is a checkpoint kept elsewhere that says nothing, and why.
type UnusedKept struct {
	Kept Found
	Why  plain.Sentence
}

// usable adds to the heads the export is held against those of the checkpoints
// kept elsewhere that can be used, and notes the others. One by a key the export
// does not name counts by its root: a record made anew with another key must not
// pass by it.
func (x *exportReader) usable() {
	r := x.report
	for _, kept := range x.hold.Kept {
		switch {
		case kept.Mill != r.Head.Mill:
			r.Unused = append(r.Unused, UnusedKept{kept, plain.Say("The checkpoint of %[1]d entries can't be used: it is of another mill's record, %[2]s. It shows nothing about this one.", kept.Size, kept.Mill)})
		case kept.Text != "" && spoilt(kept.Text, x.keys.at(kept.Size)):
			r.Unused = append(r.Unused, UnusedKept{kept, plain.Say("The checkpoint of %d entries can't be used: its signature does not fit its lines, so it was mistyped, cut short or changed after it was signed. It shows nothing about the record. Take it again from where it was kept.", kept.Size)})
		default:
			x.hold.Heads = append(slices.Clip(x.hold.Heads), kept.Head)
		}
	}
}

// spoilt tells whether a signature under text is not whole, or is by one of keys
// and does not fit.
func spoilt(text string, keys []note.Verifier) bool {
	_, _, err := OpenCheckpoint(text, keys...)
	var unknown *note.UnverifiedNoteError
	return err != nil && !errors.As(err, &unknown)
}
