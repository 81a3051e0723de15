package record_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	formats "github.com/transparency-dev/formats/log"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"stillsaw/server/record"
)

// exporting is an export of chosen entries of a log with a picture, by a key of
// its own.
type exporting struct {
	log      *kept
	verifier string
	signer   note.Signer
	header   record.ExportHeader
	photo    record.ExportPhoto
	also     []int64 // beside the entry that names the key
}

func exportable(t testing.TB, size int64) exporting {
	t.Helper()
	var x exporting
	private, verifier, err := record.NewKey(mill, &counting{7})
	require.NoError(t, err)
	x.verifier, x.log = verifier, logOf(t, size, verifier)
	x.signer, err = note.NewSigner(private)
	require.NoError(t, err)
	checkpoint, err := x.log.head.Sign(x.signer)
	require.NoError(t, err)
	x.header = record.ExportHeader{
		Mill:      record.ExportMill{ID: mill, Name: "Fernhollow \u2028 & Söhne", Zone: "America/New_York"},
		Made:      record.ExportMade{At: record.ExportTime(envelope(0, nil).At), By: record.ExportBy{ID: "sam", Name: "Sam Ordway"}, Program: "stillsaw 5"},
		Selection: record.ExportSelection{From: "2026-03-02", Until: "2026-03-02", Words: "2 March 2026"},
		Withheld:  record.ExportWithheld{Words: "nothing"}, Checkpoint: checkpoint,
		Keys: []record.ExportKey{{From: 0, Verifier: verifier}},
	}
	return x
}

// withPhoto is exportable with a last entry that names the picture.
func withPhoto(t testing.TB, size int64) exporting {
	t.Helper()
	x := exportable(t, size)
	x.photo = record.ExportPhoto{Type: "image/jpeg", Bytes: []byte("a picture of a bent dog")}
	sum := sha256.Sum256(x.photo.Bytes)
	x.photo.Digest = hex.EncodeToString(sum[:])
	e := envelope(size, answer{Item: "carriage", Photo: x.photo.Digest, Result: "Defect", Note: "bent \u2028 dog"})
	x.enter(t, e)
	return x
}

// enter appends an entry to the log.
func (x *exporting) enter(t testing.TB, e record.Envelope) {
	t.Helper()
	sealed := seal(t, e)
	edge, err := record.RestoreFrontier(x.log.head, x.log)
	require.NoError(t, err)
	for _, stored := range edge.Append(sealed.Hash) {
		x.log.hashes[stored.Index] = stored.Hash
	}
	x.log.rows = append(x.log.rows, record.Row{Seq: e.Seq, Leaf: sealed.Leaf, Columns: e.Columns(), Openings: sealed.Openings})
	x.log.head = edge.Head(mill)
	x.header.Checkpoint, err = x.log.head.Sign(x.signer)
	require.NoError(t, err)
}

func (x exporting) write(t testing.TB, seqs ...int64) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := record.NewExportWriter(&out, x.header)
	require.NoError(t, err)
	for _, seq := range seqs {
		path, err := tlog.ProveRecord(x.log.head.Size, seq, x.log)
		require.NoError(t, err)
		require.NoError(t, w.Entry(x.log.rows[seq], path))
	}
	for _, seq := range append([]int64{0}, x.also...) {
		if !slices.Contains(seqs, seq) {
			path, err := tlog.ProveRecord(x.log.head.Size, seq, x.log)
			require.NoError(t, err)
			require.NoError(t, w.Also(x.log.rows[seq], path))
		}
	}
	if x.photo.Digest != "" {
		require.NoError(t, w.Photo(x.photo))
	}
	require.NoError(t, w.Close([]record.ExportFile{{Digest: record.FileDigest(sha256.Sum256([]byte("a,b\n"))), Name: "record.csv", Size: 4}}, x.signer))
	return out.Bytes()
}

func places(r *record.ExportReport) (all []string) {
	for _, f := range r.Faults {
		all = append(all, f.Place)
	}
	return all
}

func read(text []byte) *record.ExportReport {
	return record.ReadExport(bytes.NewReader(text), record.ExportHold{})
}

