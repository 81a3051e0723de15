package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/server/record"
)

// exportTampering is an alteration of an export of everything, or what was made in
// its place, and what must be found of it (see tampering).
type exportTampering struct {
	what string
	do   func(t *testing.T, b *bench, whole string) string
	want [4]string
}

// exportHolders read an altered export, each with what it has beside it.
func exportHolders() []struct {
	name string
	look func(b *bench, text string) []string
} {
	return []struct {
		name string
		look func(b *bench, text string) []string
	}{
		{"the export", func(b *bench, text string) []string { b.readAlone([]byte(text)); return b.read }},
		{"and the key", func(b *bench, text string) []string { b.readAlone([]byte(text)); return b.readKey }},
		{"and a checkpoint", func(b *bench, text string) []string {
			return placesOf(record.ReadExport(strings.NewReader(text), record.ExportHold{Heads: []record.Head{b.paper.Head}}))
		}},
		{"and an export from before", func(b *bench, text string) []string { return readTogether(b.export, []byte(text)) }},
	}
}

// lineOf is the line of an entry in an export.
func lineOf(t *testing.T, whole string, seq int64) string {
	t.Helper()
	for line := range strings.Lines(whole) {
		if strings.HasPrefix(line, `{"hash":`) && strings.HasSuffix(strings.TrimRight(line, ",\n"), fmt.Sprintf(`"seq":%d}`, seq)) {
			return line
		}
	}
	require.Fail(t, "no such entry", seq)
	return ""
}

// memberOf is the line of a member of an export.
func memberOf(t *testing.T, whole, part string) string {
	t.Helper()
	for line := range strings.Lines(whole) {
		if strings.HasPrefix(line, `"`+part+`":`) {
			return line
		}
	}
	require.Fail(t, "no such member", part)
	return ""
}

