package views

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// joint stands before a text put into a French sentence that begins with a vowel,
// until the sentence is whole: the combining grapheme joiner, which no keyboard
// has and a %q leaves as it is.
const joint = "\u034f"

// elisions are the small words of the catalogue that lose their vowel before one:
// whether "Tableau de %s" needs it is known only once the name is there.
var elisions = strings.NewReplacer("de "+joint, "d'", "De "+joint, "D'", "que "+joint, "qu'", "Que "+joint, "Qu'", joint, "")

// elides tells whether w is of the language that does so. An h is left alone:
// it may be aspirate, and of names nobody can tell.
func (w *Words) elides() bool {
	base, _ := w.tag.Base()
	return base.String() == "fr"
}

// joints are args with a joint before each text that begins with a vowel.
func joints(args []any) []any {
	out := slices.Clone(args)
	for i, arg := range args {
		switch text := arg.(type) {
		case string:
			if vowelFirst(text) {
				out[i] = joint + text
			}
		case said:
			if vowelFirst(string(text)) {
				out[i] = said(joint) + text
			}
		}
	}
	return out
}

func vowelFirst(text string) bool {
	first, _ := utf8.DecodeRuneInString(text)
	return strings.ContainsRune("aeiouàâæéèêëîïôœùûAEIOUÀÂÆÉÈÊËÎÏÔŒÙÛ", first)
}