func TestExportReadsBackAsItWasWritten(t *testing.T) {
	x := withPhoto(t, 12)
	x.log.rows[3].Openings = nil
	x.header.Withheld.Notes = true
	var entries []record.ExportedEntry
	r := record.ReadExport(bytes.NewReader(x.write(t, 0, 3, 4, 5, 11, 12)), record.ExportHold{Each: func(e record.ExportedEntry) { entries = append(entries, e) }})
	require.Empty(t, r.Faults)
	require.True(t, r.OK())
	require.Equal(t, x.header, r.Header)
	require.Equal(t, x.log.head, r.Head)
	require.Equal(t, x.verifier, r.Key)
	require.Equal(t, record.ExportCounts{Entries: 6, Openings: 10, Photos: 1, Withheld: 2}, r.Counts) // each answer has two personal fields
	require.Equal(t, []record.ExportRun{{First: 0, Last: 0}, {First: 3, Last: 5}, {First: 11, Last: 12}}, r.Runs)
	for _, e := range entries {
		require.True(t, e.Proven)
		row := x.log.rows[e.Seq]
		want, err := record.Read(row.Leaf, row.Openings)
		require.NoError(t, err)
		require.Equal(t, want, e.Entry)
	}
}

// TestEveryChangedByteOfAnExportIsCaught turns one bit of each byte, takes each
// away and doubles it; every 23rd, in CI every fifth, unless STILLSAW_LONG is set.
func TestEveryChangedByteOfAnExportIsCaught(t *testing.T) {
	x := withPhoto(t, 3)
	whole := x.write(t, 1, 3)
	require.True(t, read(whole).OK())
	step := 23
	if os.Getenv("CI") != "" {
		step = 5
	}
	if os.Getenv("STILLSAW_LONG") != "" {
		step = 1
	}
	for i := 0; i < len(whole); i += step {
		turned := slices.Clone(whole)
		turned[i] ^= 1
		for what, changed := range map[string][]byte{"turned": turned, "gone": slices.Delete(slices.Clone(whole), i, i+1), "doubled": slices.Insert(slices.Clone(whole), i, whole[i])} {
			if bytes.Equal(changed, whole) {
				continue
			}
			if r := read(changed); r.OK() || len(r.Faults) == 0 || r.Faults[0].Place == "" || r.Faults[0].What.Empty() {
				t.Fatalf("byte %d (%q in %q) %s: not caught", i, whole[i], whole[max(0, i-20):min(len(whole), i+20)], what)
			}
		}
	}
}

// spoiled are alterations of an export, each with the place it must be found at.
func spoiled(whole string) map[string]struct{ text, place string } {
	line := func(n int) string { return strings.SplitAfter(whole, "\n")[n-1] }
	swap := func(old, new string) string { return strings.Replace(whole, old, new, 1) }
	return map[string]struct{ text, place string }{
		"mill's name":     {swap("Fernhollow", "Fernhallow"), "mill"},
		"who made it":     {swap("Sam Ordway", "Sam Andrew"), "made"},
		"what was asked":  {swap(`"words":"2 March 2026"`, `"words":"1 March 2026"`), "selection"},
		"what is out":     {swap(`"words":"nothing"`, `"words":"notes"`), "withheld"},
		"checkpoint":      {swap(`\n4\n`, `\n5\n`), "checkpoint"},
		"word of a leaf":  {swap("item 1", "item 2"), "entry 1 leaf"},
		"shown value":     {swap(`"value":"note 1"`, `"value":"note 7"`), "entry 1 opening /note"},
		"proof":           {swap(`"proof":["`, `"proof":["AA`), "entry 1 proof"},
		"proof's hash":    {swap(proofOf(line(9)), base64.StdEncoding.EncodeToString(make([]byte, 32))), "entry 1 proof"},
		"noted hash":      {swap(hashOf(line(9)), hashOf(line(10))), "entry 1 hash"},
		"entry gone":      {swap(line(9), ""), "counts"},
		"entries turned":  {swap(line(9)+line(10), strings.TrimSuffix(line(10), "\n")+",\n"+strings.TrimSuffix(line(9), ",\n")+"\n"), "entry 1"},
		"space":           {swap(`"seq":1`, `"seq": 1`), "line 9"},
		"photo":           {swap(base64.StdEncoding.EncodeToString([]byte("a picture of a bent dog")), base64.StdEncoding.EncodeToString([]byte("a picture of a good dog"))), "photo " + photoPlace},
		"count":           {swap(`"photos":1`, `"photos":2`), "counts"},
		"file's digest":   {swap(`"size":4`, `"size":5`), "files"},
		"seal":            {swap(`stillsaw-export-seal-1\n`, `stillsaw-export-seal-2\n`), "seal"},
		"end":             {whole[:len(whole)-300], "seal"},
		"more":            {whole + "\n", "end"},
		"seal gone":       {swap(line(20), ""), "end"},
		"another key":     {swap(`"from":0`, `"from":9`), "checkpoint"},
		"a second member": {swap(line(3), line(3)+line(3)), "line 4"},
	}
}

