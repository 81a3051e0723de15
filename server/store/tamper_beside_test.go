package store

import (
	"archive/zip"
	"bytes"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"

	"stillsaw/server/record"
)

// zipTamperings are alterations of what lies beside an export in its ZIP.
func zipTamperings() []struct{ what, name, table, want string } {
	return []struct{ what, name, table, want string }{
		{"a byte of the table (or of the readable sheets)", "record.csv", "a,c\n", "file record.csv: record.csv is not the file"},
		{"the table renamed", "other.csv", "a,b\n", "file other.csv: other.csv is none of the files"},
		{"the table removed", "", "", "file record.csv: record.csv, which belongs"},
		{"a file added", "more.csv", "more", "file more.csv: more.csv is none of the files"},
	}
}

func testZipTamperings(t *testing.T, b *bench) {
	b.within(t, func(b *bench) {
		whole := b.exported(t, Selection{}, -1)
		packed := func(files ...[2]string) []string {
			var out bytes.Buffer
			w := zip.NewWriter(&out)
			for _, file := range append([][2]string{{"record.json", whole}}, files...) {
				into, err := w.Create(file[0])
				require.NoError(t, err)
				_, err = into.Write([]byte(file[1]))
				require.NoError(t, err)
			}
			require.NoError(t, w.Close())
			archive, err := zip.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
			require.NoError(t, err)
			r, err := record.ReadExportZip(archive, record.ExportHold{})
			require.NoError(t, err)
			return placesOf(r)
		}
		require.Empty(t, packed([2]string{"record.csv", "a,b\n"}), "untouched")
		for _, row := range zipTamperings() {
			var files [][2]string
			if row.name == "more.csv" {
				files = append(files, [2]string{"record.csv", "a,b\n"})
			}
			if row.name != "" {
				files = append(files, [2]string{row.name, row.table})
			}
			finds(t, row.want, packed(files...), row.what)
		}
	})
}

// checkpointTamperings are alterations of a checkpoint somebody kept, and what the
// mill's database, an export and the mill's key say to it.
func checkpointTamperings() []struct {
	what string
	do   func(t *testing.T, b *bench, text string) string
	want [3]string
} {
	type row = struct {
		what string
		do   func(t *testing.T, b *bench, text string) string
		want [3]string
	}
	swap := func(old, new string) func(*testing.T, *bench, string) string {
		return func(_ *testing.T, _ *bench, text string) string { return strings.Replace(text, old, new, 1) }
	}
	other := func(b *bench) record.Head { h := b.paper.Head; h.Root[0] ^= 1; return h }
	return []row{
		{"its size", func(_ *testing.T, b *bench, text string) string {
			return strings.Replace(text, fmt.Sprintf("\n%d\n", b.paper.Size), fmt.Sprintf("\n%d\n", b.paper.Size-1), 1)
		}, [3]string{"signature altered", "it can't be used", "not signed"}},
		{"its root", func(_ *testing.T, b *bench, text string) string {
			return strings.Replace(text, b.paper.Root.String(), other(b).Root.String(), 1)
		}, [3]string{"signature altered", "it can't be used", "not signed"}},
		{"its signature", func(_ *testing.T, _ *bench, text string) string {
			return text[:len(text)-8] + "AAAA" + text[len(text)-4:]
		}, [3]string{"signature altered", "it can't be used", "not signed"}},
		{"the mill it is of", swap("00000000aa\n", "00000000ab\n"), [3]string{"another mill", "it can't be used", "not signed"}},
		{"signed by a stranger's key", func(t *testing.T, b *bench, _ string) string { return signedHead(t, b.paper.Head, signerOf(t)) }, [3]string{"another key", "q", "not signed"}},
		{"two of one size, both signed by the mill's key", func(t *testing.T, b *bench, _ string) string {
			signer, _, err := b.m.s.keys.signer(b.m.id, b.key)
			require.NoError(t, err)
			return signedHead(t, other(b), signer)
		}, [3]string{"other than the checkpoint", "{left}: The checkpoint to hold it against has another root", "r"}},
	}
}

