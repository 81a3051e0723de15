package backup

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// noteFormat is the format of the notes, in each of them.
const noteFormat = "stillsaw-backup-1"

// noteSuffix is of the file that says that a backup counts.
const noteSuffix = ".json"

// noteMost is more than any note has bytes.
const noteMost = 1 << 20

// Kinds of backups.
const (
	Base      = "base"      // the whole database
	Increment = "increment" // what was written since the one it follows
)

// Note lies beside a backup from the moment on it counts. Nothing of what people
// wrote is in it. Digests are SHA-256 in hex.
type Note struct {
	Format  string        `json:"format"`
	Kind    string        `json:"kind"`
	Name    string        `json:"name"` // of the backup's file
	Made    time.Time     `json:"made"` // everything acknowledged before it is in it
	Base    string        `json:"base"`
	Follows string        `json:"follows,omitzero"` // the backup before it, of an increment
	Schema  int           `json:"schema"`
	Heads   []record.Head `json:"heads"` // of the record, where it ends

	Bytes       int64  `json:"bytes"` // as it lies here
	Digest      string `json:"digest"`
	PlainBytes  int64  `json:"plain_bytes"` // before it was compressed and encrypted
	PlainDigest string `json:"plain_digest"`
	Encrypted   bool   `json:"encrypted"`

	// Faults is how many the verification finds in the record as it was copied, which
	// were in the mill's own, too.
	Faults int64 `json:"faults,omitzero"`
}

// Entries is how many entries the records have together.
func (n Note) Entries() int64 {
	sum := int64(0)
	for _, head := range n.Heads {
		sum += head.Size
	}
	return sum
}

// Ends are the heads by mill.
func (n Note) Ends() map[checklists.MillID]record.Head {
	ends := map[checklists.MillID]record.Head{}
	for _, head := range n.Heads {
		ends[checklists.MillID(head.Mill)] = head
	}
	return ends
}

func headsIn(ends map[checklists.MillID]record.Head) []record.Head {
	heads := make([]record.Head, 0, len(ends))
	for _, head := range ends {
		heads = append(heads, head)
	}
	slices.SortFunc(heads, func(a, b record.Head) int { return strings.Compare(a.Mill, b.Mill) })
	return heads
}

// nameOf is how a backup is called: its moment first, so that names sort by it.
func nameOf(kind string, made time.Time, encrypted bool) string {
	name := made.UTC().Format("20060102T150405.000Z") + "." + kind + ".db.zst"
	if encrypted {
		name += ".age"
	}
	return name
}

// putNote makes a backup count.
func putNote(ctx context.Context, at Place, n Note) error {
	text, err := json.MarshalIndent(n, "", "  ")
	if err != nil {
		return err
	}
	return at.Put(ctx, n.Name+noteSuffix, bytes.NewReader(text), int64(len(text)))
}

func readNote(ctx context.Context, at Place, name string) (n Note, err error) {
	file, err := at.Open(ctx, name)
	if err != nil {
		return n, err
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, noteMost))
	if err != nil {
		return n, fmt.Errorf("%s: %w", name, err)
	}
	if err := json.Unmarshal(text, &n); err != nil {
		return n, fmt.Errorf("%s was changed or cut short: %w", name, err)
	}
	if n.Format != noteFormat || n.Name+noteSuffix != name {
		return n, fmt.Errorf("%s is not a note of Stillsaw's about a backup of that name", name)
	}
	return n, nil
}

// Listed is what lies at a place.
type Listed struct {
	Notes  []Note   // of the backups that count, the oldest first
	Strays []string // files without a note, left by a try that was cut off
	Wrong  []error  // notes that can't be read
}

// List lists the backups at a place.
func List(ctx context.Context, at Place) (Listed, error) { return list(ctx, at, nil) }

// list reads the notes that are not known yet, and adds them to known.
func list(ctx context.Context, at Place, known map[string]Note) (all Listed, err error) {
	names, err := at.List(ctx)
	if err != nil {
		return all, err
	}
	for _, name := range names {
		whole, isNote := strings.CutSuffix(name, noteSuffix)
		switch {
		case isNote:
			n, read := known[name]
			var err error
			if !read {
				n, err = readNote(ctx, at, name)
			}
			if err != nil {
				if ctx.Err() != nil {
					return all, ctx.Err()
				}
				all.Wrong = append(all.Wrong, err)
				continue
			}
			if known != nil {
				known[name] = n
			}
			if _, there := slices.BinarySearch(names, whole); !there {
				all.Wrong = append(all.Wrong, fmt.Errorf("%s is gone, and only its note is there", whole))
				continue
			}
			all.Notes = append(all.Notes, n)
		case strings.Contains(name, ".db.zst"):
			if _, there := slices.BinarySearch(names, name+noteSuffix); !there {
				all.Strays = append(all.Strays, name)
			}
		}
	}
	slices.SortFunc(all.Notes, func(a, b Note) int { return strings.Compare(a.Name, b.Name) })
	return all, nil
}
