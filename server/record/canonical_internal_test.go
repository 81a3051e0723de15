package record

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/gowebpki/jcs"
	"github.com/stretchr/testify/require"
)

// RFC 8785, JSON Canonicalization Scheme, sections 3.2.2 and 3.2.3: input and output
// of each example.
func TestCanonicalFormIsThatOfRFC8785(t *testing.T) {
	for given, want := range map[string]string{
		`{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001], "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`: `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		`{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One", "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}`: "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\"," +
			"\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}",
	} {
		got, err := canonical([]byte(given))
		require.NoError(t, err)
		require.Equal(t, want, string(got))
	}
}

// Leaves were made canonical by another implementation before: both write the same.
func FuzzCanonicalAsAnotherImplementation(f *testing.F) {
	for _, text := range []string{
		`{"b":[1,-0,1e21,123456789012345680000,5e-324,0.1,1e-7],"a":{"\ud83d\ude00":"<&>\u2028","é":null},"":"\u0000\u007f\b"}`,
		`{"sealed":"sha256:00"}`, `{"a":1,"a":2}`, `"\ud800"`, `[[]] `, `9007199254740993`, `{"ﬀ":1,"\ud83d\ude00":2}`, "\"\xff\"", `1e400`, `-`, strings.Repeat("[", 50) + strings.Repeat("]", 50),
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if !json.Valid(text) || !utf8.Valid(text) { // what is made canonical was written by encoding/json
			return
		}
		want, refused := jcs.Transform(bytes.Clone(text))
		if refused != nil {
			return
		}
		got, err := canonical(bytes.Clone(text))
		require.NoError(t, err)
		require.Equal(t, string(want), string(got))
		again, err := canonical(bytes.Clone(got))
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}