func signerOf(t *testing.T) note.Signer {
	t.Helper()
	private, _ := strangersKey(t)
	signer, err := note.NewSigner(private)
	require.NoError(t, err)
	return signer
}

func checkpointHolders() []struct {
	name string
	look func(t *testing.T, b *bench, text string) []string
} {
	return []struct {
		name string
		look func(t *testing.T, b *bench, text string) []string
	}{
		{"the database", func(t *testing.T, b *bench, text string) (said []string) {
			all, err := compareMill(b.tx, b.m.id, record.FindCheckpoints(text))
			require.NoError(t, err)
			require.Len(t, all, 1)
			switch c := all[0]; {
			case c.OK():
			case c.Mill != c.Now.Mill:
				said = append(said, "another mill")
			case c.Signature == Altered:
				said = append(said, "signature altered")
			case c.Signature == UnknownKey:
				said = append(said, "another key")
			default:
				said = append(said, agreements()[c.Agreement])
			}
			return said
		}},
		{"an export", func(t *testing.T, b *bench, text string) []string {
			r := record.ReadExport(strings.NewReader(b.exported(t, Selection{}, -1)), record.ExportHold{Kept: record.FindCheckpoints(text)})
			if len(r.Unused) > 0 {
				require.True(t, r.OK(), "a checkpoint that is not what it was says nothing against the export")
				return []string{"it can't be used"}
			}
			return placesOf(r)
		}},
		{"the mill's key", func(t *testing.T, b *bench, text string) []string {
			found := record.FindCheckpoints(text)
			require.NotEmpty(t, found)
			signed, err := record.SignedBy(found[0].Text, b.key)
			require.NoError(t, err)
			if !signed {
				return []string{"not signed by it"}
			}
			return nil
		}},
	}
}

func testCheckpointTamperings(t *testing.T, b *bench) {
	b.within(t, func(b *bench) {
		for _, h := range checkpointHolders() {
			require.Empty(t, h.look(t, b, b.paper.Text), "untouched: %s", h.name)
		}
		for _, row := range checkpointTamperings() {
			text := row.do(t, b, b.paper.Text)
			require.NotEqual(t, b.paper.Text, text, row.what)
			for i, h := range checkpointHolders() {
				finds(t, b.named(row.want[i]), h.look(t, b, text), row.what, h.name)
			}
		}
	})
}

// A bit turned in what is kept of an entry, its values and its hashes is found by
// the database alone, wherever it is. By sample, a closer one with STILLSAW_LONG.
func testTurnedBytes(t *testing.T, b *bench) {
	step := 2003
	if os.Getenv("STILLSAW_LONG") != "" {
		step = 17
	}
	for _, of := range []struct{ table, key, column string }{
		{"entries", "seq", "leaf"}, {"entries", "seq", "blank_paths"}, {"entries", "seq", "blank_salts"}, {"openings", "seq || path", "salt"}, {"openings", "seq || path", "value"}, {"tree_hashes", "place", "hash"}, {"log_heads", "mill", "root"}, {"photos", "digest", "bytes"},
	} {
		var rows []struct {
			Key   string
			Bytes []byte
		}
		where := " WHERE mill = '" + string(b.m.id) + "'"
		require.NoError(t, b.m.s.reads.Raw("SELECT "+of.key+" AS key, "+of.column+" AS bytes FROM "+of.table+where+" ORDER BY 1").Scan(&rows).Error)
		passed := 0
		for _, row := range rows {
			for i := range row.Bytes {
				if passed++; passed%step != 1 {
					continue
				}
				b.within(t, func(b *bench) {
					spoilt := slices.Clone(row.Bytes)
					spoilt[i] ^= 1
					value := any(spoilt)
					if of.column == "value" || of.column == "blank_paths" {
						value = string(spoilt)
					}
					b.sql(t, "UPDATE "+of.table+" SET "+of.column+" = ?"+where+" AND "+of.key+" = ?", value, row.Key)
					report, err := verifyMill(b.tx, b.m.id)
					require.NoError(t, err)
					require.False(t, report.OK(), "%s.%s of %s, byte %d", of.table, of.column, row.Key, i)
				})
			}
		}
		require.Positive(t, passed, of.column)
	}
}
