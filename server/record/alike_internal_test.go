package record

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type spokenState int

func (s spokenState) MarshalText() ([]byte, error) {
	return []byte([]string{"open", "<shut> & \"bolted\""}[s&1]), nil
}

type drawnRoot struct {
	drawnInner
	*DrawnOuter
	Zulu    string              `json:"zulu"`
	Alpha   Personal            `json:"alpha,omitempty"`
	Note    Personal            `json:"note"` // hides the one of drawnInner
	Own     *Personal           `json:"own"`
	List    []drawnInner        `json:"list"`
	Two     [2]*drawnInner      `json:"two,omitzero"`
	Crew    map[string]Personal `json:"crew,omitempty"`
	Free    any                 `json:"free"`
	Raw     json.RawMessage     `json:"raw,omitempty"`
	Digits  json.Number         `json:"digits,omitempty"`
	Thumb   []byte              `json:"thumb"`
	State   spokenState         `json:"state"`
	When    *time.Time          `json:"when,omitzero"`
	Numbers map[int]float32     `json:"numbers"`
	Small   uint8               `json:"small,omitempty"`
	Until   time.Time           `json:"until,omitzero"`
	Plain   map[string]string   `json:"plain,omitzero,omitempty"`
	Hidden  string              `json:"-"`
	Slash   Personal            `json:"a/b~c"`
	Emoji   Personal            `json:"\U0001f600"` // before the next in UTF-16, after it in UTF-8
	Hebrew  Personal            `json:"\ufb33"`
	private string
}

type drawnInner struct {
	Note   string    `json:"note"`
	Told   Personal  `json:"told"`
	Number *float64  `json:"number"`
	At     time.Time `json:"at"`
	Whole  int64     `json:"whole,omitzero"`
	Yes    bool      `json:"Yes,omitempty"`
	After  Personal  `json:"after"`
}

type DrawnOuter struct{ Outer uint16 }

// Whatever is sealed, the leaf, its openings with their salts, and its hash are
// those that were made at first, and what was refused is refused.
func TestLeavesAreThoseOfTheFirstWriterByteForByte(t *testing.T) {
	var kept, refused int
	rapid.Check(t, func(t *rapid.T) {
		e := drawnEnvelope(t)
		seed := [32]byte{byte(rapid.Uint8().Draw(t, "seed"))}
		want, first := firstSeal(e, rand.NewChaCha8(seed))
		got, err := Seal(e, rand.NewChaCha8(seed))
		if first != nil {
			refused++
			require.Error(t, err, "refused at first: %v", first)
			return
		}
		kept++
		require.NoError(t, err)
		require.Equal(t, string(want.Leaf), string(got.Leaf))
		require.Equal(t, want.Openings, got.Openings)
		require.Equal(t, want.Hash, got.Hash)
		p, err := parse(got.Leaf)
		require.NoError(t, err)
		require.Len(t, p.sealed, len(got.Openings))
	})
	require.Greater(t, kept, map[bool]int{true: 5, false: 20}[testing.Short()]) // fewer are drawn in short
	require.NotZero(t, refused)
}

