package record_test

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/server/record"
)

// openly is inspected with ordinary strings, to compare with what encoding/json writes.
type openly struct {
	place
	List     string            `json:"list"`
	By       string            `json:"by"`
	Answers  []openAnswer      `json:"answers"`
	Worst    *openAnswer       `json:"worst,omitempty"`
	Crew     map[string]string `json:"crew,omitempty"`
	Remarks  [2]string         `json:"remarks"`
	Free     any               `json:"free"`
	Raw      json.RawMessage   `json:"raw,omitempty"`
	Reading  float64           `json:"reading"`
	Count    int64             `json:"count,omitzero"`
	Until    time.Time         `json:"until,omitzero"`
	Thumb    []byte            `json:"thumb"`
	Unsigned uint16
}

type openAnswer struct {
	Item   string `json:"item"`
	Result string `json:"result"`
	Note   string `json:"note"`
	Seen   string `json:"seen"`
}

func drawAnswer(t *rapid.T) (answer, openAnswer) {
	c := openAnswer{rapid.String().Draw(t, "item"), rapid.String().Draw(t, "result"), rapid.String().Draw(t, "note"), rapid.String().Draw(t, "seen")}
	seen := record.Personal(c.Seen)
	return answer{Item: c.Item, Result: c.Result, Note: record.Personal(c.Note), Seen: &seen}, c
}

// drawBody makes a body and the same one with every Personal a string.
func drawBody(t *rapid.T) (inspected, openly) {
	free := rapid.OneOf(
		rapid.Just(any(nil)), rapid.String().AsAny(), rapid.Bool().AsAny(),
		rapid.MapOf(rapid.String(), rapid.SliceOf(rapid.String())).AsAny(),
	).Draw(t, "free")
	c := openly{
		place: place{rapid.String().Draw(t, "station")}, List: rapid.String().Draw(t, "list"), By: rapid.String().Draw(t, "by"),
		Crew:    rapid.MapOf(rapid.StringMatching(`[a-z/~ "{}]*`), rapid.String()).Draw(t, "crew"),
		Remarks: [2]string{rapid.String().Draw(t, "first"), rapid.String().Draw(t, "second")},
		Free:    free,
		Raw:     rapid.SampledFrom([]json.RawMessage{nil, []byte(`{"sealed":"sha256:"}`), []byte(`[1,{"by":{}}]`)}).Draw(t, "raw"),
		Reading: rapid.Float64().Draw(t, "reading"),
		Count:   rapid.Int64Range(-1<<53+1, 1<<53-1).Draw(t, "count"),
		Until:   rapid.SampledFrom([]time.Time{{}, time.Date(2026, 11, 1, 1, 30, 0, 1, time.FixedZone("", -5*3600))}).Draw(t, "until"),
		Thumb:   rapid.SliceOf(rapid.Byte()).Draw(t, "thumb"), Unsigned: rapid.Uint16().Draw(t, "unsigned"),
	}
	if math.IsInf(c.Reading, 0) || math.IsNaN(c.Reading) {
		c.Reading = 0
	}
	b := inspected{
		place: c.place, List: c.List, By: record.Personal(c.By), Crew: map[string]record.Personal{},
		Remarks: [2]record.Personal{record.Personal(c.Remarks[0]), record.Personal(c.Remarks[1])},
		Free:    c.Free, Raw: c.Raw, Reading: c.Reading, Count: c.Count, Until: c.Until, Thumb: c.Thumb, Unsigned: c.Unsigned,
	}
	for name, who := range c.Crew {
		b.Crew[name] = record.Personal(who)
	}
	for range rapid.IntRange(0, 4).Draw(t, "answers") {
		a, plain := drawAnswer(t)
		b.Answers, c.Answers = append(b.Answers, a), append(c.Answers, plain)
	}
	if rapid.Bool().Draw(t, "worst") {
		a, plain := drawAnswer(t)
		b.Worst, c.Worst = &a, &plain
	}
	return b, c
}

// The opened body is exactly what encoding/json writes of the same struct, and
// decoding it and sealing it again with the same salts gives the same leaf.
func TestWhatWasSealedIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		body, plain := drawBody(t)
		e := envelope(0, body)
		e.Seq = rapid.Int64Range(0, 1<<53-1).Draw(t, "seq")
		e.At = time.UnixMilli(rapid.Int64Range(1, 1<<45).Draw(t, "at")).UTC()
		if rapid.Bool().Draw(t, "in time") {
			e.Happened, e.HappenedOffset = time.Time{}, 0
		}
		sealed, err := record.Seal(e, &counting{})
		require.NoError(t, err)
		entry, err := record.Read(sealed.Leaf, sealed.Openings)
		require.NoError(t, err)
		require.Empty(t, entry.Withheld)
		got := entry.Envelope
		got.Body = body
		require.Equal(t, e, got)
		want, err := json.Marshal(plain)
		require.NoError(t, err)
		require.JSONEq(t, string(want), string(entry.Body))

		var again inspected
		require.NoError(t, record.Decode(entry, &again))
		e.Body = &again
		resealed, err := record.Seal(e, &counting{})
		require.NoError(t, err)
		require.Equal(t, string(sealed.Leaf), string(resealed.Leaf))
		require.Equal(t, sealed.Openings, resealed.Openings)
	})
}

