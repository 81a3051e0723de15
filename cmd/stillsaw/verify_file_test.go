package main

import (
	"bytes"
	"crypto/rand"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
)

const exportedMill = "01990000-0000-7000-8000-0000000000aa"

type said struct {
	Text     record.Personal `json:"text"`
	Verifier string          `json:"verifier,omitempty"` // of the first, which names the key
}

// keyOf makes a key for the exports of a test.
func keyOf(t *testing.T) (note.Signer, string) {
	t.Helper()
	private, verifier, err := record.NewKey(exportedMill, rand.Reader)
	require.NoError(t, err)
	signer, err := note.NewSigner(private)
	require.NoError(t, err)
	return signer, verifier
}

// exportTo writes an export of all of a log of five entries, in which each says
// word, and the log's checkpoint beside it.
func exportTo(t *testing.T, path, word string, signer note.Signer, verifier string) {
	t.Helper()
	hashes := map[int64]tlog.Hash{}
	read := tlog.HashReaderFunc(func(places []int64) (found []tlog.Hash, err error) {
		for _, place := range places {
			found = append(found, hashes[place])
		}
		return found, nil
	})
	var edge record.Frontier
	var rows []record.Row
	for seq := range int64(5) {
		at := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
		// What nobody sees must be the same twice, so that only the word differs.
		salts := bytes.NewReader(bytes.Repeat([]byte{byte(seq)}, 32))
		kind, body := "said", said{Text: record.Personal(word)}
		if seq == 0 {
			kind, body.Verifier = record.KindLogKey, verifier
		}
		sealed, err := record.Seal(record.Envelope{Mill: exportedMill, Seq: seq, ID: fmt.Sprintf("01990000-0000-7000-8000-%012d", seq), Kind: kind, Version: 1, At: at, Body: body}, salts)
		require.NoError(t, err)
		for _, h := range edge.Append(sealed.Hash) {
			hashes[h.Index] = h.Hash
		}
		rows = append(rows, record.Row{Seq: seq, Leaf: sealed.Leaf, Openings: sealed.Openings})
	}
	head := edge.Head(exportedMill)
	checkpoint, err := head.Sign(signer)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path+".checkpoint", []byte(checkpoint), 0o600))
	var out bytes.Buffer
	w, err := record.NewExportWriter(&out, record.ExportHeader{Mill: record.ExportMill{ID: exportedMill, Name: "Fernhollow"}, Selection: record.ExportSelection{Words: "everything"},
		Checkpoint: checkpoint, Keys: []record.ExportKey{{Verifier: verifier}}})
	require.NoError(t, err)
	for _, row := range rows {
		proof, err := tlog.ProveRecord(head.Size, row.Seq, read)
		require.NoError(t, err)
		require.NoError(t, w.Entry(row, proof))
	}
	table, err := record.GivenFile("record.csv", strings.NewReader("a,b\n"))
	require.NoError(t, err)
	require.NoError(t, w.Close([]record.ExportFile{table}, signer))
	require.NoError(t, os.WriteFile(path, out.Bytes(), 0o600))
	proof, err := tlog.ProveRecord(head.Size, 3, read)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path+".proof", []byte(record.EntryProof{Leaf: rows[3].Leaf, Seq: 3, Path: proof, Checkpoint: checkpoint}.Text()), 0o600))
}