func drawnEnvelope(t *rapid.T) Envelope {
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "\"<&>\\\u2028\x7f\x00\n\t", "Ä. Öre", "\xff\xfeab", "😀", "\ufb33", "a/b~c"}))
	millis := rapid.Int64Range(-62_135_596_799_999+2*86_400_000, 253_402_300_799_000-200*86_400_000)
	at := func(name string) time.Time {
		ms := millis.Draw(t, name)
		when := time.UnixMilli(ms).Add(time.Duration(rapid.Int64Range(0, 999_999).Draw(t, "nanos"))).UTC()
		switch rapid.IntRange(0, 7).Draw(t, "zone") {
		case 0:
			return time.Time{}
		case 1, 2:
			return when.In(time.FixedZone("", 60*rapid.IntRange(-18*60, 18*60).Draw(t, "east")))
		}
		return when
	}
	number := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 0.25, 1e21, 1e-6, 9.999e-7, 1e20, 5e-324, 1 << 53}))
	inner := func() (in drawnInner) {
		in = drawnInner{Note: text.Draw(t, "plain"), Told: Personal(text.Draw(t, "told")), At: at("at"), Whole: rapid.Int64Range(-maxExact, maxExact).Draw(t, "whole"), Yes: rapid.Bool().Draw(t, "yes"), After: Personal(text.Draw(t, "after"))}
		if rapid.Bool().Draw(t, "numbered") {
			f := number.Draw(t, "number")
			in.Number = &f
		}
		return in
	}
	odd := rapid.IntRange(0, 9).Draw(t, "odd") // at most one thing in it can't be kept, or nearly none would
	seldom := func(name string) bool { return rapid.IntRange(0, 2).Draw(t, name) == 0 }
	root := drawnRoot{drawnInner: inner(), DrawnOuter: &DrawnOuter{rapid.Uint16().Draw(t, "outer")}, Zulu: text.Draw(t, "zulu"), Alpha: Personal(text.Draw(t, "alpha")), Note: Personal(text.Draw(t, "note")),
		State: spokenState(rapid.IntRange(0, 1).Draw(t, "state")), Small: rapid.Uint8().Draw(t, "small"), Until: at("until"), Hidden: "not kept", Slash: "/", private: "nor this",
		Digits: rapid.SampledFrom([]json.Number{"", "1", "-0", "1e3", "0.10"}).Draw(t, "digits"), Thumb: rapid.SliceOfN(rapid.Byte(), 0, 5).Draw(t, "thumb"),
		Raw: json.RawMessage(rapid.SampledFrom([]string{"", "null", ` {"b" : [1.50, "\u00e9<"], "a":{}} `, `{"\ufb33":1,"\ud83d\ude00":2}`, `-0`,
			strings.Repeat("[", 1_010) + strings.Repeat("]", 1_010)}).Draw(t, "raw"))}
	if seldom("without the outer") {
		root.DrawnOuter = nil
	}
	if seldom("own") {
		own := Personal(text.Draw(t, "own"))
		root.Own = &own
	}
	for range rapid.IntRange(0, 12).Draw(t, "list") {
		root.List = append(root.List, inner())
	}
	if seldom("two") {
		one := inner()
		root.Two[1] = &one
	}
	if seldom("crew") {
		root.Crew = map[string]Personal{}
		for range rapid.IntRange(0, 4).Draw(t, "crew") {
			root.Crew[text.Draw(t, "who")] = Personal(text.Draw(t, "name"))
		}
	}
	if seldom("when") {
		when := at("when")
		root.When = &when
	}
	if seldom("numbers") {
		root.Numbers = map[int]float32{-1: float32(number.Draw(t, "a")), 10: 0.1, 9: float32(number.Draw(t, "b"))}
	}
	if seldom("plain") {
		root.Plain = map[string]string{text.Draw(t, "key"): text.Draw(t, "value"), "é": "", "z": ""}
	}
	if seldom("free") {
		root.Free = map[string]any{"in": inner(), text.Draw(t, "free"): []any{nil, true, number.Draw(t, "free number"), Personal("said"), at("free at"), &root.Zulu}}
	}
	switch odd {
	case 1:
		root.Raw = json.RawMessage(rapid.SampledFrom([]string{`{"a":1,"a":2}`, `"\ud800"`, "\"\xff\"", `[`, `9007199254740993`, strings.Repeat("[", 10_000) + strings.Repeat("]", 10_000)}).Draw(t, "odd raw"))
	case 2:
		root.Digits = rapid.SampledFrom([]json.Number{"9007199254740993", "x"}).Draw(t, "odd digits")
	case 3:
		root.List = append(root.List, drawnInner{Whole: 1 << 53})
	case 4:
		inf := math.Inf(1)
		root.drawnInner.Number = &inf
	case 5:
		root.Free = rapid.SampledFrom([]any{func() {}, struct {
			A int `json:"x"`
			B int `json:"X"`
		}{}, map[time.Time]int{}, 1i, map[float64]int{1: 1}, struct {
			N int `json:"n,string"`
		}{}}).Draw(t, "refused")
	}
	e := Envelope{Mill: "mill", Seq: rapid.Int64Range(0, maxExact).Draw(t, "seq"), ID: "01970000-0000-7000-8000-000000000001", Kind: "kind" + strings.ToValidUTF8(text.Draw(t, "kind"), ""), Version: rapid.IntRange(1, 9).Draw(t, "version"),
		Subject: strings.ToValidUTF8(text.Draw(t, "subject"), ""), Actor: strings.ToValidUTF8(text.Draw(t, "actor"), ""), At: at("sealed").Add(1 << 53), Offset: rapid.IntRange(-18*60, 18*60).Draw(t, "offset"), Body: &root}
	if seldom("happened") {
		e.Happened, e.HappenedOffset = at("happened"), -300
	}
	if seldom("phone") {
		e.Phone, e.PhoneOffset = at("phone"), 60
	}
	if seldom("not by pointer") {
		e.Body = root
	}
	return e
}
