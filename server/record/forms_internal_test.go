package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"stillsaw/procedures/plain"
)

// alikeBody has each sort of thing that entries of a form may have differ.
type alikeBody struct {
	By     string          `json:"by"`
	Until  time.Time       `json:"until"`
	Length float64         `json:"length"`
	Count  int             `json:"count"`
	Below  int             `json:"below"`
	Photo  string          `json:"photo"`
	Asked  json.RawMessage `json:"asked"`
	Note   Personal        `json:"note"`
	Told   Personal        `json:"told"`
	What   string          `json:"what"`
}

// alikeLog is a log of entries of two forms or so, with the hashes stored for it.
type alikeLog struct {
	rows   []Row
	hashes map[int64]tlog.Hash
	head   Head
}

func (k *alikeLog) ReadHashes(indexes []int64) (found []tlog.Hash, err error) {
	for _, index := range indexes {
		found = append(found, k.hashes[index])
	}
	return found, nil
}

// hash makes the hashes and the head those of the leaves as they are.
func (k *alikeLog) hash() {
	var f Frontier
	k.hashes = map[int64]tlog.Hash{}
	for _, row := range k.rows {
		for _, h := range f.Append(tlog.RecordHash(row.Leaf)) {
			k.hashes[h.Index] = h.Hash
		}
	}
	k.head = f.Head(alikeMill)
}

const alikeMill = "01970000-0000-7000-8000-0000000000aa"

func newAlikeLog(t require.TestingT) *alikeLog {
	k := &alikeLog{}
	at := time.Date(2026, 2, 27, 22, 4, 5, 678_000_000, time.UTC)
	for i := range 24 {
		at = at.Add(time.Hour)
		who := fmt.Sprintf("01970000-0000-7000-8000-0000000001%02x", i%3)
		sealed, err := Seal(Envelope{Mill: alikeMill, Seq: int64(i), ID: fmt.Sprintf("01970000-0000-7000-8000-%012x", i), Kind: "lift", Version: 1,
			Subject: fmt.Sprintf("01970000-0000-7000-8000-00000000020%d", i%5), Actor: who, At: at, Offset: -300, Happened: at.Add(-time.Minute), HappenedOffset: -300,
			Body: alikeBody{By: who, Until: at.Add(time.Second), Length: float64(i) + 0.25, Count: i, Below: -i - 1, Photo: fmt.Sprintf("%064x", i),
				Asked: json.RawMessage(fmt.Sprintf(`{"n":%d,"why":["%s"]}`, i, strings.Repeat("w", i))), Note: Personal(fmt.Sprint("note ", i)), What: []string{"log", "cant"}[i/20]}}, strings.NewReader(strings.Repeat("salt", 30)+fmt.Sprintf("%032d", i)))
		require.NoError(t, err)
		p, err := parse(sealed.Leaf)
		require.NoError(t, err)
		slices.SortFunc(sealed.Openings, func(a, b Opening) int { return strings.Compare(a.Path, b.Path) })
		k.rows = append(k.rows, Row{Seq: int64(i), Leaf: sealed.Leaf, Columns: p.Columns(), Openings: sealed.Openings})
	}
	k.hash()
	return k
}

// report is what verifying the log says with forms or without, with how many entries
// were looked at by themselves.
func (k *alikeLog) report(with *forms) (Report, int) {
	each := 0
	look := func(row Row, e Entry) []Fault {
		each++
		var b alikeBody
		if err := Decode(e, &b); err != nil {
			return []Fault{{Change: LeafUnreadable, What: plain.Say("%s", err.Error())}}
		}
		return nil
	}
	checks := Checks{Each: look, Opaque: map[string][]string{"lift": {"asked"}},
		Learn: func(e Entry, _ []string) any {
			var b alikeBody
			if Decode(e, &b) != nil {
				return nil
			}
			return &b
		},
		Alike: func(Row, any, [][]byte) bool { return true }}
	var rows iter.Seq2[Row, error] = func(yield func(Row, error) bool) {
		for _, row := range k.rows {
			if !yield(row, nil) {
				return
			}
		}
	}
	report := verify(k.head, rows, k, checks, with)
	return report, each
}

func (k *alikeLog) withForms() (Report, int) {
	return k.report(newForms(map[string][]string{"lift": {"asked"}}))
}

func TestEntriesOfAFormAreLookedAtTogether(t *testing.T) {
	k := newAlikeLog(t)
	report, each := k.withForms()
	require.True(t, report.OK(), report.Faults)
	require.EqualValues(t, 48, report.FieldsOpen)
	require.Less(t, each, 12, "three people, two things: what differs otherwise has the same form")
	plain, all := k.report(nil)
	require.Equal(t, plain, report)
	require.Equal(t, 24, all)
}

