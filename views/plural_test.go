package views

import (
	"encoding/json"
	"strconv"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

// Unicode CLDR, cardinal plural rules of English, Spanish and French, by the
// samples it gives (version 42 and later have "many" for whole millions in Spanish
// and French; the tables of golang.org/x/text v0.44 are of CLDR 32, which has not).
// One million and more of anything is no count of this program, and "many" then
// reads as "other": the noun is in the plural either way.
func TestCountsTakeThePluralFormOfTheirLanguage(t *testing.T) {
	forms := func(one, other string) map[string]any {
		return map[string]any{"%d things": map[string]any{"arg": 1, "one": one, "other": other}}
	}
	files := fstest.MapFS{}
	for name, words := range map[string]map[string]any{"en": forms("%d one", "%d other"), "es": forms("%d una", "%d otras"), "fr": forms("%d un", "%d autres")} {
		raw, err := json.Marshal(words)
		require.NoError(t, err)
		files[name+".json"] = &fstest.MapFile{Data: raw}
	}
	c, err := ReadCatalogue(files)
	require.NoError(t, err)
	const space = "\u00a0"
	for language, counts := range map[string]map[int]string{
		"en": {0: "0 other", 1: "1 one", 2: "2 other", 21: "21 other", 1_000_000: "1,000,000 other"},
		"es": {0: "0 otras", 1: "1 una", 2: "2 otras", 21: "21 otras", 101: "101 otras", 1_000_000: "1" + space + "000" + space + "000 otras"},
		"fr": {0: "0 un", 1: "1 un", 2: "2 autres", 21: "21 autres", 101: "101 autres", 1_000_000: "1" + space + "000" + space + "000 autres"},
	} {
		f := &Frame{Words: c.For(language)}
		for n, want := range counts {
			require.Equal(t, want, f.T("%d things", n), language)
		}
		require.Equal(t, map[string]string{"en": "1.5", "es": "1,5", "fr": "1,5"}[language], f.Number(1.5))
	}
}

// French says zero in the singular, so that a form for one that leaves its number
// out, or says one, would be wrong of none.
func TestFrenchSingularNeverSaysOneForNone(t *testing.T) {
	for _, language := range []string{"es", "fr"} {
		entries, err := readWords(wordFiles, "words/"+language+".json")
		require.NoError(t, err)
		for key, e := range entries {
			if e.forms == nil {
				continue
			}
			require.NotEmpty(t, e.forms["one"], "%s: %q", language, key)
			require.NotEmpty(t, e.forms["other"], "%s: %q", language, key)
			for form := range e.forms {
				require.Contains(t, []string{"one", "many", "other"}, form, "%s has no other category: %q", language, key)
			}
			if language == "fr" {
				require.True(t, holdsCount(e), "%q: %q", key, e.forms["one"])
			}
		}
	}
}

// holdsCount tells whether the form for one holds the count it is chosen by.
func holdsCount(e entry) bool {
	position := 0
	for _, found := range verb.FindAllStringSubmatch(e.forms["one"], -1) {
		if found[3] == "%" {
			continue
		}
		position++
		if found[1]+found[2] == strconv.Itoa(e.arg) || found[1]+found[2] == "" && position == e.arg {
			return true
		}
	}
	return false
}
