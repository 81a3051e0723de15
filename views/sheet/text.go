package sheet

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/unicode/norm"
)

// encoded is text in Windows-1252, as the core fonts of PDF take it. A letter
// they lack is written without its marks, anything else as a question mark.
func encoded(text string) string {
	var out strings.Builder
	for _, r := range text {
		out.WriteString(encodedRune(r))
	}
	return out.String()
}

func encodedRune(r rune) string {
	switch {
	case unicode.IsSpace(r) || r == '\u202f':
		return " "
	case r == '−': // the minus sign
		return "-"
	case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
		return ""
	}
	if b, ok := charmap.Windows1252.EncodeRune(r); ok {
		return string([]byte{b})
	}
	base, _ := utf8.DecodeRuneInString(norm.NFD.String(string(r)))
	if b, ok := charmap.Windows1252.EncodeRune(base); ok {
		return string([]byte{b})
	}
	return "?"
}

// capital is text with its first letter a capital one, as titles have it on the
// screens.
func capital(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if !unicode.IsLower(first) {
		return text
	}
	return string(unicode.ToTitle(first)) + text[size:]
}

// breaks tells whether a line may end at r: not at a blank that holds a number or
// a colon to what it belongs to.
func breaks(r rune) bool {
	return unicode.IsSpace(r) && r != '\u00a0' && r != '\u2007' && r != '\u202f'
}

// broken is text in lines no wider than width. A word wider than that is broken
// where it must be.
func broken(text string, width float64, of func(string) float64) (lines []string) {
	line := ""
	for _, word := range strings.FieldsFunc(text, breaks) {
		switch {
		case line == "":
			line = word
		case of(line+" "+word) <= width:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
		for of(line) > width {
			head, rest := headOf(line, width, of)
			if rest == "" {
				break
			}
			lines, line = append(lines, head), rest
		}
	}
	if line == "" {
		return lines
	}
	return append(lines, line)
}

// headOf is as much of a word as fits, one letter at least, and the rest.
func headOf(word string, width float64, of func(string) float64) (head, rest string) {
	letters := []rune(word)
	n := 1
	for n < len(letters) && of(string(letters[:n+1])) <= width {
		n++
	}
	return string(letters[:n]), string(letters[n:])
}

// shortened is text cut to a width, with three points where something is missing.
func shortened(text string, width float64, of func(string) float64) string {
	if of(text) <= width {
		return text
	}
	letters := []rune(text)
	for n := len(letters) - 1; n > 0; n-- {
		if cut := strings.TrimRight(string(letters[:n]), " ") + "…"; of(cut) <= width {
			return cut
		}
	}
	return ""
}
