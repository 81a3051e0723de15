package record_test

import (
	"archive/zip"
	"bytes"
	"encoding/base64"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
)

// signedHead is a checkpoint of three entries and the verifier that opens it.
func signedHead(f *testing.F) (checkpoint, verifier string, head record.Head) {
	k := withPhoto(f, 3)
	signing, verifier, err := record.NewKey(k.log.head.Mill, &counting{})
	require.NoError(f, err)
	signer, err := note.NewSigner(signing)
	require.NoError(f, err)
	checkpoint, err = k.log.head.Sign(signer)
	require.NoError(f, err)
	known, err := note.NewVerifier(verifier)
	require.NoError(f, err)
	_, _, err = record.OpenCheckpoint(checkpoint, known)
	require.NoError(f, err)
	return checkpoint, verifier, k.log.head
}

// A checkpoint is opened only if it is the one the key signed; what can be read as
// a head is written the same again; what is found in a text is a head of a log.
func FuzzCheckpoint(f *testing.F) {
	checkpoint, key, head := signedHead(f)
	verifier, err := note.NewVerifier(key)
	require.NoError(f, err)
	for _, text := range []string{checkpoint, head.Text(), "> " + strings.ReplaceAll(checkpoint, "\n", "\r\n> "), strings.ReplaceAll(checkpoint, "—", "-"),
		strings.Replace(checkpoint, "\n3\n", "\n4\n", 1), strings.Replace(checkpoint, "\n3\n", "\n03\n", 1), checkpoint + checkpoint, checkpoint[:len(checkpoint)-9], "stillsaw/\n-1\n\n", "— x\n— \n", ""} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if opened, _, err := record.OpenCheckpoint(text, verifier); err == nil {
			require.Equal(t, head, opened, "nobody signed %q", text)
		}
		if read, err := record.ParseHead(text); err == nil {
			require.Equal(t, text, read.Text())
		}
		if tree, err := record.ParseTreeHead(text); err == nil {
			require.GreaterOrEqual(t, tree.Size, int64(0))
			require.True(t, strings.HasPrefix(text, tree.Origin+"\n"))
		}
		for _, found := range record.FindCheckpoints(text) {
			again, err := record.ParseHead(found.Head.Text())
			require.NoError(t, err)
			require.Equal(t, found.Head, again)
			if found.Text == "" {
				continue
			}
			require.True(t, strings.HasPrefix(found.Text, found.Head.Text()+"\n"))
			if ok, err := record.SignedBy(found.Text, key); ok {
				require.NoError(t, err)
				require.Equal(t, head, found.Head, "nobody signed %q", text)
			}
		}
	})
}

// What a witness is sent is either refused or is what it would be written as; and
// the witness signs nothing but the one checkpoint that was signed.
func FuzzSubmission(f *testing.F) {
	checkpoint, key, head := signedHead(f)
	verifier, err := note.NewVerifier(key)
	require.NoError(f, err)
	for _, s := range []record.Submission{{Checkpoint: checkpoint}, {Old: 3, Checkpoint: checkpoint}, {Old: 1, Proof: []tlog.Hash{head.Root, {}}, Checkpoint: checkpoint}, {Old: 1 << 40, Checkpoint: "x\n"}} {
		f.Add(s.Text())
	}
	f.Add("old 0\n\n\n\n")
	f.Add("old -1\n\n" + checkpoint)
	f.Add("old 01\n\n" + checkpoint)
	f.Fuzz(func(t *testing.T, text string) {
		s, err := record.ParseSubmission(text)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		require.Equal(t, text, s.Text())
		if seen, _, err := record.Witness(record.TreeHead{Origin: head.Tree().Origin}, s, verifier); err == nil {
			require.Equal(t, head.Tree(), seen)
		}
	})
}

// What is read as a proof of an entry is written the same again, and proves only
// an entry that lies under the signed checkpoint.
func FuzzEntryProof(f *testing.F) {
	k := withPhoto(f, 3)
	checkpoint, key, _ := signedHead(f)
	leaves := map[int64][]byte{}
	sound := 0
	for _, row := range k.log.rows {
		leaves[row.Seq] = row.Leaf
		path, err := tlog.ProveRecord(k.log.head.Size, row.Seq, k.log)
		require.NoError(f, err)
		p := record.EntryProof{Leaf: row.Leaf, Seq: row.Seq, Path: path, Checkpoint: checkpoint}
		if r := p.Check(key); r.Signed && len(r.Faults) == 0 {
			sound++
		}
		f.Add(p.Text())
		f.Add(record.EntryProof{Leaf: row.Leaf, Seq: (row.Seq + 1) % 3, Path: path, Checkpoint: checkpoint}.Text())
	}
	require.Equal(f, 4, sound, "the examples prove something")
	first, _, _ := strings.Cut(record.EntryProof{}.Text(), "\n")
	f.Add(first + "\nextra " + base64.StdEncoding.EncodeToString([]byte("{}")) + "\nindex -1\n\n")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := record.ParseEntryProof(text)
		if err != nil {
			return
		}
		require.Equal(t, text, p.Text())
		if r := p.Check(key); r.Signed && len(r.Faults) == 0 {
			require.Equal(t, leaves[p.Seq], p.Leaf, "nobody sealed %q", text)
		}
	})
}

// A bundle is read only if it holds the export that was sealed.
func FuzzReadExportZip(f *testing.F) {
	whole := withPhoto(f, 3).write(f, 1, 3)
	zipped := func(names ...string) []byte {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		for _, name := range names {
			in, err := w.Create(name)
			require.NoError(f, err)
			_, err = in.Write(whole)
			require.NoError(f, err)
		}
		require.NoError(f, w.Close())
		return b.Bytes()
	}
	f.Add(zipped("export.json"))
	f.Add(zipped("record.json", "../record.json", "photos/a.jpg"))
	f.Add(zipped())
	f.Fuzz(func(t *testing.T, file []byte) {
		archive, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
		if err != nil {
			return
		}
		r, err := record.ReadExportZip(archive, record.ExportHold{})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		require.True(t, r.OK() || r.FaultCount > 0, "not sound, and nothing said")
	})
}