// Any subset of openings can be left out: those fields are "", listed, and
// everything else is as it was.
func TestAnyFieldCanBeWithheld(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		body, _ := drawBody(t)
		sealed, err := record.Seal(envelope(0, body), &counting{})
		require.NoError(t, err)
		var shown []record.Opening
		var hidden []string
		for _, o := range sealed.Openings {
			if rapid.Bool().Draw(t, o.Path) {
				shown = append(shown, o)
			} else {
				hidden = append(hidden, o.Path)
			}
		}
		slices.Sort(hidden)
		entry, err := record.Read(sealed.Leaf, shown)
		require.NoError(t, err)
		require.Equal(t, hidden, entry.Withheld)
		blank := slices.Clone(sealed.Openings)
		for i := range blank {
			if slices.Contains(hidden, blank[i].Path) {
				blank[i].Value = ""
			}
		}
		var got inspected
		require.NoError(t, record.Decode(entry, &got))
		resealed, err := record.Seal(envelope(0, got), &counting{})
		require.NoError(t, err)
		require.Equal(t, blank, resealed.Openings)
	})
}

func TestAnOpeningThatDoesNotFitIsRefusedByItsPath(t *testing.T) {
	sealed := seal(t, envelope(0, someBody()))
	for name, c := range map[string]struct {
		spoil func(o []record.Opening) []record.Opening
		path  string
		want  record.Change
	}{
		"value": {func(o []record.Opening) []record.Opening { o[3].Value += "."; return o }, "/answers/1/note", record.OpeningDiffers},
		"salt":  {func(o []record.Opening) []record.Opening { o[0].Salt[0] ^= 1; return o }, "/by", record.OpeningDiffers},
		"byte moved from salt to value": {func(o []record.Opening) []record.Opening {
			o[0].Value, o[0].Salt = string(o[0].Salt[31:])+o[0].Value, o[0].Salt[:31]
			return o
		}, "/by", record.OpeningDiffers},
		"exchanged": {func(o []record.Opening) []record.Opening {
			o[0].Path, o[7].Path = o[7].Path, o[0].Path
			return o
		}, "/remarks/0", record.OpeningDiffers},
		"stray": {func(o []record.Opening) []record.Opening { o[0].Path = "/list"; return o }, "/list", record.OpeningStray},
		"twice": {func(o []record.Opening) []record.Opening { return append(o, o[0]) }, "/by", record.OpeningTwice},
	} {
		openings := slices.Clone(sealed.Openings)
		for i := range openings {
			openings[i].Salt = bytes.Clone(openings[i].Salt)
		}
		_, err := record.Read(sealed.Leaf, c.spoil(openings))
		var wrong *record.OpeningError
		require.ErrorAs(t, err, &wrong, name)
		require.Equal(t, c.path, wrong.Path, name)
		require.Equal(t, c.want, wrong.Change, name)
		require.ErrorContains(t, err, c.path)
	}
}