func exportTamperings() []struct {
	who  string
	rows []exportTampering
} {
	inEntry := func(seq func(b *bench) int64, old, new string) func(*testing.T, *bench, string) string {
		return func(t *testing.T, b *bench, whole string) string {
			line := lineOf(t, whole, seq(b))
			pattern := regexp.MustCompile(old)
			return strings.Replace(whole, line, pattern.ReplaceAllString(line, new), 1)
		}
	}
	signed := func(b *bench) int64 { return b.signed }
	noted := func(b *bench) int64 { return b.photographed }
	swap := func(old, new string) func(*testing.T, *bench, string) string {
		return func(_ *testing.T, _ *bench, whole string) string { return strings.Replace(whole, old, new, 1) }
	}
	part := func(name, old, new string) func(*testing.T, *bench, string) string {
		return func(t *testing.T, _ *bench, whole string) string {
			line := memberOf(t, whole, name)
			return strings.Replace(whole, line, strings.Replace(line, old, new, 1), 1)
		}
	}
	of := func(name string) func(*testing.T, *bench, string) string { // the member of another export in its place
		return func(t *testing.T, b *bench, whole string) string {
			return strings.Replace(whole, memberOf(t, whole, name), memberOf(t, string(b.export), name), 1)
		}
	}
	all := func(want string) [4]string { return [4]string{want, "=", "=", "="} }
	none := strings.Repeat("A", 43) + "="
	return []struct {
		who  string
		rows []exportTampering
	}{
		{"by anybody with the file in hand", []exportTampering{
			{"a word of an entry", inEntry(signed, `"number\\":0.25`, `"number\":0.15`), all("{signed} leaf")},
			{"a personal value shown", inEntry(noted, "belt squeals", "belt is fine"), all("{photographed} opening /what")},
			{"a personal value taken out", inEntry(noted, `,?\{"path":"/what"[^}]*\}`, ""), all("counts")},
			{"a salt", inEntry(noted, `"salt":"[^"]*"`, `"salt":"`+none+`"`), all("{photographed} opening ")},
			{"a hash of a proof", inEntry(signed, `"proof":\["[^"]*"`, `"proof":["`+none+`"`), all("{signed} proof")},
			{"the hash noted beside an entry", inEntry(signed, `"hash":"[^"]*"`, `"hash":"`+none+`"`), all("{signed} hash")},
			{"the number of an entry", func(t *testing.T, b *bench, whole string) string {
				return strings.Replace(whole, fmt.Sprintf(`"seq":%d}`, b.signed), fmt.Sprintf(`"seq":%d}`, b.left), 1)
			}, all("{left} seq")},
			{"an entry removed", inEntry(signed, `(?s).*`, ""), all("counts")},
			{"two entries swapped", func(t *testing.T, b *bench, whole string) string {
				first, second := lineOf(t, whole, b.signed), lineOf(t, whole, b.left)
				return strings.Replace(whole, first+second, second+first, 1)
			}, all("{signed}: ")},
			{"an entry doubled", func(t *testing.T, b *bench, whole string) string {
				line := lineOf(t, whole, b.signed)
				return strings.Replace(whole, line, line+line, 1)
			}, all("{signed}: ")},
			{"an entry of another export in its place", func(t *testing.T, b *bench, whole string) string {
				return strings.Replace(whole, lineOf(t, whole, b.signed), lineOf(t, string(b.export), b.signed), 1)
			}, all("{signed} proof")},
			{"the checkpoint of another export", of("checkpoint"), all("entry 0 proof")},
			{"the checkpoint's size", func(_ *testing.T, b *bench, whole string) string {
				return strings.Replace(whole, fmt.Sprintf(`\n%d\n`, b.end.Size), fmt.Sprintf(`\n%d\n`, b.end.Size+1), 1)
			}, all("checkpoint")},
			{"a stranger's key named beside the mill's", func(t *testing.T, _ *bench, whole string) string {
				_, verifier := strangersKey(t)
				return regexp.MustCompile(`"until":0,"verifier":"[^"]*"`).ReplaceAllString(whole, `"until":0,"verifier":"`+verifier+`"`)
			}, all("checkpoint")},
			{"the seal of another export", of("seal"), all("checkpoint: ")},
			{"the mill's name", part("mill", "Fernhollow", "Fernhallow"), all("mill")},
			{"the words of what was asked for", part("selection", "as asked", "all of it"), all("selection")},
			{"what is said to be kept back", part("withheld", "nothing", "names"), all("withheld")},
			{"who made it", part("made", "Sam", "Ben"), all("made")},
			{"a picture", swap("YSBwaWN0dXJlIG9m", "YSBwYWludGluZyBv"), all("photo ")},
			{"a picture taken out, as if it were not kept", func(_ *testing.T, _ *bench, whole string) string {
				return regexp.MustCompile(`\{"bytes":"[^"]+","digest":"([^"]*)","left":"","type":"[^"]*"\}`).ReplaceAllString(whole, `{"bytes":"","digest":"$1","left":"not kept","type":""}`)
			}, all("photo ")},
			{"the counts", part("counts", `"photos":1`, `"photos":0`), all("counts")},
			{"the digest of the table beside it", part("files", "sha256:", "sha256:0"), all("files")},
			{"the end cut off", func(_ *testing.T, _ *bench, whole string) string { return whole[:len(whole)*2/3] }, all("end")},
			{"something added after the end", func(_ *testing.T, _ *bench, whole string) string { return whole + "{}\n" }, all("end")},
			{"indented anew by another program", func(t *testing.T, _ *bench, whole string) string {
				var out bytes.Buffer
				require.NoError(t, json.Indent(&out, []byte(whole), "", "  "))
				return out.String()
			}, all("line 1")},
			{"ends of lines changed on the way", func(_ *testing.T, _ *bench, whole string) string { return strings.ReplaceAll(whole, "\n", "\r\n") }, all("line 1")},
		}},
		{"by a stranger with a key of his own in the mill's name", []exportTampering{
			{"the true entries sealed with that key", func(t *testing.T, b *bench, _ string) string {
				private, verifier := strangersKey(t)
				b.signWith(t, private)
				b.sql(t, "UPDATE log_keys SET verifier = ? WHERE mill = ? AND until = 0", verifier, b.m.id)
				return b.exported(t, Selection{}, -1)
			}, all("keys: ")},
			{"an export wholly made up", func(t *testing.T, b *bench, _ string) string {
				private, verifier := strangersKey(t)
				b.signWith(t, private)
				entries := b.copied()
				entries[b.rotated] = entries[b.rotated].said(t, b.key, verifier)
				entries[b.signed] = entries[b.signed].said(t, `"number":0.25`, `"number":0.15`)
				b.forge(t, entries)
				return b.exported(t, Selection{}, -1)
			}, [4]string{"p", "key: ", "{left}: The checkpoint to hold it against has another root", "{signed}: Entry {signed#} is another one"}},
		}},
		{"by whoever holds the mill's key", []exportTampering{
			{"an entry left out of an export of everything", func(t *testing.T, b *bench, _ string) string { return b.exported(t, Selection{}, b.signed) }, all("{signed}: The export was asked for everything")},
			{"an entry left out of an export of one machine", func(t *testing.T, b *bench, _ string) string {
				selection := Selection{Equipment: "dust-collection"}
				b.export = []byte(b.exported(t, selection, -1))
				return b.exported(t, selection, b.photographed)
			}, [4]string{"o", "o", "o", "{photographed}: Entry {photographed#} is not here"}},
			{"an entry changed, in a record made whole again", func(t *testing.T, b *bench, _ string) string {
				b.rewritten(t, b.signed)
				return b.exported(t, Selection{}, -1)
			}, [4]string{"f", "f", "{left}: The checkpoint to hold it against has another root", "{signed}: Entry {signed#} is another one"}},
			{"a word of an entry, sealed anew without a record to fit", func(t *testing.T, b *bench, _ string) string {
				b.leaf(t, b.signed, `"number":0.25`, `"number":0.15`)
				return b.exported(t, Selection{}, -1)
			}, all("{signed} proof")},
			{"the mill's name and the words of what was asked for, sealed anew", func(t *testing.T, b *bench, _ string) string {
				b.header = func(h *record.ExportHeader) {
					h.Mill.Name, h.Selection.Words = "Alderbrook", "all that was wrong in 2026"
				}
				return b.exported(t, Selection{}, -1)
			}, [4]string{"s", "s", "s", "s"}},
			{"a note left out, and said that nothing is kept back, sealed anew", func(t *testing.T, b *bench, _ string) string {
				b.sql(t, "DELETE FROM openings WHERE mill = ? AND seq = ? AND path = '/what'", b.m.id, b.photographed)
				return b.exported(t, Selection{}, -1)
			}, all("{photographed} opening /what")},
			{"an export of the record as it was once, sealed today", func(t *testing.T, b *bench, _ string) string {
				b.olderCopy(t, b.paper.Size)
				return b.exported(t, Selection{}, -1)
			}, [4]string{"d", "d", "d", "d"}},
		}},
	}
}

