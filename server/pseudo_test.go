package server_test

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"stillsaw/views"
	"stillsaw/views/sayings"
)

// madeUp is the language of a mill nobody lives in, for which the catalogue holds
// every saying of the source with each of its letters turned into one that
// English does not have. What is still in English on a page went round the
// catalogue, or is the mill's own.
const madeUp = "eo"

func madeUpWords(t *testing.T) *views.Catalogue {
	t.Helper()
	all, _, err := sayings.In("..")
	require.NoError(t, err)
	words := map[string]string{}
	for _, one := range all {
		words[one.Format] = foreign(one.Format, one.Args != 0)
	}
	file, err := json.Marshal(words)
	require.NoError(t, err)
	catalogue, err := views.ReadCatalogue(fstest.MapFS{"en.json": {Data: []byte("{}")}, madeUp + ".json": {Data: file}})
	require.NoError(t, err)
	return catalogue
}

var formatVerb = regexp.MustCompile(`%(?:\[\d+\])?[-+#0]*\d*(?:\.\d+)?(?:\[\d+\])?[a-zA-Z%]`)

// foreign is an English format with its letters changed and its verbs kept. The
// letters are of Latin-1, which the core fonts of a PDF have.
func foreign(format string, verbs bool) string {
	if !verbs {
		return foreignLetters(format)
	}
	var out strings.Builder
	for {
		at := formatVerb.FindStringIndex(format)
		if at == nil {
			return out.String() + foreignLetters(format)
		}
		out.WriteString(foreignLetters(format[:at[0]]) + format[at[0]:at[1]])
		format = format[at[1]:]
	}
}

func foreignLetters(text string) string {
	const (
		from = "abcdefghijklmnopqrstuvwxyz"
		to   = "àþçðéßäåíïøìöñòõâëšãúûüæÿž"
	)
	letters := []rune(to)
	return strings.Map(func(r rune) rune {
		if i := strings.IndexRune(from, r); i >= 0 {
			return letters[i]
		}
		if i := strings.IndexRune(strings.ToUpper(from), r); i >= 0 {
			return []rune(strings.ToUpper(string(letters[i])))[0]
		}
		return r
	}, text)
}
