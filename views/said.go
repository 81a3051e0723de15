package views

import (
	"fmt"
	"io"
)

// said is text that is finished: it prints as it is under every verb, so that
// "%.1f" written for a bare number still shows a quantity with its unit.
type said string

// Format writes the text whatever the verb and flags.
func (s said) Format(state fmt.State, _ rune) {
	// The writer is the printer's own buffer, which cannot fail; fmt.Formatter has no way to say so.
	io.WriteString(state, string(s))
}
