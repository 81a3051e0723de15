package views

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// Beyond these the catalogue's %v writes a number with a power of ten, which
// nobody reads off a gauge.
const (
	largestPlain  = 1e5
	smallestPlain = 1e-3
)

// decimal is a number under %v written out in digits; other verbs print it as
// they would without.
type decimal struct {
	printer *message.Printer
	x       float64
}

// writtenOut is x for the catalogue: as it is where %v writes it out itself.
func (f *Frame) writtenOut(x float64) any {
	if size := math.Abs(x); size < largestPlain && size >= smallestPlain || x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	return decimal{message.NewPrinter(language.English), x}
}

// Format writes the number whatever its size.
func (d decimal) Format(state fmt.State, verb rune) {
	if precision, is := state.Precision(); verb != 'v' || is {
		format := "%" + string(verb)
		if is {
			format = "%." + strconv.Itoa(precision) + string(verb)
		}
		d.printer.Fprintf(state, format, d.x)
		return
	}
	_, fraction, _ := strings.Cut(strconv.FormatFloat(d.x, 'f', -1, 64), ".")
	// The writer is the printer's own buffer, which cannot fail; fmt.Formatter has no way to say so.
	io.WriteString(state, d.printer.Sprint(number.Decimal(d.x, number.MaxFractionDigits(len(fraction)))))
}

// Number is x written out with the reader's decimal mark, with as many decimals
// as it has.
func (f *Frame) Number(x float64) string {
	as := marks{".", ","}
	if words := f.or().Words; words != nil {
		as = words.marks
	}
	return fmt.Sprint(numeral{as, f.writtenOut(x)})
}
