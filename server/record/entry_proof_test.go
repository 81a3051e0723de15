package record_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	formats "github.com/transparency-dev/formats/proof"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
)

// proven is the proof of one entry of a log of 12 with the key that signed.
func proven(t *testing.T, seq int64) (record.EntryProof, string) {
	t.Helper()
	x := exportable(t, 12)
	path, err := tlog.ProveRecord(12, seq, x.log)
	require.NoError(t, err)
	return record.EntryProof{Leaf: x.log.rows[seq].Leaf, Seq: seq, Path: path, Checkpoint: x.header.Checkpoint}, x.verifier
}

// Against transparency-dev/formats, another implementation of C2SP tlog-proof.
func TestProofOfAnEntryIsReadElsewhereAndReadsBack(t *testing.T) {
	for seq := range int64(12) {
		p, key := proven(t, seq)
		again, err := record.ParseEntryProof(p.Text())
		require.NoError(t, err)
		require.Equal(t, p, again)
		var theirs formats.TLogProof
		require.NoError(t, theirs.Unmarshal([]byte(p.Text())))
		require.Equal(t, p.Text(), string(theirs.Marshal()))
		r := again.Check(key)
		require.Empty(t, r.Faults)
		require.True(t, r.Signed)
		require.Equal(t, seq, r.Entry.Seq)
		require.Equal(t, record.EntryProof{Leaf: nil, Seq: p.Seq, Path: p.Path, Checkpoint: p.Checkpoint}.Check(key).Faults[0].Place, "leaf")
	}
}

func TestAlteredProofOfAnEntryIsCaught(t *testing.T) {
	p, key := proven(t, 5)
	stranger := exportableKey(t)
	head, err := record.ReadHead(p.Checkpoint)
	require.NoError(t, err)
	rewritten := head
	rewritten.Root[3] ^= 1
	for what, tc := range map[string]struct {
		alter func(p *record.EntryProof)
		key   string
		heads []record.Head
		place string
	}{
		"entry":          {alter: func(p *record.EntryProof) { p.Leaf = []byte(strings.Replace(string(p.Leaf), "item 5", "item 6", 1)) }, place: "proof"},
		"not an entry":   {alter: func(p *record.EntryProof) { p.Leaf = p.Leaf[1:] }, place: "leaf"},
		"other entry":    {alter: func(p *record.EntryProof) { p.Seq = 6 }, place: "index"},
		"no such entry":  {alter: func(p *record.EntryProof) { p.Seq = -1 }, place: "proof"},
		"hash":           {alter: func(p *record.EntryProof) { p.Path[1][0] ^= 1 }, place: "proof"},
		"hash left out":  {alter: func(p *record.EntryProof) { p.Path = p.Path[1:] }, place: "proof"},
		"size":           {alter: func(p *record.EntryProof) { p.Checkpoint = strings.Replace(p.Checkpoint, "\n12\n", "\n13\n", 1) }, key: key, place: "checkpoint"},
		"no checkpoint":  {alter: func(p *record.EntryProof) { p.Checkpoint = "x" }, place: "checkpoint"},
		"another key":    {alter: func(*record.EntryProof) {}, key: stranger, place: "checkpoint"},
		"another record": {alter: func(*record.EntryProof) {}, heads: []record.Head{rewritten}, place: "checkpoint"},
	} {
		one, _ := proven(t, 5)
		tc.alter(&one)
		var found []string
		for _, f := range one.Check(tc.key, tc.heads...).Faults {
			found = append(found, f.Place)
		}
		require.Contains(t, found, tc.place, what)
	}
	for _, text := range []string{"", "c2sp.org/tlog-proof@v1\n\nx", strings.Replace(p.Text(), "index 5", "index 05", 1), strings.Replace(p.Text(), "index 5", "index x", 1), strings.Replace(p.Text(), "extra ", "extra !", 1)} {
		_, err := record.ParseEntryProof(text)
		require.Error(t, err, text)
	}
}

// exportableKey is the key of somebody else in the mill's name.
func exportableKey(t *testing.T) string {
	t.Helper()
	_, verifier, err := record.NewKey(mill, &counting{99})
	require.NoError(t, err)
	return verifier
}
