package views

import (
	"regexp"
	"strings"

	"stillsaw/checklists"
)

// Languages is the part where somebody who is not signed in chooses a language.
type Languages struct {
	*Frame
	Back    string // address to come back to
	Choices []Choice
}

// TypedIn names the way numbers of a form are meant: bare ones in units, and
// whether their decimal mark is a comma. A form carries it.
func TypedIn(units checklists.Units, comma bool) string {
	if comma {
		return string(units) + " comma"
	}
	return string(units) + " point"
}

// TypedIn is what a form of this page carries in its field "typed-in".
func (f *Frame) TypedIn() string {
	f = f.or()
	units := f.Units
	if units == "" {
		units = checklists.Metric
	}
	return TypedIn(units, f.Words.Comma())
}

var numberAlone = regexp.MustCompile(`^\d*\.\d+$`)

// inReaderMark is a number as the program fills it in, with the reader's mark.
// Anything else stays as it was typed.
func (f *Frame) inReaderMark(value string) string {
	if f.or().Words.Comma() && numberAlone.MatchString(value) {
		return strings.Replace(value, ".", ",", 1)
	}
	return value
}