// exported is an export of the database as it stands, without the entry at left.
func (b *bench) exported(t *testing.T, selection Selection, left int64) string {
	t.Helper()
	text, err := b.exportOfSome(selection, []record.ExportFile{tableOf("a,b\n")}, func(e Exported) bool { return e.Row.Seq != left })
	require.NoError(t, err)
	return string(text)
}

func tableOf(text string) record.ExportFile {
	file, err := record.GivenFile("record.csv", strings.NewReader(text))
	if err != nil {
		panic(err) // a string can be read
	}
	return file
}

// within runs look in a transaction that is taken back.
func (b *bench) within(t *testing.T, look func(b *bench)) {
	t.Helper()
	require.ErrorIs(t, b.m.s.writes.Transaction(func(db *gorm.DB) error {
		one := *b
		one.tx = &Tx{db: db}
		look(&one)
		return gorm.ErrInvalidTransaction
	}), gorm.ErrInvalidTransaction)
}

func testExportTamperings(t *testing.T, b *bench) {
	b.within(t, func(b *bench) {
		whole := b.exported(t, Selection{}, -1)
		for _, h := range exportHolders() {
			require.Empty(t, h.look(b, whole), "untouched: %s", h.name)
		}
	})
	for _, group := range exportTamperings() {
		for _, row := range group.rows {
			b.within(t, func(b *bench) {
				whole := b.exported(t, Selection{}, -1)
				text := row.do(t, b, whole)
				require.NotEqual(t, whole, text, row.what)
				for i, h := range exportHolders() {
					finds(t, b.named(row.wanted(i)), h.look(b, text), row.what, h.name)
				}
			})
		}
	}
}

func (row exportTampering) wanted(i int) string {
	for row.want[i] == "=" {
		i--
	}
	return row.want[i]
}