// One entry has one leaf: nothing that says the same in other bytes is read.
func TestOnlyTheBytesSealWritesAreALeaf(t *testing.T) {
	leaf := string(seal(t, envelope(41, answer{Item: "dogs", Note: "x"})).Leaf)
	_, err := record.Read([]byte(leaf), nil)
	require.NoError(t, err)
	for _, c := range [][2]string{
		{`{"actor"`, ` {"actor"`},
		{`"seq":41`, `"seq": 41`},
		{`"seq":41`, `"seq":41.0`},
		{`"seq":41`, `"seq":4.1e1`},
		{`"seq":41`, `"Seq":41`},
		{`"seq":41`, `"seq":41,"seq":41`},
		{`"seq":41`, `"seq":40,"seq":41`},
		{`"seq":41`, `"seq":null`},
		{`"seq":41`, `"seq":-1`},
		{`"seq":41`, `"extra":1,"seq":41`},
		{`"version":1`, `"version":0`},
		{`"subject":"carriage-1",`, ``},
		{`"item":"dogs"`, `"item":"\u0064ogs"`},
		{`"item":"dogs"`, `"item":"dogs","item":"dogs"`},
		{`stillsaw-entry-1`, `stillsaw-entry-2`},
		{`.678Z"`, `.6780Z"`},
		{`.678Z"`, `.678+00:00"`},
		{`"happenedOffset":-300,`, ``},
		{`"personal":["/note","/seen"]`, `"personal":["/note"],"personal":["/seen"]`},
		{`"personal":["/note","/seen"]`, `"personal":["/seen","/note"]`},
		{`"personal":["/note","/seen"]`, `"personal":["/note","/note","/seen"]`},
		{`"personal":["/note","/seen"]`, `"personal":["/item","/note","/seen"]`},
		{`"personal":["/note","/seen"]`, `"personal":["/nothing"]`},
		{`"personal":["/note","/seen"]`, `"personal":[""]`},
		{`"personal":["/note","/seen"]`, `"personal":["note"]`},
		{`"personal":["/note","/seen"]`, `"personal":["/note/sealed"]`},
		{`"personal":["/note","/seen"]`, `"personal":[]`},
		{`"sealed":"sha256:`, `"sealed":"SHA256:`},
		{`"sealed":"sha256:`, `"other":"sha256:`},
		{`"note":{`, `"note":{"more":1,`},
		{`"sealed":"sha256:`, `"sealed":"sha256:0`},
	} {
		altered := strings.Replace(leaf, c[0], c[1], 1)
		require.NotEqual(t, leaf, altered, c[0])
		_, err := record.Read([]byte(altered), nil)
		require.Error(t, err, c[1])
	}
	for _, bad := range []string{"", "null", "{}", "[]", leaf + "\n", leaf + leaf, leaf[:len(leaf)-1]} {
		_, err := record.Read([]byte(bad), nil)
		require.Error(t, err)
	}
}

// A pointer has one spelling, or one field could be listed twice.
func TestAPointerHasOneSpelling(t *testing.T) {
	leaf := string(seal(t, envelope(0, map[string]record.Personal{"~2": "x"})).Leaf)
	require.Contains(t, leaf, `"personal":["/~02"]`)
	_, err := record.Read([]byte(strings.Replace(leaf, "/~02", "/~2", 1)), nil)
	require.ErrorContains(t, err, "/~2")
}

// Openings travel as text: a value must be the same after a database or JSON.
func TestAnOpenedValueIsUTF8(t *testing.T) {
	sealed := seal(t, envelope(0, answer{Item: "\xffx", Note: "a\xff\xfeb"}))
	require.Equal(t, "a\uFFFD\uFFFDb", sealed.Openings[0].Value)
	entry, err := record.Read(sealed.Leaf, sealed.Openings)
	require.NoError(t, err)
	var got answer
	require.NoError(t, record.Decode(entry, &got))
	require.Equal(t, record.Personal("a\uFFFD\uFFFDb"), got.Note)
	require.Equal(t, "\uFFFDx", got.Item)
}

func TestDecodeRefusesTheWrongStruct(t *testing.T) {
	sealed := seal(t, envelope(0, answer{Item: "dogs"}))
	entry, err := record.Read(sealed.Leaf, sealed.Openings)
	require.NoError(t, err)
	var wrong place
	require.ErrorContains(t, record.Decode(entry, &wrong), "inspection entry")
}

func TestAnOpenedEntryIsNotSealedAgainInTheClear(t *testing.T) {
	sealed := seal(t, envelope(0, answer{Note: "private"}))
	entry, err := record.Read(sealed.Leaf, sealed.Openings)
	require.NoError(t, err)
	_, err = record.Seal(entry.Envelope, &counting{})
	require.Error(t, err)
	again := entry.Envelope
	again.Body = entry.Body
	_, err = record.Seal(again, &counting{})
	require.Error(t, err)
}

// Whatever is read is either refused or is exactly one leaf.
func FuzzReadNeverPanics(f *testing.F) {
	sealed := seal(f, envelope(41, someBody()))
	f.Add(sealed.Leaf, "/by", sealed.Openings[0].Salt, sealed.Openings[0].Value)
	f.Add(seal(f, envelope(0, struct{}{})).Leaf, "/x", []byte{}, "")
	f.Add([]byte(`{"body":{},"format":"stillsaw-entry-1","personal":["/a/0"]}`), "", []byte(nil), "\xff")
	f.Fuzz(func(t *testing.T, leaf []byte, path string, salt []byte, value string) {
		if entry, err := record.Read(leaf, nil); err == nil {
			require.Equal(t, byte('{'), entry.Body[0])
			require.NotEmpty(t, entry.ID)
		}
		_, _ = record.Read(leaf, []record.Opening{{Path: path, Salt: salt, Value: value}})
	})
}
