package record_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/record"
)

// The construction of a leaf must never change: records written with it are
// read for ever. Its nine commitments and its hash were also computed with
// Python's hashlib and json from the package documentation alone.
func TestLeafIsTheGoldenOneByteForByte(t *testing.T) {
	want, err := os.ReadFile("../../testdata/record/leaf-1.json")
	require.NoError(t, err)
	sealed := seal(t, envelope(41, someBody()))
	require.Equal(t, string(want), string(sealed.Leaf))
	require.Equal(t, "37e3d8d033ab30280f69febf45e53f6ba0037b7d236765d7cd3c45e2ace7e66a", hex.EncodeToString(sealed.Hash[:]))
	entry, err := record.Read(want, sealed.Openings)
	require.NoError(t, err)
	require.Empty(t, entry.Withheld)
}

func TestGoldenCommitmentIsWhatTheDocSays(t *testing.T) {
	leaf, err := os.ReadFile("../../testdata/record/leaf-1.json")
	require.NoError(t, err)
	var salt [32]byte
	for i := range salt {
		salt[i] = byte(i)
	}
	// "by" is the first personal field of the body, so it has the first salt.
	digest := sha256.Sum256([]byte("stillsaw personal value 1\n" + string(salt[:]) + "A. Sawyer"))
	require.Contains(t, string(leaf), `"by":{"sealed":"sha256:`+hex.EncodeToString(digest[:])+`"}`)
}

func TestNoPersonalValueIsInTheLeaf(t *testing.T) {
	leaf := string(seal(t, envelope(0, someBody())).Leaf)
	for _, value := range []string{"Sawyer", "Doe", "loose", "Öre"} {
		require.NotContains(t, leaf, value)
	}
}

func TestEveryPersonalFieldIsCommittedEvenWhenEmpty(t *testing.T) {
	sealed := seal(t, envelope(0, someBody()))
	var paths []string
	salts := map[string]bool{}
	for _, o := range sealed.Openings {
		paths = append(paths, o.Path)
		require.Len(t, o.Salt, 32)
		salts[string(o.Salt)] = true
	}
	require.Equal(t, []string{
		"/by", "/answers/0/note", "/answers/0/seen", "/answers/1/note", "/answers/1/seen",
		"/crew/helper", "/crew/off~1bearer", "/remarks/0", "/remarks/1",
	}, paths)
	full := someBody()
	full.Answers[0].Note, full.Remarks[0] = "x", "y"
	require.Len(t, seal(t, envelope(0, full)).Leaf, len(sealed.Leaf), "the leaf shows which fields are empty")
}

func TestEachFieldHasItsOwnSalt(t *testing.T) {
	sealed := seal(t, envelope(0, someBody()))
	for i, a := range sealed.Openings[:8] { // the counter repeats after 256 bytes, eight salts
		for _, b := range sealed.Openings[:i] {
			require.NotEqual(t, a.Salt, b.Salt)
		}
	}
}

// What a user typed, in a string, a map or raw JSON, is never read as a
// commitment and never sealed as one.
func TestUserDataCannotPassForACommitment(t *testing.T) {
	victim := seal(t, envelope(0, answer{Note: "secret"}))
	var leaf struct {
		Body struct{ Note json.RawMessage }
	}
	require.NoError(t, json.Unmarshal(victim.Leaf, &leaf))
	forged := leaf.Body.Note // {"sealed":"sha256:…"}
	for name, body := range map[string]any{
		"text":     map[string]any{"note": string(forged)},
		"map":      map[string]any{"note": map[string]string{"sealed": "sha256:" + strings.Repeat("0", 64)}},
		"raw":      map[string]any{"note": forged},
		"envelope": map[string]any{"personal": []string{"/note"}, "note": forged, "format": "stillsaw-entry-1"},
		"named type": struct {
			Note json.RawMessage `json:"note"`
		}{forged},
	} {
		sealed := seal(t, envelope(1, body))
		require.Empty(t, sealed.Openings, name)
		entry, err := record.Read(sealed.Leaf, nil)
		require.NoError(t, err, name)
		require.Empty(t, entry.Withheld, name)
		plain, err := json.Marshal(body)
		require.NoError(t, err)
		require.JSONEq(t, string(plain), string(entry.Body), name)

		_, err = record.Read(sealed.Leaf, []record.Opening{victim.Openings[0]})
		var wrong *record.OpeningError
		require.ErrorAs(t, err, &wrong, name)
		require.Equal(t, record.OpeningStray, wrong.Change)
	}
}

type ownJSON struct{ Name record.Personal }

func (o ownJSON) MarshalJSON() ([]byte, error) { return json.Marshal(string(o.Name)) }

type selfContaining struct {
	Next *selfContaining
}

