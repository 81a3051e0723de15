package views

import (
	"fmt"
	"io"
	"strings"
)

// said is text that is finished: it prints as it is under every verb, so that
// "%.1f" written for a bare number still shows a quantity with its unit.
type said string

// Format writes the text whatever the verb and flags.
func (s said) Format(state fmt.State, _ rune) {
	// The writer is the printer's own buffer, which cannot fail; fmt.Formatter has no way to say so.
	io.WriteString(state, string(s))
}

// Cited is where a rule of the program comes from, with what isn't a title or a
// number in the reader's language: that it was cited from memory, say.
func (f *Frame) Cited(source string) string {
	return strings.NewReplacer("common practice, no source", f.T("common practice, no source"), "own choice", f.T("own choice"), "own rule", f.T("own rule"),
		"from memory", f.T("from memory"), "good practice elsewhere", f.T("good practice elsewhere")).Replace(source)
}
