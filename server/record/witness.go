package record

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// Submission is what a log sends a witness: its newest checkpoint, and the proof
// that it goes on from the Old entries the witness saw last (C2SP tlog-witness,
// add-checkpoint).
type Submission struct {
	Old        int64
	Proof      []tlog.Hash
	Checkpoint string // a signed note
}

// proofMost is the most hashes a proof may have (C2SP tlog-witness).
const proofMost = 63

// SubmissionMost is how many bytes of a submission a witness reads.
const SubmissionMost = 16 << 10

// Text is the submission as it is sent.
func (s Submission) Text() string {
	var text strings.Builder
	fmt.Fprintf(&text, "old %d\n", s.Old)
	for _, hash := range s.Proof {
		text.WriteString(hash.String() + "\n")
	}
	return text.String() + "\n" + s.Checkpoint
}

// ParseSubmission reads what [Submission.Text] writes, and nothing else.
func ParseSubmission(text string) (Submission, error) {
	head, checkpoint, ok := strings.Cut(text, "\n\n")
	if !ok || len(text) > SubmissionMost {
		return Submission{}, errors.New("record: not a submission: want the old size, the proof, an empty line and a checkpoint")
	}
	lines := strings.Split(head, "\n")
	size, _ := strings.CutPrefix(lines[0], "old ")
	s := Submission{Checkpoint: checkpoint}
	var err error
	if s.Old, err = strconv.ParseInt(size, 10, 64); err != nil || checkSize(s.Old) != nil || lines[0] != fmt.Sprintf("old %d", s.Old) {
		return Submission{}, fmt.Errorf("record: not a submission: %.60q is no old size", lines[0])
	}
	if lines = lines[1:]; len(lines) > proofMost {
		return Submission{}, fmt.Errorf("record: a proof of %d hashes is longer than any", len(lines))
	}
	for _, line := range lines {
		hash, err := tlog.ParseHash(line)
		if err != nil || hash.String() != line {
			return Submission{}, fmt.Errorf("record: %.60q in a proof is not a hash", line)
		}
		s.Proof = append(s.Proof, hash)
	}
	return s, nil
}

// Origin is the name of the log a submission is of, "" where it can't be read: to
// find out whose it is before anything in it counts.
func (s Submission) Origin() string {
	origin, _, _ := strings.Cut(s.Checkpoint, "\n")
	return origin
}

// What a witness answers besides a cosignature.
var (
	ErrNotSigned   = errors.New("record: no signature of a known key of the log")
	ErrBadOld      = errors.New("record: the old size is greater than the checkpoint's")
	ErrOtherSize   = errors.New("record: the old size is not the one seen last")
	ErrOtherRoot   = errors.New("record: another root for the same size was seen")
	ErrProofWrong  = errors.New("record: the proof does not show that the checkpoint goes on from the one seen last")
	ErrNotALogText = errors.New("record: not a checkpoint")
)

// Witness checks a submission as the witness that saw seen last, the zero Size for
// nothing yet, and returns what it then has seen and the text to cosign. known are
// the log's own keys. The error is one of those above or wraps one. Whoever calls
// keeps what is returned before a signature leaves, and lets nobody else come
// between reading seen and that.
func Witness(seen TreeHead, s Submission, known ...note.Verifier) (TreeHead, string, error) {
	opened, err := note.Open([]byte(s.Checkpoint), note.VerifierList(known...))
	var unsigned *note.UnverifiedNoteError
	var wrong *note.InvalidSignatureError
	switch {
	case errors.As(err, &unsigned), errors.As(err, &wrong):
		return TreeHead{}, "", fmt.Errorf("%w: %w", ErrNotSigned, err)
	case err != nil:
		return TreeHead{}, "", fmt.Errorf("%w: %w", ErrNotALogText, err)
	}
	head, err := ParseTreeHead(opened.Text)
	if err != nil {
		return TreeHead{}, "", fmt.Errorf("%w: %w", ErrNotALogText, err)
	}
	if seen.Size == 0 {
		seen = TreeHead{Origin: head.Origin, Root: emptyRoot()}
	}
	switch {
	case s.Old > head.Size:
		return TreeHead{}, "", ErrBadOld
	case s.Old != seen.Size:
		return TreeHead{}, "", ErrOtherSize
	case head.Size == seen.Size && head.Root != seen.Root:
		return TreeHead{}, "", ErrOtherRoot
	}
	if err := head.Follows(seen, s.Proof); err != nil {
		return TreeHead{}, "", fmt.Errorf("%w: %w", ErrProofWrong, err)
	}
	return head, opened.Text, nil
}
