package record

import (
	"maps"
	"slices"
	"strconv"

	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/procedures/plain"
)

// ExportsRead holds exports read one after the other against each other: entries
// both have must be the same, they must name the same keys, checkpoints of one size must have one root, and of
// two exports that asked for the same the longer record's must have every entry of
// the shorter's. The zero value has read none. It keeps the hash of each entry.
type ExportsRead struct {
	mills map[string]*millRead
	last  map[int64]tlog.Hash // of the export at hand
}

type millRead struct {
	hashes map[int64]tlog.Hash
	from   map[int64]string // in which file an entry was seen first
	asked  []askedRead
	keys   []keysRead
}

// keysRead are the keys one export names.
type keysRead struct {
	name string
	head Head
	keys []ExportKey
}

type askedRead struct {
	name      string
	selection ExportSelection // without its words
	head      Head
	seqs      map[int64]bool
}

// Hold is what the next export is to be read with: heads, and what the exports
// before it showed. [ExportsRead.Take] follows.
func (x *ExportsRead) Hold(heads []Head) ExportHold {
	x.last = map[int64]tlog.Hash{}
	hold := ExportHold{Heads: heads, Each: func(e ExportedEntry) { x.last[e.Seq] = e.Hash }}
	for _, mill := range x.mills {
		for _, one := range mill.asked {
			hold.Earlier = append(hold.Earlier, one.head)
		}
	}
	return hold
}

// Take adds to r what does not agree with the exports before it, and tells how
// many entries both have. name is what r was read from.
func (x *ExportsRead) Take(name string, r *ExportReport) (both int) {
	mill := x.mills[r.Header.Mill.ID]
	if mill == nil {
		mill = &millRead{hashes: map[int64]tlog.Hash{}, from: map[int64]string{}}
		if x.mills == nil {
			x.mills = map[string]*millRead{}
		}
		x.mills[r.Header.Mill.ID] = mill
	}
	this := askedRead{name: name, selection: r.Header.Selection, head: r.Head, seqs: map[int64]bool{}}
	this.selection.Words = ""
	for _, seq := range slices.Sorted(maps.Keys(x.last)) {
		this.seqs[seq] = true
		hash, known := mill.hashes[seq]
		if !known {
			mill.hashes[seq], mill.from[seq] = x.last[seq], name
			continue
		}
		both++
		if hash != x.last[seq] {
			r.AddFault(ExportFault{entryPlace(seq), plain.Say("Entry %d is another one in %s: one of the two records was rewritten.", seq, mill.from[seq])})
		}
	}
	for _, before := range mill.asked {
		r.lacks(before, this)
	}
	if r.Key != "" {
		keys := keysRead{name, r.Head, r.Header.Keys}
		for _, before := range mill.keys {
			r.otherKeys(before, keys)
		}
		mill.keys = append(mill.keys, keys)
		mill.asked = append(mill.asked, this)
	}
	return both
}

// otherKeys notes where two exports name different keys for what both cover.
func (r *ExportReport) otherKeys(before, this keysRead) {
	named := func(of keysRead) map[int64]string {
		keys := map[int64]string{}
		for _, key := range of.keys {
			if key.From < min(before.head.Size, this.head.Size) {
				keys[key.From] = key.Verifier
			}
		}
		return keys
	}
	if !maps.Equal(named(before), named(this)) {
		r.AddFault(ExportFault{"keys", plain.Say("%s names other keys for the same record: one of the two is not the mill's.", before.name)})
	}
}

// lacks notes the entries that one of two exports which asked for the same has and
// the other should have, too.
func (r *ExportReport) lacks(before, this askedRead) {
	if r.Key == "" || before.selection != this.selection {
		return
	}
	if before.head.Size <= this.head.Size {
		for _, seq := range slices.Sorted(maps.Keys(before.seqs)) {
			if !this.seqs[seq] {
				r.AddFault(ExportFault{entryPlace(seq), plain.Say("Entry %d is not here. %s, which asked for the same, has it.", seq, before.name)})
			}
		}
	}
	if before.head.Size >= this.head.Size {
		for _, seq := range slices.Sorted(maps.Keys(this.seqs)) {
			if !before.seqs[seq] {
				r.AddFault(ExportFault{entryPlace(seq), plain.Say("Entry %d is here, and is not in %s, which asked for the same.", seq, before.name)})
			}
		}
	}
}

func entryPlace(seq int64) string { return "entry " + strconv.FormatInt(seq, 10) }
