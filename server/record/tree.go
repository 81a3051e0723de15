package record

import (
	"fmt"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"
)

// StoredHash is a hash to be stored under its index in tlog's numbering.
type StoredHash struct {
	Index int64
	Hash  tlog.Hash
}

// Append returns the hashes to store when leaf joins a log of size entries,
// reading from reader the older hashes it needs. A writer that appends much
// keeps a [Frontier] instead and reads nothing.
func Append(size int64, leaf []byte, reader tlog.HashReader) ([]StoredHash, error) {
	if err := checkSize(size); err != nil {
		return nil, err
	}
	hashes, err := tlog.StoredHashes(size, leaf, counted(reader))
	if err != nil {
		return nil, fmt.Errorf("record: append entry %d: %w", size, err)
	}
	return numbered(tlog.StoredHashIndex(0, size), hashes), nil
}

// Root returns the root of the log's first size entries.
func Root(size int64, reader tlog.HashReader) (tlog.Hash, error) {
	if err := checkSize(size); err != nil {
		return tlog.Hash{}, err
	}
	root, err := tlog.TreeHash(size, counted(reader))
	if err != nil {
		return tlog.Hash{}, fmt.Errorf("record: root of %d entries: %w", size, err)
	}
	return root, nil
}

// Frontier is the right edge of a log: the hash of each complete subtree at
// its end, all that further appending needs. It is a plain value: a copy made
// before a batch is what to go back to when the batch fails. The zero value is
// the empty log.
type Frontier struct {
	size  int64
	peaks [64]tlog.Hash // peaks[l] covers 2^l entries, where bit l of size is set
}

// RestoreFrontier reads the right edge of the log that head describes. Where
// the stored hashes don't give head's root, it says so: the file is damaged or
// was changed, and nothing may be appended to it.
func RestoreFrontier(head Head, reader tlog.HashReader) (Frontier, error) {
	if err := checkSize(head.Size); err != nil {
		return Frontier{}, err
	}
	f := Frontier{size: head.Size}
	var levels []int
	var indexes []int64
	start := int64(0)
	for level := 62; level >= 0; level-- {
		if head.Size>>level&1 == 1 {
			levels = append(levels, level)
			indexes = append(indexes, tlog.StoredHashIndex(level, start>>level))
			start += 1 << level
		}
	}
	hashes, err := counted(reader).ReadHashes(indexes)
	if err != nil {
		return Frontier{}, fmt.Errorf("record: right edge of %d entries: %w", head.Size, err)
	}
	for i, level := range levels {
		f.peaks[level] = hashes[i]
	}
	if root := f.Root(); root != head.Root {
		return Frontier{}, fmt.Errorf("record: the stored hashes of %d entries give root %v, the head says %v", head.Size, root, head.Root)
	}
	return f, nil
}

// Size is the number of entries, and the place of the next.
func (f *Frontier) Size() int64 { return f.size }

// Append takes in the next entry by the hash of its leaf ([Sealed].Hash) and
// returns the hashes to store.
func (f *Frontier) Append(leaf tlog.Hash) []StoredHash {
	hashes := make([]tlog.Hash, 1, 1+bits.TrailingZeros64(uint64(f.size+1)))
	hashes[0] = leaf
	level := 0
	for ; f.size>>level&1 == 1; level++ {
		leaf = tlog.NodeHash(f.peaks[level], leaf)
		hashes = append(hashes, leaf)
	}
	f.peaks[level] = leaf
	first := tlog.StoredHashIndex(0, f.size)
	f.size++
	return numbered(first, hashes)
}

// take is Append without the hashes to store.
func (f *Frontier) take(leaf tlog.Hash) {
	level := 0
	for ; f.size>>level&1 == 1; level++ {
		leaf = tlog.NodeHash(f.peaks[level], leaf)
	}
	f.peaks[level] = leaf
	f.size++
}

// Root is the root of the log as it stands.
func (f *Frontier) Root() tlog.Hash { return rootOf(f.size, &f.peaks) }

// Head is what the log of mill says of itself as it stands.
func (f *Frontier) Head(mill string) Head { return Head{Mill: mill, Size: f.size, Root: f.Root()} }

// rootOf joins the complete subtrees from the smallest up (RFC 6962 section 2.1).
func rootOf(size int64, peaks *[64]tlog.Hash) tlog.Hash {
	if size == 0 {
		return emptyRoot()
	}
	level := bits.TrailingZeros64(uint64(size))
	root := peaks[level]
	for level++; size>>level != 0; level++ {
		if size>>level&1 == 1 {
			root = tlog.NodeHash(peaks[level], root)
		}
	}
	return root
}

func numbered(first int64, hashes []tlog.Hash) []StoredHash {
	stored := make([]StoredHash, len(hashes))
	for i, hash := range hashes {
		stored[i] = StoredHash{Index: first + int64(i), Hash: hash}
	}
	return stored
}

// checkSize keeps tlog's index arithmetic from what it would panic or run on.
func checkSize(size int64) error {
	if size < 0 || size > maxExact {
		return fmt.Errorf("record: a log can't have %d entries", size)
	}
	return nil
}

// counted passes reader's hashes on once there are as many as asked for, and
// names what was asked for where there are not.
func counted(reader tlog.HashReader) tlog.HashReader {
	return tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		if len(indexes) == 0 {
			return nil, nil
		}
		hashes, err := reader.ReadHashes(indexes)
		if err == nil && len(hashes) != len(indexes) {
			err = fmt.Errorf("%d came back", len(hashes))
		}
		if err != nil {
			return nil, fmt.Errorf("stored hashes %s: %w", listed(indexes), err)
		}
		return hashes, nil
	})
}

// listed names indexes, a long run by its ends.
func listed(indexes []int64) string {
	if len(indexes) > 8 {
		return fmt.Sprintf("%d to %d (%d of them)", indexes[0], indexes[len(indexes)-1], len(indexes))
	}
	return fmt.Sprint(indexes)
}