var photoPlace = func() string {
	sum := sha256.Sum256([]byte("a picture of a bent dog"))
	return hex.EncodeToString(sum[:6])
}()

func proofOf(line string) string {
	_, rest, _ := strings.Cut(line, `"proof":["`)
	return rest[:44]
}

func hashOf(line string) string {
	_, rest, _ := strings.Cut(line, `"hash":"`)
	return rest[:44]
}

func TestAlteredExportIsCaughtWhereItWasAltered(t *testing.T) {
	whole := string(withPhoto(t, 3).write(t, 1, 3))
	for what, spoilt := range spoiled(whole) {
		require.NotEqual(t, whole, spoilt.text, what)
		r := read([]byte(spoilt.text))
		require.False(t, r.OK(), what)
		require.Contains(t, places(r), spoilt.place, what)
		require.LessOrEqual(t, len(r.Faults), 4, "%s: %v", what, r.Faults)
	}
}

func TestExportByAnotherKeyIsNotTheMills(t *testing.T) {
	mine, other := withPhoto(t, 3), withPhoto(t, 3)
	private, verifier, err := record.NewKey(mill, &counting{99})
	require.NoError(t, err)
	other.signer, err = note.NewSigner(private)
	require.NoError(t, err)
	// A seal of a stranger under the mill's own checkpoint.
	require.Contains(t, places(read(other.write(t, 1, 3))), "seal")
	// A stranger who signs the true entries anew can't have them name his key.
	other.header.Checkpoint, err = other.log.head.Sign(other.signer)
	require.NoError(t, err)
	other.header.Keys[0].Verifier = verifier
	r := read(other.write(t, 1, 3))
	require.Equal(t, []string{"keys"}, places(r))
	other.header.Keys[0].From = 1
	require.Equal(t, []string{"keys", "keys"}, places(read(other.write(t, 0, 1, 3))), "nor hide the entry that names the mill's")
	// One who writes a record of his own is only shown by his key.
	other.log = logOf(t, 4, verifier)
	other.photo = record.ExportPhoto{}
	other.header.Keys[0].From = 0
	other.header.Checkpoint, err = other.log.head.Sign(other.signer)
	require.NoError(t, err)
	whole := other.write(t, 1, 3)
	r = read(whole)
	require.True(t, r.OK(), r.Faults)
	require.NotEqual(t, record.Fingerprint(mine.verifier), record.Fingerprint(r.Key))
}

// Two exports of one mill name the same keys, whatever else they show.
func TestExportsOfOneMillHaveTheSameKeys(t *testing.T) {
	mine, other := exportable(t, 4), exportable(t, 6)
	private, verifier, err := record.NewKey(mill, &counting{99})
	require.NoError(t, err)
	other.signer, err = note.NewSigner(private)
	require.NoError(t, err)
	other.log, other.header.Keys[0].Verifier = logOf(t, 6, verifier), verifier
	other.header.Checkpoint, err = other.log.head.Sign(other.signer)
	require.NoError(t, err)
	var seen record.ExportsRead
	for i, text := range [][]byte{mine.write(t, 1), mine.write(t, 1), other.write(t, 1)} {
		r := record.ReadExport(bytes.NewReader(text), seen.Hold(nil))
		require.True(t, r.OK(), r.Faults)
		seen.Take(fmt.Sprint("export ", i), r)
		require.Equal(t, i < 2, r.OK())
		require.Equal(t, i == 2, slices.Contains(places(r), "keys"))
	}
}

