package views

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// marks are how numbers are written: what stands before decimals and between
// thousands. Only where the decimal mark is a point may thousands be set off by a
// comma, and only in English: elsewhere a no-break space does it, which nobody
// can take for a decimal mark (the International System of Units, brochure,
// section 5.4.4).
type marks struct{ decimal, thousands string }

const noBreakSpace = "\u00a0"

// marksOf are the marks as the language, or the country of it, usually has them
// (Unicode CLDR, through golang.org/x/text).
func marksOf(tag language.Tag) marks {
	half := message.NewPrinter(tag).Sprint(number.Decimal(0.5, number.MinFractionDigits(1)))
	if strings.Contains(half, ",") {
		return marks{",", noBreakSpace}
	}
	if base, _ := tag.Base(); base.String() == "en" {
		return marks{".", ","}
	}
	return marks{".", noBreakSpace}
}

// WithMark is w with decimals set off by a "point" or a "comma"; as usual in the
// language with anything else.
func (w *Words) WithMark(mark string) *Words {
	if w == nil || mark != "point" && mark != "comma" || w.Comma() == (mark == "comma") {
		return w
	}
	other := *w
	switch {
	case mark == "comma":
		other.marks = marks{",", noBreakSpace}
	case w.Lang() == "en":
		other.marks = marks{".", ","}
	default:
		other.marks = marks{".", noBreakSpace}
	}
	return &other
}

// Comma tells whether decimals are set off by a comma.
func (w *Words) Comma() bool { return w != nil && w.marks.decimal == "," }

// asIn is w with the marks of the country that a preference names, as es-MX has
// a point and es-ES a comma.
func (w *Words) asIn(preferences []string) *Words {
	own, _ := w.tag.Base()
	for _, preference := range preferences {
		wanted, _, err := language.ParseAcceptLanguage(preference)
		if err != nil {
			continue
		}
		for _, tag := range wanted {
			if base, _ := tag.Base(); base != own {
				continue
			}
			if _, sure := tag.Region(); sure != language.Exact {
				continue
			}
			other := *w
			other.marks = marksOf(tag)
			return &other
		}
	}
	return w
}

// numbers are args with each bare number to be written with the reader's marks.
func (w *Words) numbers(args []any) []any {
	if w.marks == (marks{".", ","}) {
		return args // what the printer does by itself
	}
	out := slices.Clone(args)
	for i, arg := range args {
		switch arg.(type) {
		case int, int8, int16, int32, int64, uint, uint8, uint16, uint32, uint64, float32, float64, decimal:
			out[i] = numeral{w.marks, arg}
		}
	}
	return out
}

// numeral is a number as English has it, with other marks put in.
type numeral struct {
	marks marks
	x     any
}

// Format writes it under any verb.
func (n numeral) Format(state fmt.State, verb rune) {
	text := message.NewPrinter(language.English).Sprintf(fmt.FormatString(state, verb), n.x)
	if n.marks.decimal != "." || n.marks.thousands != "," {
		text = strings.NewReplacer(",", n.marks.thousands, ".", n.marks.decimal).Replace(text)
	}
	// The writer is the printer's own buffer, which cannot fail; fmt.Formatter has no way to say so.
	io.WriteString(state, text)
}

// PluralForm is that of the number as it is written with so many decimals.
func (n numeral) PluralForm(tag language.Tag, scale int) (plural.Form, int) {
	x := n.x
	if d, is := x.(decimal); is {
		x = d.x
	}
	text := fmt.Sprint(x)
	if f, is := x.(float64); is {
		text = strconv.FormatFloat(f, 'f', max(scale, -1), 64)
	}
	whole, decimals, _ := strings.Cut(strings.TrimPrefix(text, "-"), ".")
	i, err := strconv.Atoi(whole)
	if err != nil {
		return plural.Other, -1
	}
	trimmed := strings.TrimRight(decimals, "0")
	form := plural.Cardinal.MatchPlural(tag, i, len(decimals), len(trimmed), digitsOf(decimals), digitsOf(trimmed))
	if trimmed != "" {
		i = -1 // no whole number, so none that a case may name
	}
	return form, i
}

func digitsOf(decimals string) (n int) {
	for _, digit := range decimals {
		n = 10*n%1e7 + int(digit-'0')
	}
	return n
}