func TestVerifyOfAFileSaysWhereItWasAltered(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	signer, verifier := keyOf(t)
	exportTo(t, in("a.json"), "all dogs bite", signer, verifier)
	exportTo(t, in("b.json"), "no dog bites", signer, verifier)
	require.NoError(t, os.WriteFile(in("record.csv"), []byte("a,b\n"), 0o600))
	require.NoError(t, os.WriteFile(in("other.csv"), []byte("a,c\n"), 0o600))
	text, err := os.ReadFile(in("a.json"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(in("altered.json"), bytes.Replace(text, []byte("all dogs bite"), []byte("all dogs fail"), 1), 0o600))
	require.NoError(t, os.WriteFile(in("short.json"), text[:len(text)/2], 0o600))
	proof, err := os.ReadFile(in("a.json.proof"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(in("spoilt.proof"), bytes.Replace(proof, []byte("index 3"), []byte("index 2"), 1), 0o600))
	_, strange := keyOf(t)
	checkpoint, err := os.ReadFile(in("a.json.checkpoint"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(in("mistyped.txt"), bytes.Replace(checkpoint, []byte("\n5\n"), []byte("\n4\n"), 1), 0o600))
	require.NoError(t, os.WriteFile(in("elsewhere.txt"), bytes.ReplaceAll(checkpoint, []byte("00aa"), []byte("00ab")), 0o600))
	for _, tc := range []struct {
		args   []string
		status int
		says   []string
	}{
		{[]string{in("a.json")}, exitOK, []string{"SOUND", "entries 0 to 4 without a gap", record.Fingerprint(verifier), "Not given, and not checked: record.csv"}},
		{[]string{in("a.json"), in("record.csv")}, exitOK, []string{"SOUND"}},
		{[]string{in("a.json"), in("other.csv")}, exitWrong, []string{"ALTERED", "file other.csv: "}},
		{[]string{in("altered.json")}, exitWrong, []string{"ALTERED", "entry 0 opening /text: "}},
		{[]string{in("short.json")}, exitWrong, []string{"ALTERED", "end: "}},
		{[]string{"-key", record.Fingerprint(verifier), in("a.json")}, exitOK, []string{"SOUND", "The key you gave is the one that signed this"}},
		{[]string{"-key", verifier, in("a.json")}, exitOK, []string{"SOUND"}},
		{[]string{"-key", record.Fingerprint(strange), in("a.json")}, exitWrong, []string{"SOUND", "is not this mill's by this file"}},
		{[]string{"-checkpoint", in("mistyped.txt"), in("a.json")}, exitUsage, []string{"SOUND", "Not used: The checkpoint of 4 entries can't be used: its signature does not fit"}},
		{[]string{"-checkpoint", in("elsewhere.txt"), in("a.json")}, exitUsage, []string{"SOUND", "another mill's record"}},
		{[]string{"-checkpoint", in("a.json.checkpoint"), in("a.json")}, exitOK, []string{"The checkpoint of 5 entries you gave is of the same record."}},
		{[]string{"-checkpoint", in("b.json.checkpoint"), in("a.json")}, exitWrong, []string{"checkpoint: ", "another root"}},
		{[]string{in("a.json"), in("b.json.checkpoint")}, exitWrong, []string{"checkpoint: ", "another root"}},
		{[]string{in("a.json"), in("a.json")}, exitOK, []string{"5 entries in common"}},
		{[]string{in("a.json"), in("b.json")}, exitWrong, []string{"entry 3: ", "one of the two records was rewritten"}},
		{[]string{in("a.json.proof")}, exitOK, []string{"SOUND: the entry (said", "Not checked: who signed"}},
		{[]string{"-key", verifier, in("a.json.proof")}, exitOK, []string{"SOUND"}},
		{[]string{"-key", strange, in("a.json.proof")}, exitWrong, []string{"ALTERED", "checkpoint: "}},
		{[]string{in("a.json.proof"), in("a.json.checkpoint")}, exitOK, []string{"the one it is proven under"}},
		{[]string{in("a.json.proof"), in("b.json.checkpoint")}, exitWrong, []string{"checkpoint: ", "another root"}},
		{[]string{in("spoilt.proof")}, exitWrong, []string{"index: "}},
		{[]string{in("none.json")}, exitUsage, nil},
		{[]string{in("other.csv")}, exitUsage, nil},
		{[]string{"-key", verifier}, exitUsage, nil},
	} {
		var out, errOut bytes.Buffer
		status := run(t.Context(), append([]string{"verify"}, tc.args...), &out, &errOut)
		require.Equal(t, tc.status, status, "%v\n%s%s", tc.args, &out, &errOut)
		for _, want := range tc.says {
			require.Contains(t, out.String(), want, tc.args)
		}
	}
	page := in("page.html")
	var out, errOut bytes.Buffer
	require.Equal(t, exitOK, run(t.Context(), []string{"verify", "-page", page}, &out, &errOut), errOut.String())
	html, err := os.ReadFile(page)
	require.NoError(t, err)
	require.Contains(t, string(html), "Is this export what was written?")
}
