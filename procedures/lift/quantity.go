package lift

import (
	"math"
	"strconv"
	"strings"

	"stillsaw/procedures/plain"
)

// Unit is a unit of length or of mass that a bare number is taken in.
type Unit uint8

// The units. With NoUnit a number must carry its own.
const (
	NoUnit Unit = iota
	Inches
	Feet
	Millimetres
	Centimetres
	Metres
	Pounds
	Kilograms
)

func unitNames() []string { return []string{"none", "in", "ft", "mm", "cm", "m", "lb", "kg"} }

// String is the unit's sign.
func (u Unit) String() string { return nameOf(unitNames(), int(u)) }

// ParseUnit reads a unit's sign.
func ParseUnit(text string) (Unit, error) {
	i, err := indexOf(unitNames(), text)
	return Unit(i), err
}

// size is one of the unit in metres or kilograms.
func (u Unit) size() float64 {
	switch u {
	case Inches:
		return float64(plain.Inch)
	case Feet:
		return float64(plain.Foot)
	case Millimetres:
		return 0.001
	case Centimetres:
		return 0.01
	case Metres, Kilograms:
		return 1
	case Pounds:
		return float64(plain.Pound)
	}
	return 0
}

func (u Unit) length() bool { return u >= Inches && u <= Metres }
func (u Unit) mass() bool   { return u == Pounds || u == Kilograms }

func unitOf(word string) Unit {
	switch word {
	case `"`, "in", "in.", "inch", "inches":
		return Inches
	case "'", "ft", "ft.", "foot", "feet":
		return Feet
	case "mm":
		return Millimetres
	case "cm":
		return Centimetres
	case "m", "metre", "metres", "meter", "meters":
		return Metres
	case "lb", "lb.", "lbs", "lbs.", "pound", "pounds", "#":
		return Pounds
	case "kg", "kgs", "kilo", "kilos", "kilogram", "kilograms":
		return Kilograms
	}
	return NoUnit
}

// Largest quantities that can be meant at all; a mistyped unit is caught far below.
const (
	mostLength = 1000 // m
	mostMass   = 1e6  // kg
)

// ParseLength reads a length as people write it: 17 3/8 in, 17-3/8", 7 ft 6 in,
// 7'6", 2.4 m, 240cm, 1800mm, or a bare number in the unit bare. The error is a
// [plain.Problems] of one problem without a field, to be named with Add.
func ParseLength(text string, bare Unit) (plain.Metres, error) {
	x, err := parseQuantity(text, bare, Unit.length, mostLength, `a length, like 17 3/8 in, 7 ft 6 in, 2.4 m or 1800 mm`)
	return plain.Metres(x), err
}

// ParseMass reads a mass: 250 lb, 113.4 kg, or a bare number in the unit bare.
// The error is as of [ParseLength].
func ParseMass(text string, bare Unit) (plain.Kilograms, error) {
	x, err := parseQuantity(text, bare, Unit.mass, mostMass, "a weight, like 250 lb or 113.4 kg")
	return plain.Kilograms(x), err
}

func want(format string, args ...any) error {
	return plain.Problems{{Want: plain.Say(format, args...)}}
}

// plainSigns writes what phones and word processors put in by themselves in
// the signs of a plain keyboard. A fraction sign is set off by a space.
func plainSigns() *strings.Replacer {
	return strings.NewReplacer("′", "'", "’", "'", "‘", "'", "″", `"`, "”", `"`, "“", `"`, "''", `"`,
		"\u00a0", " ", "\u202f", " ", "⁄", "/", "½", " 1/2", "¼", " 1/4", "¾", " 3/4",
		"⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8")
}

