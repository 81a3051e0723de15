package record

import (
	"bytes"
	"crypto/ed25519"
	"crypto/rand"
	"strings"
	"testing"
	"time"

	"filippo.io/torchwood"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
)

// seenText is the checkpoint of the example in C2SP tlog-cosignature.
const seenText = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"

var seenAt = time.Unix(1679315147, 0) // of the same example

func cosigner(t *testing.T, name string) (Cosigner, []byte) {
	t.Helper()
	seed, err := NewWitnessSeed(rand.Reader)
	require.NoError(t, err)
	c, err := NewCosigner(name, seed)
	require.NoError(t, err)
	return c, seed
}

// The example of C2SP tlog-cosignature, Format. No key is published with it, so
// what it fixes is the frame: id, the time 1679315147 and 64 bytes.
func TestCosignatureIsFramedAsInThePublishedExample(t *testing.T) {
	at, err := CosignedAt(note.Signature{Name: "witness.example.com/w1", Hash: 0x8d66cf3f,
		Base64: "jWbPPwAAAABkGFDLEZMHwSRaJNiIDoe9DYn/zXcrtPHeolMI5OWXEhZCB9dlrDJsX3b2oyin1nPZqhf5nNo0xUe+mbIUBkBIfZ+qnA=="})
	require.NoError(t, err)
	require.Equal(t, seenAt.UTC(), at)
	require.Equal(t, "cosignature/v1\ntime 1679315147\n"+seenText, string(cosigned(1679315147, seenText)))
}

// What is signed here is read by filippo.io/torchwood, another implementation.
func TestAnotherImplementationAcceptsACosignatureMadeHere(t *testing.T) {
	c, seed := cosigner(t, "mill.example/witness")
	line, err := c.Cosign(seenText, seenAt)
	require.NoError(t, err)
	text := []byte(seenText + "\n" + line)

	theirs, err := torchwood.NewCosignatureSigner("mill.example/witness", ed25519.NewKeyFromSeed(seed))
	require.NoError(t, err)
	require.Equal(t, theirs.Verifier().String(), c.Verifier())
	opened, err := note.Open(text, note.VerifierList(theirs.Verifier()))
	require.NoError(t, err)
	when, err := torchwood.CosignatureTimestamp(opened.Sigs[0])
	require.NoError(t, err)
	require.Equal(t, seenAt.Unix(), when)

	touched := bytes.Replace(text, []byte("20852163"), []byte("20852164"), 1)
	_, err = note.Open(touched, note.VerifierList(theirs.Verifier()))
	require.Error(t, err)
}

func TestACosignatureMadeByOthersIsAccepted(t *testing.T) {
	_, seed := cosigner(t, "x")
	theirs, err := torchwood.NewCosignatureSigner("their.example/w", ed25519.NewKeyFromSeed(seed))
	require.NoError(t, err)
	text, err := note.Sign(&note.Note{Text: seenText}, theirs)
	require.NoError(t, err)
	verifier, err := NewCosignatureVerifier(theirs.Verifier().String())
	require.NoError(t, err)
	require.Equal(t, theirs.KeyHash(), verifier.KeyHash())
	opened, err := note.Open(text, note.VerifierList(verifier))
	require.NoError(t, err)
	at, err := CosignedAt(opened.Sigs[0])
	require.NoError(t, err)
	want, err := torchwood.CosignatureTimestamp(opened.Sigs[0])
	require.NoError(t, err)
	require.Equal(t, want, at.Unix())

	for _, touched := range []string{
		strings.Replace(string(text), "20852163", "20852164", 1),
		strings.Replace(string(text), "behind", "before", 1),
	} {
		_, err := note.Open([]byte(touched), note.VerifierList(verifier))
		require.Error(t, err)
	}
}

func TestACosignatureStandsByItsTime(t *testing.T) {
	c, _ := cosigner(t, "w")
	line, err := c.Cosign(seenText, seenAt)
	require.NoError(t, err)
	later, err := c.Cosign(seenText, seenAt.Add(time.Second))
	require.NoError(t, err)
	require.NotEqual(t, line, later)
	verifier, err := NewCosignatureVerifier(c.Verifier())
	require.NoError(t, err)
	coded := func(line string) []byte {
		opened, err := note.Open([]byte(seenText+"\n"+line), note.VerifierList(verifier))
		require.NoError(t, err)
		raw, err := CosignedAt(opened.Sigs[0])
		require.NoError(t, err)
		require.False(t, raw.IsZero())
		return []byte(opened.Sigs[0].Base64)
	}
	one, other := coded(line), coded(later)
	require.NotEqual(t, one[16:], other[16:], "the time is signed, too")
	_, err = c.Cosign("no checkpoint\n", seenAt)
	require.Error(t, err)
	_, err = (Cosigner{}).Cosign(seenText, seenAt)
	require.Error(t, err)
}

func TestOnlyAWitnessKeyIsReadAsOne(t *testing.T) {
	c, _ := cosigner(t, "w")
	_, ofALog, err := NewKey("mill", rand.Reader)
	require.NoError(t, err)
	good := c.Verifier()
	for _, bad := range []string{"", "w", "w+1", ofALog, strings.Replace(good, "w+", "v+", 1), good[:len(good)-5], good + "A", "a b" + good[1:]} {
		_, err := NewCosignatureVerifier(bad)
		require.Error(t, err, bad)
	}
	_, err = NewCosignatureVerifier(good)
	require.NoError(t, err)
}
