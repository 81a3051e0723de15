package record

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/procedures/plain"
)

// EntryProof is one entry with the proof that it stands in its log, in a file of
// its own (C2SP tlog-proof). The entry's leaf is the file's "extra" line, so that
// the file needs nothing beside it; personal values are not in it.
type EntryProof struct {
	Leaf       []byte // nil where the file has no such line
	Seq        int64
	Path       []tlog.Hash // from the leaf up
	Checkpoint string      // the signed note it leads to
}

const (
	proofFirst = "c2sp.org/tlog-proof@v1"
	proofExtra = "extra "
	proofIndex = "index "
)

// Text is the proof as it is handed out.
func (p EntryProof) Text() string {
	var text strings.Builder
	text.WriteString(proofFirst + "\n")
	if p.Leaf != nil {
		text.WriteString(proofExtra + base64.StdEncoding.EncodeToString(p.Leaf) + "\n")
	}
	fmt.Fprintf(&text, "%s%d\n", proofIndex, p.Seq)
	for _, hash := range p.Path {
		text.WriteString(hash.String() + "\n")
	}
	return text.String() + "\n" + p.Checkpoint
}

// ParseEntryProof reads what [EntryProof.Text] writes, and nothing else.
func ParseEntryProof(text string) (EntryProof, error) {
	var p EntryProof
	before, checkpoint, whole := strings.Cut(text, "\n\n")
	lines := strings.Split(before, "\n")
	if !whole || lines[0] != proofFirst || len(lines) < 2 {
		return p, errors.New("record: no proof of an entry: want the line " + proofFirst + ", the entry, its index, hashes, an empty line and a checkpoint")
	}
	p.Checkpoint, lines = checkpoint, lines[1:]
	if coded, extra := strings.CutPrefix(lines[0], proofExtra); extra {
		leaf, err := base64.StdEncoding.DecodeString(coded)
		if err != nil {
			return p, fmt.Errorf("record: the entry in the proof: %w", err)
		}
		p.Leaf, lines = leaf, lines[1:]
	}
	if len(lines) == 0 || len(lines)-1 > proofMost {
		return p, errors.New("record: no proof of an entry: there is no index, or more hashes than any proof has")
	}
	var err error
	if p.Seq, err = strconv.ParseInt(strings.TrimPrefix(lines[0], proofIndex), 10, 64); err != nil {
		return p, fmt.Errorf("record: the index in the proof: %w", err)
	}
	for _, line := range lines[1:] {
		hash, err := tlog.ParseHash(line)
		if err != nil {
			return p, fmt.Errorf("record: %.60q in the proof is not a hash", line)
		}
		p.Path = append(p.Path, hash)
	}
	if p.Text() != text {
		return p, errors.New("record: the proof is not in the one form a proof has")
	}
	return p, nil
}

// ProvenEntry is what checking an [EntryProof] came to. It proves something only
// where Faults is empty.
type ProvenEntry struct {
	Head   Head
	Entry  Entry // without its personal values
	Signed bool  // by the key that was named
	Faults []ExportFault
}

// Check tells whether the entry lies under the checkpoint. key is the mill's
// verifier; without it, or with its fingerprint alone, it is not checked who signed.
// heads are checkpoints of the log that were got another way.
func (p EntryProof) Check(key string, heads ...Head) (r ProvenEntry) {
	fault := func(place, what string, args ...any) {
		r.Faults = append(r.Faults, ExportFault{place, plain.Say(what, args...)})
	}
	head, err := ReadHead(p.Checkpoint)
	if err != nil {
		fault("checkpoint", "The checkpoint can't be read.")
		return r
	}
	r.Head = head
	if verifier, err := note.NewVerifier(strings.TrimSpace(key)); err == nil {
		_, _, err = OpenCheckpoint(p.Checkpoint, verifier)
		if r.Signed = err == nil; !r.Signed {
			fault("checkpoint", "The checkpoint is not signed by the key you named: it was changed, or another key signed it.")
		}
	}
	for _, other := range heads {
		if other.Mill == head.Mill && other.Size == head.Size && other.Root != head.Root {
			fault("checkpoint", "The checkpoint to hold it against has another root for the same %d entries: one of the two logs was rewritten.", head.Size)
		}
	}
	if p.Leaf == nil {
		fault("leaf", "The entry itself is not in the file.")
		return r
	}
	read, err := Read(p.Leaf, nil)
	switch {
	case err != nil:
		fault("leaf", "What is proven is not an entry this program reads.")
	case read.Seq != p.Seq:
		fault("index", "The entry was written as entry %d, the proof is of entry %d.", read.Seq, p.Seq)
	case read.Mill != head.Mill:
		fault("leaf", "The entry belongs to another mill, %s.", read.Mill)
	}
	r.Entry = read
	if p.Seq < 0 || p.Seq >= head.Size || tlog.CheckRecord(p.Path, head.Size, head.Root, p.Seq, tlog.RecordHash(p.Leaf)) != nil {
		fault("proof", "The proof does not lead from the entry to the checkpoint: one of the three was changed, or the entry never stood there.")
	}
	return r
}
