package record

import (
	"crypto/sha256"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// Head is what a log says of itself at one size: whose it is, how many entries
// it has and the root over them. Two heads of one mill and size with different
// roots prove that the record was changed in between.
type Head struct {
	Mill string
	Size int64
	Root tlog.Hash
}

// originPrefix makes the name of a mill's log, the first line of a checkpoint.
const originPrefix = "stillsaw/"

// Text is the head in three lines, the log's name, the size and the root in
// base64, as in a C2SP tlog-checkpoint. It is what is printed for a person to
// keep and what a signature goes over.
func (h Head) Text() string {
	return fmt.Sprintf("%s%s\n%d\n%s\n", originPrefix, h.Mill, h.Size, h.Root)
}

// ParseHead reads what [Head.Text] writes, and nothing else.
func ParseHead(text string) (Head, error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 4 || !strings.HasPrefix(lines[0], originPrefix) {
		return Head{}, fmt.Errorf("record: %.100q is not a head: want the log's name, its size and its root, a line each", text)
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil {
		return Head{}, fmt.Errorf("record: size of a head: %w", err)
	}
	root, err := tlog.ParseHash(lines[2])
	if err != nil {
		return Head{}, fmt.Errorf("record: root of a head: %.60q is not a hash", lines[2])
	}
	head := Head{Mill: lines[0][len(originPrefix):], Size: size, Root: root}
	if checkSize(size) != nil || !isMill(head.Mill) || head.Text() != text {
		return Head{}, fmt.Errorf("record: %.200q is not a head", text)
	}
	return head, nil
}

// emptyRoot is the root of no entries, the hash of nothing (RFC 6962 section 2.1).
func emptyRoot() tlog.Hash { return sha256.Sum256(nil) }
