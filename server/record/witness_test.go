package record

import (
	"encoding/hex"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// The log, its key and the submissions of the tests of filippo.io/torchwood
// v0.6.1, cmd/litewitness/testdata/litewitness.txt and internal/witness. The log's
// public key is the one given there, in the form of a verifier key.
const (
	theirLog = "sigsum.org/v1/tree/4d6d8825a6bb689d459628312889dfbb0bcd41b5211d9e1ce768b0ff0309e562"
	theirKey = "ffdc2d4d98e4124d3feaf788c0c2f9abfd796083d1f0495437f302ec79cf100f"
	toOne    = "old 0\n\n" + theirLog + "\n1\nKgAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n\n— " + theirLog +
		" UgIom7fPZTqpxWWhyjWduBvTvGVqsokMbqTArsQilegKoFBJQjUFAmQ0+YeSPM3wfUQMFSzVnnNuWRTYrajXpNUbIQY=\n"
	proofToThree = "KgEAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\nKgIAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n"
	three        = "\n" + theirLog + "\n3\nRcCI1Nk56ZcSmIEfIn0SleqtV7uvrlXNccFx595Iwl0=\n\n— " + theirLog +
		" UgIom2VbtIcdFbwFAy1n7s6IkAxIY6J/GQOTuZF2ORV39d75cbAj2aQYwyJre36kezNobZs4SUUdrcawfAB8WVrx6go=\n"
	toFive = "old 1\nKgEAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n+fUDV+k970B4I3uKrqJM4aP1lloPZP8mvr2Z4wRw2LI=\nKgQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n\n" + theirLog +
		"\n5\nQrtXrQZCCvpIgsSmOsah7HdICzMLLyDfxToMql9WTjY=\n\n— " + theirLog + " UgIomw/EOJmWi0i1FQsOj+etB7F8IccFam/jgd6wzRns4QPVmyEZtdvl1U2KEmLOZ/ASRcWJi0tW90dJWAShei7sDww=\n"
)

func TestPublishedSubmissionsAreAnsweredAsPublished(t *testing.T) {
	key := theirVerifier(t)
	var seen TreeHead
	give := func(text string) error {
		s, err := ParseSubmission(text)
		require.NoError(t, err)
		require.Equal(t, text, s.Text(), "parse, then print")
		require.True(t, strings.HasPrefix(s.Origin(), "sigsum.org/"))
		now, cosign, err := Witness(seen, s, key)
		if err == nil {
			require.Equal(t, s.Checkpoint[:len(cosign)], cosign)
			seen = now
		}
		return err
	}
	require.NoError(t, give(toOne))
	require.ErrorIs(t, give("old 1\n"+proofToThree+strings.Replace(three, "Vrx6go=", "Vrx6gx=", 1)), ErrNotSigned)
	require.ErrorIs(t, give("old 1\n"+three), ErrProofWrong)
	require.ErrorIs(t, give("old 1\n"+strings.Replace(proofToThree, "AAAA=\n", "ABAA=\n", 1)+three), ErrProofWrong)
	require.ErrorIs(t, give("old 0\n"+three), ErrOtherSize)
	require.ErrorIs(t, give("old 4\n"+three), ErrBadOld)
	require.EqualValues(t, 1, seen.Size)
	require.NoError(t, give("old 1\n"+proofToThree+three))
	require.NoError(t, give("old 3\n"+three), "the same once more")
	require.ErrorIs(t, give(toFive), ErrOtherSize, "what it saw last is 3")
	require.EqualValues(t, 3, seen.Size)
}

func TestASecondRootForASizeIsNeverCosigned(t *testing.T) {
	s, err := ParseSubmission("old 3\n" + three)
	require.NoError(t, err)
	_, _, err = Witness(TreeHead{Origin: theirLog, Size: 3, Root: tlog.Hash{1}}, s, theirVerifier(t))
	require.ErrorIs(t, err, ErrOtherRoot)
	_, _, err = Witness(TreeHead{Origin: "another log", Size: 3, Root: tlog.Hash{1}}, s, theirVerifier(t))
	require.Error(t, err)
	_, _, err = Witness(TreeHead{}, s)
	require.ErrorIs(t, err, ErrNotSigned, "no key is known")
}

func TestWhatIsNoSubmissionIsRefused(t *testing.T) {
	for _, bad := range []string{
		"", "old 1", "old 1\n", three, "old 01\n" + three, "old -1\n" + three, "old +1\n" + three, "old 1 \n" + three, "Old 1\n" + three,
		"old 1\nnot a hash\n" + three, "old 1\nKgEAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAB=\n" + three,
		"old 1\n" + strings.Repeat("KgEAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n", 64) + three,
		"old 1\n" + three + strings.Repeat("— x AAAAAAAA\n", 2000),
	} {
		_, err := ParseSubmission(bad)
		require.Error(t, err, "%.40q", bad)
	}
	for _, bad := range []string{"", "a\n", "a\n1\n", "a\n01\nKgAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n", "a\n1\nKgAA=\n", "a\n1\nKgAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=", "a\n1\nKgAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n\n"} {
		_, err := ParseTreeHead(bad)
		require.Error(t, err, "%.40q", bad)
	}
}

func theirVerifier(t *testing.T) note.Verifier {
	t.Helper()
	verifier, err := note.NewVerifier(verifierOf(t, theirLog, theirKey))
	require.NoError(t, err)
	return verifier
}

// verifierOf writes an Ed25519 key, given in hexadecimal, as a verifier key.
func verifierOf(t *testing.T, name, key string) string {
	t.Helper()
	raw, err := hex.DecodeString(key)
	require.NoError(t, err)
	text, err := note.NewEd25519VerifierKey(name, raw)
	require.NoError(t, err)
	return text
}
