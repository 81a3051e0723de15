package record

import (
	"crypto/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFormerKeyIsNotTakenForAForgersNorForTheOneInUse(t *testing.T) {
	mill := "01990000-0000-7000-8000-0000000000aa"
	key := func() string {
		_, verifier, err := NewKey(mill, rand.Reader)
		require.NoError(t, err)
		return verifier
	}
	former, now, other := key(), key(), key()
	r := &ExportReport{Key: now, places: map[string]bool{}, Header: ExportHeader{Keys: []ExportKey{{Verifier: former, Until: 7}, {Verifier: now, From: 7}}}}
	for _, c := range []struct {
		named string
		is    KeyIs
	}{
		{"", KeyUnasked}, {now, KeyMatches}, {" " + Fingerprint(now) + "\n", KeyMatches}, {former, KeyFormer}, {Fingerprint(former), KeyFormer},
		{other, KeyForeign}, {Fingerprint(other), KeyForeign},
	} {
		require.Equal(t, c.is, r.HoldKey(c.named).Is, c.named)
	}
	require.EqualValues(t, 7, r.HoldKey(former).Until)
	require.Contains(t, r.HoldKey(former).Said().String(), "former key of this mill, in use until entry 7; the one now is "+Fingerprint(now))
	r.places["keys"] = true
	require.Equal(t, KeyForeign, r.HoldKey(former).Is, "a former key that is not proven")
}

func TestLeadShowsThatALogGoesOnFromACheckpointKept(t *testing.T) {
	leaves, reader := inputs(t)
	head := func(size int64) Head {
		root, err := Root(size, reader)
		require.NoError(t, err)
		return Head{Mill: "01990000-0000-7000-8000-0000000000aa", Size: size, Root: root}
	}
	signer, _ := keyPair(t, head(1).Mill)
	newest := head(int64(len(leaves)))
	checkpoint, err := newest.Sign(signer)
	require.NoError(t, err)
	path, err := ProveConsistency(3, newest.Size, reader)
	require.NoError(t, err)
	text := ""
	for _, hash := range path {
		text += hash.String() + "\n"
	}
	lead, is := FindLead(text + "\n" + checkpoint)
	require.True(t, is)
	require.Equal(t, newest, lead.To.Head)
	require.True(t, lead.From(head(3)))
	require.False(t, lead.From(head(4)))
	spoilt := head(3)
	spoilt.Root[0] ^= 1
	require.False(t, lead.From(spoilt))
	for _, no := range []string{checkpoint, text, "a,b\n" + checkpoint, ""} {
		_, is := FindLead(no)
		require.False(t, is, no)
	}
}
