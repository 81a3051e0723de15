package views

import (
	"fmt"
	"math"
	"reflect"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// quantity prints a quantity of package plain in the mill's units.
func (f *Frame) quantity(arg any) (string, bool) {
	switch q := arg.(type) {
	case plain.Metres:
		return f.length(q), true
	case plain.Gauged:
		if f.inchPound() {
			return f.number("%.3f in", float64(q)/float64(plain.Inch)), true
		}
		return f.number("%.2f mm", 1000*float64(q)), true
	case plain.Kilograms:
		return f.mass(q), true
	case plain.Newtons:
		return f.force(q), true
	case plain.Degrees:
		return f.number("%.1f°", float64(q)), true
	case plain.CubicMetres:
		if f.inchPound() {
			return f.number("%.1f ft³", float64(q)/cubicFoot), true
		}
		return f.number("%.3f m³", float64(q)), true
	case plain.KilogramsPerCubic:
		if f.inchPound() {
			return f.number("%.1f lb/ft³", float64(q)*cubicFoot/float64(plain.Pound)), true
		}
		return f.number("%.0f kg/m³", float64(q)), true
	case plain.Fraction:
		if share := 100 * float64(q); math.Abs(share) < 10 && share != math.Trunc(share) {
			return f.number("%.1f %%", share), true
		}
		return f.number("%.0f %%", 100*float64(q)), true
	}
	return "", false
}

const cubicFoot = float64(plain.Foot * plain.Foot * plain.Foot) // in m³

func (f *Frame) inchPound() bool { return f.Units == checklists.InchPound }

// number prints x, or that it isn't one.
func (f *Frame) number(format string, x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return f.T("not known")
	}
	return f.together(f.Words.text(format, []any{x}))
}

// together keeps a number and its unit on one line in French, whose printers do
// so without being asked.
func (f *Frame) together(text string) string {
	if f.Lang() == "fr" {
		return strings.ReplaceAll(text, " ", noBreakSpace)
	}
	return text
}

// eighths is the finest a tape is read to at a mill.
const eighths = 8

// length prints feet and inches to the nearest 1/8 in, inches alone below 3 ft;
// in SI millimetres below 1 m and metres to the centimetre above.
func (f *Frame) length(m plain.Metres) string {
	x := float64(m)
	switch {
	case math.IsNaN(x) || math.Abs(x) > 1e9:
		return f.T("not known")
	case !f.inchPound() && math.Abs(x) < 0.9995: // what would round to 1000 mm is a metre
		return f.number("%.0f mm", 1000*x)
	case !f.inchPound():
		return f.number("%.2f m", x)
	}
	parts := int64(math.Round(math.Abs(x) / float64(plain.Inch) * eighths))
	sign := ""
	if x < 0 && parts > 0 {
		sign = "−"
	}
	feet, rest := parts/(12*eighths), parts%(12*eighths)
	if parts < 3*12*eighths {
		feet, rest = 0, parts
	}
	inches := plain.MixedNumber(rest, eighths)
	switch {
	case feet == 0:
		return sign + f.together(f.T("%s in", inches))
	case rest == 0:
		return sign + f.together(f.T("%d ft", feet))
	}
	return sign + f.together(f.T("%[1]d ft %[2]s in", feet, inches))
}

func (f *Frame) mass(k plain.Kilograms) string {
	if f.inchPound() {
		return f.number("%.0f lb", float64(k/plain.Pound))
	}
	return f.number("%.0f kg", float64(k))
}

// force prints pounds-force whole; newtons below 10 kN and kilonewtons above.
func (f *Frame) force(n plain.Newtons) string {
	switch x := float64(n); {
	case f.inchPound():
		return f.number("%.0f lbf", x/(float64(plain.Pound)*plain.StandardGravity))
	case math.Abs(x) < 9999.5:
		return f.number("%.0f N", x)
	default:
		return f.number("%.1f kN", x/1000)
	}
}

// bare takes plain.Metres and the like as well as a float64 in the same unit:
// the rules compute with either, and a template may not convert.
func bare(x any) (float64, error) {
	v := reflect.ValueOf(x)
	if !v.IsValid() || !v.CanFloat() {
		return 0, fmt.Errorf("want a quantity or a float64 in SI units, got %T", x)
	}
	return v.Float(), nil
}

// Length prints metres in the mill's units: to 1/8 in, or to the millimetre
// below one metre and the centimetre above.
func (f *Frame) Length(metres any) (string, error) {
	x, err := bare(metres)
	return f.or().length(plain.Metres(x)), err
}

// Across prints what is round the way its trade names it: in inches alone, 52 in and
// not 4 ft 4 in, or in millimetres.
func (f *Frame) Across(metres any) (string, error) {
	x, err := bare(metres)
	f = f.or()
	switch {
	case math.IsNaN(x) || math.Abs(x) > 1000:
		return f.T("not known"), err
	case !f.inchPound():
		return f.number("%.0f mm", 1000*x), err
	}
	return f.together(f.T("%s in", plain.MixedNumber(int64(math.Round(x/float64(plain.Inch)*eighths)), eighths))), err
}

// Mass prints kilograms in the mill's units, whole pounds or kilograms.
func (f *Frame) Mass(kilograms any) (string, error) {
	x, err := bare(kilograms)
	return f.or().mass(plain.Kilograms(x)), err
}

// Force prints newtons in the mill's units.
func (f *Frame) Force(newtons any) (string, error) {
	x, err := bare(newtons)
	return f.or().force(plain.Newtons(x)), err
}

// Angle prints degrees to a tenth.
func (f *Frame) Angle(degrees any) (string, error) {
	x, err := bare(degrees)
	return f.or().number("%.1f°", x), err
}
