package lift

import (
	"strings"

	"stillsaw/procedures/plain"
)

// Largest densities and volumes that can be meant at all, kg/m³ and m³.
const (
	mostDensity = 1e5
	mostCubic   = 1e4
)

// ParseDensity reads a density: 55 lb/ft³, 55 lb/ft3, 880 kg/m³, 880 kg/m3, or
// a bare number, which is per cubic foot with bare Pounds and per cubic metre
// with bare Kilograms. The error is as of [ParseLength].
func ParseDensity(text string, bare Unit) (plain.KilogramsPerCubic, error) {
	perFoot := float64(plain.Pound) / footCubed
	x, err := parseCubic(text, map[Unit]float64{Pounds: perFoot, Kilograms: 1}[bare], mostDensity, "a density, like 55 lb/ft³ or 880 kg/m³",
		map[string]float64{"lb/ft³": perFoot, "lb/ft3": perFoot, "lb/ft^3": perFoot, "lbs/ft³": perFoot, "lbs/ft3": perFoot, "lb/cu ft": perFoot, "pcf": perFoot,
			"kg/m³": 1, "kg/m3": 1, "kg/m^3": 1})
	return plain.KilogramsPerCubic(x), err
}

// ParseVolume reads a volume: 38 ft³, 38 ft3, 38 cu ft, 1.08 m³, 1.08 m3, or a
// bare number, which is cubic feet with bare Inches or Feet and cubic metres with
// a metric unit of length. The error is as of [ParseLength].
func ParseVolume(text string, bare Unit) (plain.CubicMetres, error) {
	size := map[Unit]float64{Inches: footCubed, Feet: footCubed, Millimetres: 1, Centimetres: 1, Metres: 1}[bare]
	x, err := parseCubic(text, size, mostCubic, "a volume, like 38 ft³ or 1.08 m³",
		map[string]float64{"ft³": footCubed, "ft3": footCubed, "ft^3": footCubed, "cu ft": footCubed, "cubic feet": footCubed, "m³": 1, "m3": 1, "m^3": 1, "cubic metres": 1, "cubic meters": 1})
	return plain.CubicMetres(x), err
}

const footCubed = float64(plain.Foot * plain.Foot * plain.Foot) // m³

// parseCubic takes one number and one of the units; bare is the size of a number
// without, 0 where it must have one.
func parseCubic(text string, bare, most float64, example string, units map[string]float64) (float64, error) {
	rest := strings.ToLower(strings.TrimSpace(plainSigns().Replace(text)))
	number, size := rest, bare
	if end := strings.IndexFunc(rest, func(r rune) bool { return !strings.ContainsRune("0123456789./ ", r) }); end >= 0 {
		known := false
		number = strings.TrimRight(rest[:end], " ")
		if size, known = units[strings.Join(strings.Fields(rest[end:]), " ")]; !known {
			return 0, want("%s", plain.Say(example))
		}
	}
	n, after, ok := parseNumber(number)
	switch {
	case len(text) > 64 || !ok || after != "":
		return 0, want("%s", plain.Say(example))
	case size == 0:
		return 0, want("the unit too: %s", plain.Say(example))
	case !(n*size <= most):
		return 0, want("a smaller number: %s", plain.Say(example))
	}
	return n * size, nil
}
