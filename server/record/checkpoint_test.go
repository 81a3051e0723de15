package record

import (
	"crypto/rand"
	"strings"
	"testing"

	"filippo.io/torchwood"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/transparency-dev/formats/log"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"github.com/transparency-dev/merkle/testonly"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// keyPair draws a key of mill.
func keyPair(t *testing.T, mill string) (note.Signer, note.Verifier) {
	t.Helper()
	secret, public, err := NewKey(mill, rand.Reader)
	require.NoError(t, err)
	signer, err := note.NewSigner(secret)
	require.NoError(t, err)
	verifier, err := note.NewVerifier(public)
	require.NoError(t, err)
	return signer, verifier
}

// inputs are the leaves of the log that RFC 6962's own test data are made from,
// as they stand in transparency-dev/merkle testonly/constants.go.
func inputs(t *testing.T) (leaves [][]byte, hashes tlog.HashReader) {
	t.Helper()
	var stored []tlog.Hash
	reader := tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		var some []tlog.Hash
		for _, i := range indexes {
			some = append(some, stored[i])
		}
		return some, nil
	})
	leaves = testonly.LeafInputs()
	for i, leaf := range leaves {
		more, err := Append(int64(i), leaf, reader)
		require.NoError(t, err)
		for _, h := range more {
			stored = append(stored, h.Hash)
		}
	}
	return leaves, reader
}

// Known answers: transparency-dev/merkle testonly/constants.go, RootHashes.
func TestRootsAreThoseOfThePublishedTree(t *testing.T) {
	leaves, reader := inputs(t)
	for size, want := range testonly.RootHashes() {
		root, err := Root(int64(size), reader)
		require.NoError(t, err)
		assert.Equal(t, want, root[:], "%d of %d leaves", size, len(leaves))
	}
}

func TestAnotherImplementationTakesCheckpointAndConsistency(t *testing.T) {
	leaves, reader := inputs(t)
	signer, verifier := keyPair(t, "fernhollow")
	head := func(size int) Head {
		root, err := Root(int64(size), reader)
		require.NoError(t, err)
		return Head{Mill: "fernhollow", Size: int64(size), Root: root}
	}
	for newer := 1; newer <= len(leaves); newer++ {
		text, err := head(newer).Sign(signer)
		require.NoError(t, err)
		theirs, _, _, err := log.ParseCheckpoint([]byte(text), "stillsaw/fernhollow", verifier)
		require.NoError(t, err, "transparency-dev/formats")
		assert.EqualValues(t, newer, theirs.Size)
		opened, err := note.Open([]byte(text), note.VerifierList(verifier))
		require.NoError(t, err)
		another, err := torchwood.ParseCheckpoint(opened.Text)
		require.NoError(t, err, "torchwood")
		assert.Equal(t, head(newer).Root, another.Hash)
		again, _, err := OpenCheckpoint(text, verifier)
		require.NoError(t, err)
		assert.Equal(t, head(newer), again)
		for older := 1; older <= newer; older++ {
			path, err := ProveConsistency(int64(older), int64(newer), reader)
			require.NoError(t, err)
			require.NoError(t, CheckConsistency(head(older), head(newer), path))
			hashes := make([][]byte, len(path))
			for i := range path {
				hashes[i] = path[i][:]
			}
			was, is := head(older).Root, head(newer).Root
			require.NoError(t, proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(older), uint64(newer), hashes, was[:], is[:]), "%d to %d", older, newer)
			is[7] ^= 1
			assert.Error(t, CheckConsistency(head(older), Head{Mill: "fernhollow", Size: int64(newer), Root: is}, path))
		}
	}
}

func TestCheckpointOfAnotherKeyMillOrTextIsRefused(t *testing.T) {
	_, reader := inputs(t)
	root, err := Root(5, reader)
	require.NoError(t, err)
	head := Head{Mill: "fernhollow", Size: 5, Root: root}
	signer, verifier := keyPair(t, "fernhollow")
	stranger, strange := keyPair(t, "fernhollow")
	other, _ := keyPair(t, "saltmarsh")
	text, err := head.Sign(signer)
	require.NoError(t, err)
	_, _, err = OpenCheckpoint(text, strange)
	require.Error(t, err, "a key nobody knows")
	_, _, err = OpenCheckpoint(strings.Replace(text, "\n5\n", "\n4\n", 1), verifier)
	require.Error(t, err, "a changed size")
	_, err = head.Sign(other)
	require.Error(t, err, "another mill's key")
	both, err := head.Sign(signer, stranger)
	require.NoError(t, err)
	_, opened, err := OpenCheckpoint(both, verifier, strange)
	require.NoError(t, err, "old and new key both sign")
	assert.Len(t, opened.Sigs, 2)
}
