package record

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// A checkpoint is a [Head] under the signature of its mill's key: the text of
// the head as a signed note (C2SP signed-note, Ed25519) in the form of a C2SP
// tlog-checkpoint. The key bears the name of the log, [Origin].

// Origin is the name of a mill's log and of the keys its checkpoints are signed
// with, the first line of each checkpoint.
func Origin(mill string) string { return originPrefix + mill }

// NewKey draws an Ed25519 key for the checkpoints of mill. signer is to be kept
// secret (note.NewSigner reads it), verifier is to be handed out as widely as it
// goes (note.NewVerifier reads it).
func NewKey(mill string, random io.Reader) (signer, verifier string, err error) {
	if !isMill(mill) {
		return "", "", fmt.Errorf("record: %.60q can't name a key", mill)
	}
	if signer, verifier, err = note.GenerateKey(random, Origin(mill)); err != nil {
		return "", "", fmt.Errorf("record: no key for %s: %w", mill, err)
	}
	return signer, verifier, nil
}

// Sign makes the checkpoint of head, signed by each of signers; while a key is
// rotated both the old and the new one sign.
func (h Head) Sign(signers ...note.Signer) (string, error) {
	if len(signers) == 0 {
		return "", errors.New("record: a checkpoint needs a key to sign it")
	}
	for _, signer := range signers {
		if signer.Name() != Origin(h.Mill) {
			return "", fmt.Errorf("record: the key %s does not sign for %s", signer.Name(), Origin(h.Mill))
		}
	}
	text, err := note.Sign(&note.Note{Text: h.Text()}, signers...)
	if err != nil {
		return "", fmt.Errorf("record: checkpoint: %w", err)
	}
	return string(text), nil
}

// OpenCheckpoint reads a checkpoint and checks its signatures by the verifiers
// known. At least one of them must be of the log's own key: the signature of a
// witness alone says that it was seen, not that the mill stands by it. A
// signature by a known key that is wrong is an error; unknown ones are passed by.
func OpenCheckpoint(text string, known ...note.Verifier) (Head, *note.Note, error) {
	opened, err := note.Open([]byte(text), note.VerifierList(known...))
	if err != nil {
		return Head{}, nil, fmt.Errorf("record: checkpoint: %w", err)
	}
	head, err := ParseHead(opened.Text)
	if err != nil {
		return Head{}, nil, err
	}
	for _, signature := range opened.Sigs {
		if signature.Name == Origin(head.Mill) {
			return head, opened, nil
		}
	}
	return Head{}, nil, fmt.Errorf("record: the checkpoint is not signed by a known key of %s", Origin(head.Mill))
}

// SignedBy tells whether a checkpoint is signed by key; the error says that key
// is no whole verifier key, as a fingerprint is none.
func SignedBy(checkpoint, key string) (bool, error) {
	verifier, err := note.NewVerifier(strings.TrimSpace(key))
	if err != nil {
		return false, fmt.Errorf("record: %.60q is no whole key: %w", key, err)
	}
	_, _, err = OpenCheckpoint(checkpoint, verifier)
	return err == nil, nil
}

// ProveConsistency returns the hashes that show that the log's first older
// entries are unchanged among its first newer ones (RFC 6962 section 2.1.2).
// None are needed from the empty log and between equal sizes.
func ProveConsistency(older, newer int64, reader tlog.HashReader) ([]tlog.Hash, error) {
	if err := errors.Join(checkSize(older), checkSize(newer)); err != nil {
		return nil, err
	}
	if older > newer {
		return nil, fmt.Errorf("record: %d entries can't go on from %d", newer, older)
	}
	if older == 0 || older == newer {
		return nil, nil
	}
	proof, err := tlog.ProveTree(newer, older, counted(reader))
	if err != nil {
		return nil, fmt.Errorf("record: proof from %d to %d entries: %w", older, newer, err)
	}
	return proof, nil
}

// CheckConsistency returns nil only if proof shows that newer goes on from
// older: that nothing of the older log was changed, left out or put between.
func CheckConsistency(older, newer Head, proof []tlog.Hash) error {
	return newer.Tree().Follows(older.Tree(), proof)
}
