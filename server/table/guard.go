package table

import "strings"

// starts are the signs with which a spreadsheet begins a formula or skips on to
// one, and the apostrophe that hides it. Common practice (OWASP, "CSV
// Injection", from memory), with the full-width signs some spreadsheets take.
const starts = "=+-@\t\r\n'＝＋－＠"

// guarded puts an apostrophe before a text that could be taken for a formula.
func guarded(text string) string {
	text = strings.ToValidUTF8(text, "\uFFFD")
	if text != "" && strings.ContainsRune(starts, []rune(text)[0]) {
		return "'" + text
	}
	return text
}

// unguarded takes one apostrophe off again. Every guarded text is told from
// every other, since one that begins with an apostrophe is guarded, too.
func unguarded(cell string) string {
	return strings.TrimPrefix(cell, "'")
}
