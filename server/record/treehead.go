package record

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/mod/sumdb/tlog"
)

// TreeHead is what any log says of itself at one size, a mill's or another
// program's: a witness need not know what the log is of.
type TreeHead struct {
	Origin string // the log's name
	Size   int64
	Root   tlog.Hash
}

// Tree is the head as a witness sees it.
func (h Head) Tree() TreeHead { return TreeHead{Origin: Origin(h.Mill), Size: h.Size, Root: h.Root} }

// ParseTreeHead reads the text of a checkpoint without its signatures: name, size
// and root, a line each, and any further lines a log adds (C2SP tlog-checkpoint).
func ParseTreeHead(text string) (TreeHead, error) {
	lines := strings.Split(text, "\n")
	if len(lines) < 4 || lines[len(lines)-1] != "" || !utf8.ValidString(text) {
		return TreeHead{}, fmt.Errorf("record: %.100q is not the text of a checkpoint", text)
	}
	for _, line := range lines[:len(lines)-1] {
		if line == "" {
			return TreeHead{}, fmt.Errorf("record: %.100q has an empty line", text)
		}
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil || checkSize(size) != nil || strconv.FormatInt(size, 10) != lines[1] {
		return TreeHead{}, fmt.Errorf("record: %.60q is no size of a log", lines[1])
	}
	root, err := tlog.ParseHash(lines[2])
	if err != nil || root.String() != lines[2] {
		return TreeHead{}, fmt.Errorf("record: root of a checkpoint: %.60q is not a hash", lines[2])
	}
	return TreeHead{Origin: lines[0], Size: size, Root: root}, nil
}

// Follows returns nil only if proof shows that h goes on from older: that nothing
// of the older log was changed, left out or put between.
func (h TreeHead) Follows(older TreeHead, proof []tlog.Hash) error {
	switch {
	case older.Origin != h.Origin:
		return fmt.Errorf("record: %.100s is another log than %.100s", h.Origin, older.Origin)
	case checkSize(older.Size) != nil || checkSize(h.Size) != nil:
		return fmt.Errorf("record: no size of a log")
	case older.Size > h.Size:
		return fmt.Errorf("record: %d entries can't go on from %d", h.Size, older.Size)
	case older.Size == 0 || older.Size == h.Size:
		if len(proof) > 0 {
			return fmt.Errorf("record: a proof where none is needed")
		}
		if older.Size == 0 && older.Root != emptyRoot() || h.Size == 0 && h.Root != emptyRoot() {
			return fmt.Errorf("record: the root of no entries is another")
		}
		if older.Size == h.Size && older.Root != h.Root {
			return fmt.Errorf("record: two roots for the same %d entries", h.Size)
		}
		return nil
	}
	if err := tlog.CheckTree(proof, h.Size, h.Root, older.Size, older.Root); err != nil {
		return fmt.Errorf("record: %d entries do not go on from %d: %w", h.Size, older.Size, err)
	}
	return nil
}
