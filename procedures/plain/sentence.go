// Package plain is how the rules speak to a person: sentences whose words a
// catalogue can translate, problems with what was typed, and quantities that
// know their unit. It holds no rule and imports nothing of the project.
package plain

import "fmt"

// Sentence is one thing said to a person: an English format in the manner of
// package fmt, which is also its key in the message catalogues, and the values
// that go into it. A value is a string a person wrote, a number, a time, a
// quantity of this package or a Sentence; the page that shows it prints each
// in the reader's language, zone and units. Sentences that start inside
// another are written without capital and full stop.
type Sentence struct {
	Format string
	Args   []any
}

// Say makes a Sentence.
func Say(format string, args ...any) Sentence { return Sentence{Format: format, Args: args} }

// String is the sentence in English and SI units, for logs and tests.
func (s Sentence) String() string {
	if len(s.Args) == 0 {
		return s.Format
	}
	return fmt.Sprintf(s.Format, s.Args...)
}

// Empty tells whether nothing is said.
func (s Sentence) Empty() bool { return s.Format == "" }
