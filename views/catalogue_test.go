package views

import (
	"fmt"
	"io/fs"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/views/sayings"
)

// collect is every saying of the program, by walking the source beside this
// package.
func collect(t *testing.T) []sayings.Saying {
	t.Helper()
	all, _, err := sayings.In("..")
	require.NoError(t, err)
	return all
}

func TestEveryFormatHasItsValues(t *testing.T) {
	all := collect(t)
	require.Greater(t, len(all), 80)
	counts := map[string]sayings.Saying{}
	for _, one := range all {
		assert.NoError(t, verbs(one.Format, one.Args), "%s: %q", one.Where, one.Format)
		if before, ok := counts[one.Format]; ok && before.Args >= 0 && one.Args >= 0 {
			assert.Equal(t, before.Args, one.Args, "%q takes other values at %s than at %s", one.Format, one.Where, before.Where)
		}
		counts[one.Format] = one
	}
}

// used is what every catalogue is held against.
func used(t *testing.T) map[string]int {
	keys := map[string]int{}
	for _, one := range collect(t) {
		keys[one.Format] = max(one.Args, keys[one.Format])
	}
	return keys
}

func TestCataloguesHoldWhatIsSaidAndNothingElse(t *testing.T) {
	keys := used(t)
	names, err := fs.Glob(wordFiles, "words/*.json")
	require.NoError(t, err)
	for _, name := range names {
		entries, err := readWords(wordFiles, name)
		require.NoError(t, err)
		for _, wrong := range against(entries, keys, name != "words/en.json") {
			t.Errorf("%s: %s", name, wrong)
		}
	}
}

// against says where a words file and the keys differ; whole asks that every
// key is there.
func against(entries map[string]entry, keys map[string]int, whole bool) (wrong []string) {
	for key, e := range entries {
		args, ok := keys[key]
		if !ok {
			wrong = append(wrong, fmt.Sprintf("%q is said nowhere", key))
			continue
		}
		texts := []string{e.text}
		if e.forms != nil {
			texts = nil
			for _, text := range e.forms {
				texts = append(texts, text)
			}
			if e.arg > args {
				wrong = append(wrong, fmt.Sprintf("%q counts by value %d of %d", key, e.arg, args))
			}
		}
		for _, text := range texts {
			// A plural form may spell its number: "One thing". Otherwise the verbs are the key's.
			if err := verbs(text, args); err != nil && (e.forms == nil || strings.Contains(text, "%")) {
				wrong = append(wrong, fmt.Sprintf("%q: %q: %v", key, text, err))
			}
		}
	}
	for key := range keys {
		if _, ok := entries[key]; whole && !ok {
			wrong = append(wrong, fmt.Sprintf("%q is missing", key))
		}
	}
	return wrong
}

// The collectors and checks see what they are there to see.
func TestCatalogueChecksCanFail(t *testing.T) {
	found, unseen, err := sayings.InGo(map[string][]byte{"x.go": []byte("package x\nfunc f() { plain.Say(\"a %s\" + \" b\", 1); p.Unless(true, \"field\", \"c %d\", 1, 2); plain.Refuse(\"clause\", \"d\"); f.T(\"e\", more...); plain.Say(x) }\n" +
		"func (s S) String() string { return \"HELD\" }\n" +
		"func w(at int, what string, args ...any) { plain.Say(what, args...) }\n" +
		"func g() { w(1, \"g %s\", 1); x := \"h\"; plain.Say(x); plain.Say(y.Name); plain.Say(table[2].ask); f.Say(z) }\n" +
		"var table = []row{{1, \"i\"}, {1, \"j\"}}\ntype row struct { n int; ask string }")})
	require.NoError(t, err)
	var formats []string
	for _, one := range found {
		formats = append(formats, fmt.Sprint(one.Format, "/", one.Args))
	}
	assert.Equal(t, []string{"a %s b/1", "c %d/2", "d/0", "e/-1", "HELD/0", "g %s/1", "h/0", "i/0", "j/0"}, formats)
	require.Len(t, unseen, 1)
	assert.Equal(t, "y.Name", unseen[0].Format)

	found, err = sayings.InTemplate("x", `{{if .T "a"}}{{template "p" ((.F (.T "b %s" .X)).G ($.T "c"))}}{{else}}{{range .L}}{{$.Frame.T "d"}}{{end}}{{end}}{{define "p"}}{{.T "e"}}{{end}}`)
	require.NoError(t, err)
	formats = nil
	for _, one := range found {
		formats = append(formats, fmt.Sprint(one.Format, "/", one.Args))
	}
	assert.ElementsMatch(t, []string{"a/0", "b %s/1", "c/0", "d/0", "e/0"}, formats)
	_, err = sayings.InTemplate("x", `{{.T .Format}}`)
	assert.Error(t, err)

	for format, args := range map[string]int{"%s": 0, "%s %s": 1, "a": 1, "%z": 1, "100 % of %s": 1, "%[2]s": 1, "%[1]s %s": 2} {
		assert.Error(t, verbs(format, args), "%q with %d", format, args)
	}
	for format, args := range map[string]int{"0 to 300 %": 0, "%s": 1, "%[2]s %[1]s": 2, "%[4]s": 4, "%.1f %%": 1, "%s %d": -1} {
		assert.NoError(t, verbs(format, args), "%q with %d", format, args)
	}

	keys := map[string]int{"a %s": 1, "b": 0}
	assert.Len(t, against(map[string]entry{"a %s": {text: "A"}, "c": {text: "c"}}, keys, true), 3)
	assert.Empty(t, against(map[string]entry{"a %s": {text: "A %[1]s"}}, keys, false))
}