func TestWhatCannotBeKeptIsRefusedByName(t *testing.T) {
	loop := &selfContaining{}
	loop.Next = loop
	var circle any
	circle = &circle
	for name, c := range map[string]struct {
		body any
		says string
	}{
		"nothing":             {nil, "struct or a map"},
		"nil pointer":         {(*answer)(nil), "struct or a map"},
		"text":                {"text", "struct or a map"},
		"opened body":         {json.RawMessage(`{"note":"clear"}`), "struct or a map"},
		"NaN":                 {map[string]any{"reading": math.NaN()}, `"/reading"`},
		"infinite":            {map[string]any{"reading": math.Inf(1)}, `"/reading"`},
		"big":                 {map[string]any{"a": []any{1, int64(1) << 53}}, `"/a/1"`},
		"big unsigned":        {map[string]any{"a": uint64(math.MaxUint64)}, `"/a"`},
		"big in raw JSON":     {map[string]any{"a": json.RawMessage(`[9007199254740993]`)}, `"/a"`},
		"two in one number":   {map[string]any{"a": json.Number(`1,"b":2`)}, `"/a"`},
		"same name in raw":    {map[string]any{"a": json.RawMessage(`{"b":1,"b":2}`)}, "duplicate"},
		"names made the same": {map[string]int{"\xff": 1, "\xfe": 2}, "duplicate"},
		"personal key":        {map[record.Personal]int{}, "map key"},
		"time as key":         {map[time.Time]int{}, "map key"},
		"own JSON":            {map[string]any{"x": ownJSON{"A. Sawyer"}}, "writes its own JSON"},
		"embedded personal":   {struct{ record.Personal }{"A. Sawyer"}, "struct or a map"},
		"function":            {map[string]any{"f": func() {}}, `"/f"`},
		"complex":             {map[string]any{"c": 1i}, `"/c"`},
		"contains itself":     {loop, "levels deep"},
		"points at itself":    {map[string]any{"c": circle}, "levels deep"},
		"number as text": {struct {
			N int `json:"n,string"`
		}{1}, "option"},
		"two of one name": {struct {
			A int `json:"x"`
			B int `json:"X"`
		}{1, 2}, "two fields"},
		"nil embedded pointer": {struct{ *Embedded }{}, "embedded"},
	} {
		_, err := record.Seal(envelope(0, c.body), &counting{})
		require.ErrorContains(t, err, c.says, name)
	}
}

// Embedded holds a personal field that would vanish with a nil pointer.
type Embedded struct{ Name record.Personal }

func TestAnEnvelopeThatIsNoEntryIsRefused(t *testing.T) {
	for says, spoil := range map[string]func(*record.Envelope){
		"mill ":                    func(e *record.Envelope) { e.Mill = "" },
		`mill "two words"`:         func(e *record.Envelope) { e.Mill = "two words" },
		"seq":                      func(e *record.Envelope) { e.Seq = -1 },
		"id ":                      func(e *record.Envelope) { e.ID = "" },
		`id "F81D4FAE`:             func(e *record.Envelope) { e.ID = "F81D4FAE-7DEC-7000-A765-00A0C91E6BF6" },
		`id "f81d4fae-7dec-4`:      func(e *record.Envelope) { e.ID = "f81d4fae-7dec-4000-a765-00a0c91e6bf6" },
		`id "f81d4fae07dec`:        func(e *record.Envelope) { e.ID = "f81d4fae07dec-7000-a765-00a0c91e6bf6" },
		`id "f81d4fae-7dec-7000-c`: func(e *record.Envelope) { e.ID = "f81d4fae-7dec-7000-c765-00a0c91e6bf6" },
		`id "f81d4fae-7dec-7000-a765-00a0c91e6bfg`: func(e *record.Envelope) { e.ID = "f81d4fae-7dec-7000-a765-00a0c91e6bfg" },
		"kind":                   func(e *record.Envelope) { e.Kind = "" },
		"version":                func(e *record.Envelope) { e.Version = 0 },
		"UTF-8":                  func(e *record.Envelope) { e.Actor = "\xff" },
		"at 0001":                func(e *record.Envelope) { e.At = time.Time{} },
		"at 10000":               func(e *record.Envelope) { e.At = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) },
		"offset of 1500 minutes": func(e *record.Envelope) { e.Offset = 1500 },
		"but no time":            func(e *record.Envelope) { e.Happened = time.Time{} },
	} {
		e := envelope(0, answer{})
		spoil(&e)
		_, err := record.Seal(e, &counting{})
		require.ErrorContains(t, err, says)
	}
}

func TestWithoutRandomnessNothingIsSealed(t *testing.T) {
	_, err := record.Seal(envelope(0, answer{Note: "x"}), iotest.ErrReader(errors.New("no entropy")))
	require.ErrorContains(t, err, "/note")
	_, err = record.Seal(envelope(0, answer{Note: "x"}), bytes.NewReader(make([]byte, 31)))
	require.Error(t, err)
}

func TestAPersonalValueIsNotWrittenToJSONByTheWay(t *testing.T) {
	_, err := json.Marshal(answer{Note: "x"})
	require.ErrorContains(t, err, "Seal")
}