// What is not shown is said to be kept back, or proven to have been dropped.
func TestExportThatShowsLessThanItSaysIsCaught(t *testing.T) {
	x := withPhoto(t, 3)
	drop := func(paths []string, photos ...string) {
		e := envelope(x.log.head.Size, struct {
			Values []map[string]any `json:"values"`
			Photos []string         `json:"photos"`
			Reason record.Personal  `json:"reason"`
		}{[]map[string]any{{"seq": 1, "paths": paths}}, photos, "asked for"})
		e.Kind = record.KindDropped
		x.enter(t, e)
	}
	x.log.rows[1].Openings = x.log.rows[1].Openings[1:] // without the note
	x.log.rows[2].Openings = nil
	whole := x.write(t, 1, 3)
	require.Equal(t, []string{"entry 1 opening /note"}, places(read(whole)))
	x.header.Withheld.Names = true
	require.Empty(t, places(read(x.write(t, 1, 3))), "a note may name somebody")
	x.header.Withheld = record.ExportWithheld{Notes: true}
	require.Empty(t, places(read(x.write(t, 1, 3))))
	x.header.Withheld.Notes = false

	drop([]string{"/other"})
	drop([]string{"/note"}, x.photo.Digest)
	x.also = []int64{4}
	require.Equal(t, []string{"entry 1 opening /note"}, places(read(x.write(t, 1, 3))), "another value")
	x.also = []int64{4, 5}
	require.Empty(t, places(read(x.write(t, 1, 3))))
	require.Empty(t, places(read(x.write(t, 0, 1, 3, 4, 5))))
	require.Equal(t, []string{"entry 2 opening /note", "entry 2 opening /seen"}, places(read(x.write(t, 1, 2, 3))))

	photo := []string{"photo " + photoPlace}
	x.photo.Bytes, x.photo.Left = nil, record.PhotoDropped
	require.Empty(t, places(read(x.write(t, 1, 3))))
	x.also = nil
	x.header.Withheld.Notes = true
	require.Equal(t, photo, places(read(x.write(t, 1, 3))))
	x.photo.Left = record.PhotoNotKept
	require.Equal(t, photo, places(read(x.write(t, 1, 3))))
	x.photo.Left = record.PhotoLeftOut
	require.Equal(t, photo, places(read(x.write(t, 1, 3))))
	x.header.Withheld.Photos = true
	require.Empty(t, places(read(x.write(t, 1, 3))))
	x.photo = record.ExportPhoto{}
	require.Equal(t, photo, places(read(x.write(t, 1, 3))), "not even its digest")
}

func TestExportIsHeldAgainstCheckpointsGotAnotherWay(t *testing.T) {
	x := exportable(t, 9)
	whole, part := x.write(t, 0, 1, 2, 3, 4, 5, 6, 7, 8), x.write(t, 0, 1, 2, 8)
	older := func(size int64) record.Head {
		root, err := record.Root(size, x.log)
		require.NoError(t, err)
		return record.Head{Mill: mill, Size: size, Root: root}
	}
	against := func(text []byte, head record.Head) (caught, agreed bool) {
		r := record.ReadExport(bytes.NewReader(text), record.ExportHold{Heads: []record.Head{head}})
		return !r.OK(), r.Agreed[head.Size]
	}
	for _, tc := range []struct {
		text           []byte
		size           int64
		caught, agreed bool // of another root; of the true one
	}{{whole, 9, true, true}, {part, 9, true, true}, {whole, 5, true, true}, {part, 3, true, true}, {part, 5, false, false}, {whole, 10, false, false}} {
		head := record.Head{Mill: mill, Size: tc.size}
		caught, agreed := against(tc.text, head)
		require.Equal(t, tc.caught, caught, "%d", tc.size)
		require.False(t, agreed)
		if tc.size <= 9 {
			caught, agreed = against(tc.text, older(tc.size))
			require.False(t, caught, "%d", tc.size)
			require.Equal(t, tc.agreed, agreed, "%d", tc.size)
		}
	}
}