func parseQuantity(text string, bare Unit, fits func(Unit) bool, most float64, example string) (float64, error) {
	if len(text) > 64 {
		return 0, want("%s", plain.Say(example))
	}
	rest := strings.ToLower(strings.TrimSpace(plainSigns().Replace(text)))
	switch {
	case rest == "":
		return 0, want("%s", plain.Say(example))
	case strings.HasPrefix(rest, "-") || strings.HasPrefix(rest, "−"):
		return 0, want("no minus sign: %s", plain.Say(example))
	case strings.Contains(rest, ","):
		return 0, want("a point for the decimals and no comma: %s", plain.Say(example))
	}
	first, rest, err := parseTerm(rest, example)
	if err != nil {
		return 0, err
	}
	if first.unit == NoUnit && rest == "" {
		first.unit = bare
	}
	total := first.n * first.unit.size()
	if rest != "" {
		inches, _ := digits(rest) // 8'000 is eight thousand where thousands are so set off
		second, tail, err := parseTerm(rest, example)
		if err != nil {
			return 0, err
		}
		if second.unit == NoUnit {
			second.unit = Inches
		}
		if first.unit != Feet || second.unit != Inches || tail != "" || first.n != math.Trunc(first.n) || second.n >= 12 || len(inches) > 2 {
			return 0, want("feet and inches as 7 ft 6 in, whole feet and less than 12 inches, or one number: %s", plain.Say(example))
		}
		total += second.n * second.unit.size()
	}
	switch {
	case first.unit == NoUnit:
		return 0, want("the unit too: %s", plain.Say(example))
	case !fits(first.unit):
		return 0, want("another unit than %s: %s", first.unit.String(), plain.Say(example))
	case !(total >= 0 && total <= most):
		return 0, want("a smaller number: %s", plain.Say(example))
	}
	return total, nil
}

type term struct {
	n    float64
	unit Unit
}

// parseTerm takes a number and its unit off the front of text.
func parseTerm(text, example string) (t term, rest string, err error) {
	n, rest, ok := parseNumber(text)
	if !ok {
		return t, "", want("%s", plain.Say(example))
	}
	rest = strings.TrimLeft(rest, " ")
	end := strings.IndexAny(rest, " 0123456789")
	if strings.HasPrefix(rest, "'") || strings.HasPrefix(rest, `"`) || strings.HasPrefix(rest, "#") {
		end = 1
	}
	if end < 0 {
		end = len(rest)
	}
	t = term{n, unitOf(rest[:end])}
	if end == 0 && rest != "" {
		return t, "", want("one number with its unit: %s", plain.Say(example))
	}
	if t.unit == NoUnit && rest != "" {
		return t, "", want("a unit known here, not %q: %s", rest[:end], plain.Say(example))
	}
	return t, strings.TrimLeft(rest[end:], " "), nil
}

// parseNumber takes 17, 17.375, 3/8, 17 3/8 or 17-3/8 off the front of text.
// Exponents, signs and words like inf are no numbers here.
func parseNumber(text string) (n float64, rest string, ok bool) {
	whole, rest := digits(text)
	if strings.HasPrefix(rest, ".") {
		decimals, after := digits(rest[1:])
		if whole == "" && decimals == "" {
			return 0, "", false
		}
		n, err := strconv.ParseFloat(whole+"."+decimals+"0", 64)
		return n, after, err == nil
	}
	if whole == "" {
		return 0, "", false
	}
	n, err := strconv.ParseFloat(whole, 64)
	if err != nil {
		return 0, "", false
	}
	if strings.HasPrefix(rest, "/") {
		part, after, ok := fraction(text)
		return part, after, ok
	}
	if strings.HasPrefix(rest, "-") || strings.HasPrefix(rest, " ") {
		if part, after, ok := fraction(strings.TrimLeft(rest[1:], " ")); ok {
			return n + part, after, part < 1
		}
	}
	return n, rest, true
}

// fraction takes a/b off the front of text.
func fraction(text string) (x float64, rest string, ok bool) {
	above, rest := digits(text)
	if above == "" || !strings.HasPrefix(rest, "/") {
		return 0, "", false
	}
	below, rest := digits(rest[1:])
	a, errA := strconv.ParseFloat(above, 64)
	b, errB := strconv.ParseFloat(below, 64)
	return a / b, rest, errA == nil && errB == nil && b > 0
}

func digits(text string) (number, rest string) {
	end := 0
	for end < len(text) && text[end] >= '0' && text[end] <= '9' {
		end++
	}
	return text[:end], text[end:]
}