// Input and output of RFC 8785 section 3.2.2 (numbers, escapes, literals), the
// sorting sample of section 3.2.3 as extended in the RFC author's published
// test data (weird.json, structures.json), and numbers of appendix B (those from
// memory).
func TestLeavesAreCanonicalAsInRFC8785(t *testing.T) {
	for in, want := range map[string]string{
		`{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
		  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`: `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		`{"\u20ac":"Euro Sign","\r":"Carriage Return","\u000a":"Newline","1":"One","\u0080":"Control\u007f","\ud83d\ude02":"Smiley",
		  "\u00f6":"Latin Small Letter O With Diaeresis","\ufb33":"Hebrew Letter Dalet With Dagesh","</script>":"Browser Challenge"}`: "{\"\\n\":\"Newline\",\"\\r\":\"Carriage Return\",\"1\":\"One\",\"</script>\":\"Browser Challenge\",\"\u0080\":\"Control\u007f\",\"ö\":\"Latin Small Letter O With Diaeresis\",\"€\":\"Euro Sign\",\"😂\":\"Smiley\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}",
		`{"1":{"f":{"f":"hi","F":5},"\n":56.0},"10":{},"":"empty","a":{},"111":[{"e":"yes","E":"no"}],"A":{}}`: `{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}`,
	} {
		leaf := string(seal(t, envelope(0, map[string]any{"x": json.RawMessage(in)})).Leaf)
		require.Contains(t, leaf, `"body":{"x":`+want+`},`)
	}
	for ieee, want := range map[uint64]string{
		0x0000000000000000: "0", 0x8000000000000000: "0", 0x0000000000000001: "5e-324", 0x7fefffffffffffff: "1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992", 0x4430000000000000: "295147905179352830000", 0x44b52d02c7e14af5: "9.999999999999997e+22",
		0x44b52d02c7e14af6: "1e+23", 0x444b1ae4d6e2ef50: "1e+21", 0x3eb0c6f7a0b5ed8d: "0.000001", 0x41b3de4355555557: "333333333.33333343",
	} {
		leaf := string(seal(t, envelope(0, map[string]any{"x": math.Float64frombits(ieee)})).Leaf)
		require.Contains(t, leaf, `"body":{"x":`+want+`},`, "%x", ieee)
	}
}

// A body carries a domain type and makes one of its fields personal by naming
// it again further out, as encoding/json reads it back.
func TestOuterFieldHidesTheEmbeddedOne(t *testing.T) {
	type Domain struct {
		Place string `json:"place"`
		Note  string `json:"note"`
	}
	type body struct {
		Domain
		Note record.Personal `json:"note"`
	}
	e := record.Envelope{Mill: "m", ID: "01990000-0000-7000-8000-000000000001", Kind: "note", Version: 1, At: time.UnixMilli(1),
		Body: body{Domain{"track", "not this"}, "Ada slipped"}}
	sealed, err := record.Seal(e, bytes.NewReader(make([]byte, 64)))
	require.NoError(t, err)
	require.NotContains(t, string(sealed.Leaf), "not this")
	require.NotContains(t, string(sealed.Leaf), "Ada")
	entry, err := record.Read(sealed.Leaf, sealed.Openings)
	require.NoError(t, err)
	var got body
	require.NoError(t, record.Decode(entry, &got))
	require.Equal(t, body{Domain{"track", ""}, "Ada slipped"}, got)
}

func TestPhonesClockIsKeptInItsOwnZoneAndOnlyWhereItWasTold(t *testing.T) {
	e := envelope(0, answer{Item: "dogs", Result: "OK"})
	require.NotContains(t, string(seal(t, e).Leaf), "phone", "a leaf without one is as leaves were before")

	e.Phone, e.PhoneOffset = e.At.Add(-6*time.Minute+123*time.Microsecond), -360
	sealed := seal(t, e)
	require.Contains(t, string(sealed.Leaf), `"phone":"2026-03-02T11:58:05.678Z","phoneOffset":-360,`)
	again, err := record.Read(sealed.Leaf, sealed.Openings)
	require.NoError(t, err)
	require.True(t, again.Phone.Equal(e.At.Add(-6*time.Minute)))
	require.Equal(t, -360, again.PhoneOffset)

	for _, wrong := range []record.Envelope{{PhoneOffset: 60}, {Phone: e.Phone, PhoneOffset: 20 * 60}, {Phone: time.Date(10_000, 1, 1, 0, 0, 0, 0, time.UTC)}} {
		bad := envelope(0, answer{})
		bad.Phone, bad.PhoneOffset = wrong.Phone, wrong.PhoneOffset
		_, err := record.Seal(bad, &counting{})
		require.Error(t, err)
	}
	_, err = record.Read([]byte(strings.Replace(string(sealed.Leaf), `,"phoneOffset":-360`, "", 1)), sealed.Openings)
	require.Error(t, err, "one without the other is no leaf")
}
