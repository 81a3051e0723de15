package store

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// An answer has several fields for words, of which most stay empty. That nothing was
// written is sealed like anything else, so that it can't be told from a note that was
// dropped later; but nobody asks for it to be dropped, so all of it stands in the
// entry's row, and a row of its own is kept only of what was written.

// blankSalt is how long each salt in blank_salts is.
const blankSalt = 32

// packed parts openings into those of something written and, for the entry's row,
// those where nothing was.
func packed(openings []record.Opening) (written []record.Opening, paths string, salts []byte) {
	var blank []int
	for i, o := range openings {
		if o.Value == "" && o.Path != "" && len(o.Salt) == blankSalt && !strings.Contains(o.Path, "\n") {
			blank = append(blank, i)
		} else {
			written = append(written, o)
		}
	}
	if len(blank) == 0 {
		return written, "", []byte{}
	}
	slices.SortFunc(blank, func(a, b int) int { return cmp.Compare(openings[a].Path, openings[b].Path) })
	var lines strings.Builder
	salts = make([]byte, 0, blankSalt*len(blank))
	for i, at := range blank {
		if i > 0 {
			lines.WriteByte('\n')
		}
		lines.WriteString(openings[at].Path)
		salts = append(salts, openings[at].Salt...)
	}
	return written, lines.String(), salts
}

// blanks are the openings where nothing was written, as an entry's row has them. Of a
// row that was tampered with they show it: a path without a whole salt, or salts
// without a path, open nothing.
type blanks struct {
	paths []string
	salts []byte
}

func blanksIn(paths string, salts []byte) blanks {
	if paths == "" && len(salts) == 0 {
		return blanks{}
	}
	return blanks{strings.Split(paths, "\n"), salts}
}

func (b blanks) at(i int) record.Opening {
	from := min(i*blankSalt, len(b.salts))
	until := min(from+blankSalt, len(b.salts))
	if i == len(b.paths)-1 {
		until = len(b.salts)
	}
	return record.Opening{Path: b.paths[i], Salt: b.salts[from:until:until]}
}

// with appends to all what was written, which is in the order of the paths, and the
// blanks between.
func (b blanks) with(all, written []record.Opening) []record.Opening {
	for i := range b.paths {
		for len(written) > 0 && written[0].Path <= b.paths[i] {
			all, written = append(all, written[0]), written[1:]
		}
		all = append(all, b.at(i))
	}
	return append(all, written...)
}

// takeBlanks takes those at the paths out of an entry's row and tells how many they were.
func takeBlanks(tx *Tx, mill checklists.MillID, values DroppedValues) (took int64, err error) {
	row, err := one[entryRow](tx, "entry", "mill = ? AND seq = ?", mill, values.Seq)
	if err != nil {
		return 0, err
	}
	var left []record.Opening
	for _, o := range blanksIn(row.BlankPaths, row.BlankSalts).with(nil, nil) {
		if slices.Contains(values.Paths, o.Path) {
			took++
		} else {
			left = append(left, o)
		}
	}
	if took == 0 {
		return 0, nil
	}
	unpacked, paths, salts := packed(left)
	if len(unpacked) > 0 {
		return 0, fmt.Errorf("entry %d: what opens %s is not as it was kept; verify the record", values.Seq, unpacked[0].Path)
	}
	return took, tx.straight("UPDATE entries SET blank_paths = ?, blank_salts = ? WHERE mill = ? AND seq = ?", paths, salts, string(mill), values.Seq)
}

// packsBlanks tells whether the database that r reads has the columns for them: one
// of before step 32 has a row of openings for each.
func packsBlanks(r reader) (bool, error) {
	shape, err := shapeOf(r, "entries")
	return slices.Contains(shape.columns, "blank_paths"), err
}