// The implementations of transparency-dev, which are not ours, read the export's
// checkpoint and accept its proofs.
func TestAnotherImplementationAcceptsTheProofsOfAnExport(t *testing.T) {
	x := exportable(t, 13)
	verifier, err := note.NewVerifier(x.verifier)
	require.NoError(t, err)
	r := read(x.write(t, 0, 5, 6, 12))
	require.True(t, r.OK())
	checkpoint, _, _, err := formats.ParseCheckpoint([]byte(r.Header.Checkpoint), record.Origin(mill), verifier)
	require.NoError(t, err)
	require.Equal(t, uint64(13), checkpoint.Size)
	for _, seq := range []int64{0, 5, 6, 12} {
		path, err := tlog.ProveRecord(13, seq, x.log)
		require.NoError(t, err)
		var hashes [][]byte
		for _, hash := range path {
			hashes = append(hashes, hash[:])
		}
		leaf := rfc6962.DefaultHasher.HashLeaf(x.log.rows[seq].Leaf)
		require.NoError(t, proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(seq), checkpoint.Size, leaf, hashes, checkpoint.Hash))
		require.Error(t, proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(seq+1)%13, checkpoint.Size, leaf, hashes, checkpoint.Hash))
	}
}

func TestAnyEntryGoesThroughAnExportUnchanged(t *testing.T) {
	private, verifier, err := record.NewKey(mill, &counting{})
	require.NoError(t, err)
	signer, err := note.NewSigner(private)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		k := &kept{hashes: map[int64]tlog.Hash{}}
		var edge record.Frontier
		for seq := range rapid.Int64Range(1, 12).Draw(t, "size") {
			said := answer{Item: rapid.String().Draw(t, "item"), Note: record.Personal(rapid.String().Draw(t, "note"))}
			e := envelope(seq, said)
			if seq == 0 {
				e.Kind, e.Body = record.KindLogKey, keyed{said, verifier}
			}
			sealed, err := record.Seal(e, &counting{byte(seq)})
			require.NoError(t, err)
			for _, stored := range edge.Append(sealed.Hash) {
				k.hashes[stored.Index] = stored.Hash
			}
			openings := sealed.Openings
			if rapid.Bool().Draw(t, "withheld") {
				openings = openings[:1]
			}
			k.rows = append(k.rows, record.Row{Seq: seq, Leaf: sealed.Leaf, Openings: openings})
		}
		k.head = edge.Head(mill)
		checkpoint, err := k.head.Sign(signer)
		require.NoError(t, err)
		var out bytes.Buffer
		w, err := record.NewExportWriter(&out, record.ExportHeader{Mill: record.ExportMill{ID: mill, Name: rapid.String().Draw(t, "name")}, Withheld: record.ExportWithheld{Notes: true}, Checkpoint: checkpoint, Keys: []record.ExportKey{{Verifier: verifier}}})
		require.NoError(t, err)
		for _, row := range k.rows {
			path, err := tlog.ProveRecord(k.head.Size, row.Seq, k)
			require.NoError(t, err)
			require.NoError(t, w.Entry(row, path))
		}
		require.NoError(t, w.Close(nil, signer))
		var seen int
		r := record.ReadExport(&out, record.ExportHold{Each: func(e record.ExportedEntry) {
			want, err := record.Read(k.rows[e.Seq].Leaf, k.rows[e.Seq].Openings)
			require.NoError(t, err)
			require.Equal(t, want, e.Entry)
			seen++
		}})
		require.Empty(t, r.Faults)
		require.True(t, r.OK())
		require.Equal(t, len(k.rows), seen)
	})
}

func FuzzReadExport(f *testing.F) {
	whole := withPhoto(f, 3).write(f, 1, 3)
	f.Add(whole)
	for _, spoilt := range spoiled(string(whole)) {
		f.Add([]byte(spoilt.text))
	}
	f.Add(fmt.Append(nil, `{"format":"stillsaw-export-1",`+"\n\"entries\":[\n{\"seq\":-1}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		r := read(text)
		if r.OK() && !bytes.Equal(text, whole) {
			t.Fatalf("an export nobody sealed is taken for one: %q", text)
		}
		if !r.OK() && r.FaultCount == 0 {
			t.Fatal("not sound, and nothing said")
		}
	})
}