// Whatever is altered, with hashes made to fit or not, verifying by forms says what
// taking each leaf apart says.
func TestFormsHideNothing(t *testing.T) {
	texts := []string{"01970000-0000-7000-8000-0000000001", "01970000-0000-6000-8000-0000000001", "2026-02-2", "2026-02-30", `"2026-03-01T00:61:00Z"`, ".25", ".250", "0.0", "-0", "-00", `"count":1`, `"count":1.5`, `"count":01`,
		"sha256:", "SHA256:", "T2", "T3", "Z", "+00:00", ".678", ".6780", `"seq":`, `"seq":0`, `"personal":["/note","/told"]`, `"personal":["/told"]`, `{"n":`, `{ "n":`, "www", "w\u0077w", "\x01\x00", "\x01", "\x03\x03", "log", "lag", `,"format":"`, `,"kind":"lift"`,
		`,"kind":"left"`, `"sealed":`, `"asked":{`, `"asked":{"a":1,`, `"asked":{"z":1,`, "}", "{", "\"", "\\", "e1", "8", "9", "f", "F", "g"}
	rapid.Check(t, func(t *rapid.T) {
		k := newAlikeLog(t)
		for range rapid.IntRange(1, 3).Draw(t, "alterations") {
			row := &k.rows[rapid.IntRange(0, len(k.rows)-1).Draw(t, "row")]
			switch rapid.IntRange(0, 7).Draw(t, "what") {
			case 0, 1, 2: // one text for another
				from, to := rapid.SampledFrom(texts).Draw(t, "from"), rapid.SampledFrom(texts).Draw(t, "to")
				if n := bytes.Count(row.Leaf, []byte(from)); n > 0 {
					nth := rapid.IntRange(1, n).Draw(t, "nth")
					parts := bytes.SplitN(row.Leaf, []byte(from), nth+1)
					row.Leaf = slices.Concat(bytes.Join(parts[:nth], []byte(from)), []byte(to), parts[nth])
				}
			case 3, 4: // any byte
				row.Leaf = bytes.Clone(row.Leaf)
				row.Leaf[rapid.IntRange(0, len(row.Leaf)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "byte")
			case 5:
				other := k.rows[rapid.IntRange(0, len(k.rows)-1).Draw(t, "other")]
				row.Leaf = other.Leaf
			case 6:
				row.Openings = slices.Clone(row.Openings)
				if len(row.Openings) == 0 {
					continue
				}
				o := &row.Openings[rapid.IntRange(0, len(row.Openings)-1).Draw(t, "opening")]
				switch rapid.IntRange(0, 4).Draw(t, "how") {
				case 0:
					o.Value += "."
				case 1:
					o.Salt = o.Salt[1:]
				case 2:
					o.Path = rapid.SampledFrom([]string{"/note", "/told", "/what"}).Draw(t, "path")
				case 3:
					row.Openings = row.Openings[1:]
				case 4:
					row.Openings = append(row.Openings, *o)
				}
			case 7:
				c := &row.Columns
				switch rapid.IntRange(0, 7).Draw(t, "column") {
				case 0:
					c.ID = k.rows[0].Columns.ID
				case 1:
					c.Kind = "lock"
				case 2:
					c.Subject = c.Actor
				case 3:
					c.At = c.At.Add(time.Millisecond)
				case 4:
					c.Happened = time.Time{}
				case 5:
					c.Day = "2026-03-01"
				case 6:
					c.Offset++
				case 7:
					row.Seq++
				}
			}
		}
		if rapid.Bool().Draw(t, "forged") {
			k.hash()
		}
		want, _ := k.report(nil)
		got, _ := k.withForms()
		require.Equal(t, want, got)
	})
}

func TestMomentsAreReadAsGoReadsThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`(19|20|21)\d\d-[01]\d-[0-3]\d[T ]\d\d:[0-6]\d:[0-6]\d(\.\d{1,9})?(Z|[+-][012]\d:[0-6]\d)`).Draw(t, "text")
		ms, _, ok := moment([]byte(text))
		if !ok {
			return
		}
		want, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		require.Equal(t, want.UnixMilli(), ms)
	})
	for at := time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2120; at = at.Add(37 * time.Hour) {
		ms, _, ok := moment([]byte(at.Format(timeLayout)))
		require.True(t, ok)
		require.Equal(t, at.UnixMilli(), ms)
	}
}
