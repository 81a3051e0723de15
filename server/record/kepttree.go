package record

import (
	"cmp"

	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/procedures/plain"
)

// blockEntries is how many entries' hashes Verify reads in one call, about
// twice as many hashes of 32 bytes.
const blockEntries = 1024

// node is what is known of one hash of the log: the stored one, and the one
// made from what is beneath it. They are the same where nothing was touched;
// where they differ the node above may have been made from either.
type node struct {
	stored, made tlog.Hash
	known        bool
}

// keptTree walks the stored hashes in the order of the entries and holds each
// against the two it was made of. It keeps one node a level.
type keptTree struct {
	hashes tlog.HashReader
	size   int64 // of the whole log
	report *Report

	place int64    // entries walked
	peaks [64]node // where bit l of place is set
	lost  bool     // a stretch of the tree could not be read at all

	block      []node // stored hashes from index blockStart
	blockStart int64
	blockEnd   int64 // first place after the block
}

// leaf is the stored hash of the entry at place, and whether it could be read.
func (t *keptTree) leaf(place int64) (tlog.Hash, bool) {
	t.load(place)
	stored := t.block[tlog.StoredHashIndex(0, place)-t.blockStart]
	return stored.stored, stored.known
}

// add walks past the entry at place with the hash of its leaf; a missing entry
// has none. Every inner hash the entry completed is checked.
func (t *keptTree) add(place int64, leaf *tlog.Hash) {
	if t.lost {
		return
	}
	t.load(place)
	stored := t.block[tlog.StoredHashIndex(0, place)-t.blockStart:]
	current := stored[0]
	if leaf != nil {
		current.made = *leaf
		if !current.known {
			current = node{*leaf, *leaf, true}
		}
	}
	level := 0
	for ; place>>level&1 == 1; level++ {
		current = t.join(t.peaks[level], current, stored[level+1], place, level+1)
	}
	t.peaks[level] = current
	t.place = place + 1
}

// join is the node over left and right, held against the stored one.
func (t *keptTree) join(left, right, stored node, last int64, level int) node {
	if !left.known || !right.known {
		return stored
	}
	made := tlog.NodeHash(left.stored, right.stored)
	switch {
	case !stored.known:
		return node{made, made, true}
	case made == stored.stored:
		return stored
	}
	for _, l := range []tlog.Hash{left.stored, left.made} {
		for _, r := range []tlog.Hash{right.stored, right.made} {
			if tlog.NodeHash(l, r) == stored.stored {
				return stored
			}
		}
	}
	first := last + 1 - 1<<level
	t.report.fault(Fault{Seq: first, Change: HashDiffers, What: plain.Say(
		"The hash kept over entries %d to %d does not follow from the hashes beneath it.", first, last)})
	return node{stored.stored, made, true}
}

// load makes the block hold the hashes stored with the entry at place and
// reports those that can't be read, a run of them as one fault.
func (t *keptTree) load(place int64) {
	start := tlog.StoredHashIndex(0, place)
	if t.block != nil && start >= t.blockStart && place < t.blockEnd {
		return
	}
	t.blockEnd = min(place+blockEntries, t.size)
	t.blockStart = start
	t.block = make([]node, tlog.StoredHashCount(t.blockEnd)-start)
	why := t.read(start, t.block)
	if why == nil {
		return
	}
	t.lost = true
	for i := 0; i < len(t.block); i++ {
		if t.block[i].known {
			t.lost = false
			continue
		}
		from := i
		for i+1 < len(t.block) && !t.block[i+1].known {
			i++
		}
		t.unreadable(start+int64(from), start+int64(i), why)
	}
}

// read fills nodes with the hashes stored from index on. Where a run can't be
// read it tries its halves, down to the hashes that are missing, which it
// leaves unknown; the error is the last met.
func (t *keptTree) read(index int64, nodes []node) error {
	indexes := make([]int64, len(nodes))
	for i := range indexes {
		indexes[i] = index + int64(i)
	}
	hashes, err := counted(t.hashes).ReadHashes(indexes)
	if err == nil {
		for i, hash := range hashes {
			nodes[i] = node{hash, hash, true}
		}
		return nil
	}
	if half := len(nodes) / 2; half > 0 {
		left, right := t.read(index, nodes[:half]), t.read(index+int64(half), nodes[half:])
		err = cmp.Or(right, left)
	}
	return err
}

// unreadable reports the stored hashes from index first to last.
func (t *keptTree) unreadable(first, last int64, why error) {
	level, n := tlog.SplitStoredHashIndex(first)
	from, to := n<<level, (n+1)<<level-1 // the entries a single hash covers
	fault := Fault{Seq: from, Change: HashMissing}
	switch {
	case first < last:
		lastLevel, lastN := tlog.SplitStoredHashIndex(last)
		fault.Seq, to = to, (lastN+1)<<lastLevel-1 // each was stored with the last entry it covers
		fault.What = plain.Say("The hashes kept with entries %d to %d can't be read: %s.", fault.Seq, to, why.Error())
	case level > 0:
		fault.What = plain.Say("The hash kept over entries %d to %d can't be read: %s.", from, to, why.Error())
	default:
		fault.What = plain.Say("The hash kept for entry %d can't be read: %s.", from, why.Error())
	}
	t.report.fault(fault)
}

// follows tells whether root follows from the stored hashes. It can't be told,
// and counts as following, where some are missing: that is a fault already.
func (t *keptTree) follows(root tlog.Hash) bool {
	if t.lost || t.place != t.size {
		return true
	}
	var stored, made [64]tlog.Hash
	for level, peak := range t.peaks {
		if t.size>>level&1 == 1 && !peak.known {
			return true
		}
		stored[level], made[level] = peak.stored, peak.made
	}
	return root == rootOf(t.size, &stored) || root == rootOf(t.size, &made)
}
