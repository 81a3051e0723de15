package lift

import (
	"strings"

	"stillsaw/procedures/plain"
)

// mostDensity is the largest density that can be meant at all, kg/m³.
const mostDensity = 1e5

// ParseDensity reads a density: 55 lb/ft³, 55 lb/ft3, 880 kg/m³, 880 kg/m3, or
// a bare number, which is per cubic foot with bare Pounds and per cubic metre
// with bare Kilograms. The error is as of [ParseLength].
func ParseDensity(text string, bare Unit) (plain.KilogramsPerCubic, error) {
	const example = "a density, like 55 lb/ft³ or 880 kg/m³"
	perFoot := float64(plain.Pound) / float64(plain.Foot*plain.Foot*plain.Foot)
	rest := strings.ToLower(strings.TrimSpace(plainSigns().Replace(text)))
	size := map[Unit]float64{Pounds: perFoot, Kilograms: 1}[bare]
	number, unit := rest, ""
	if end := strings.IndexFunc(rest, func(r rune) bool { return !strings.ContainsRune("0123456789./ ", r) }); end >= 0 {
		number, unit = strings.TrimRight(rest[:end], " "), strings.Join(strings.Fields(rest[end:]), " ")
	}
	switch unit {
	case "":
	case "lb/ft³", "lb/ft3", "lb/ft^3", "lbs/ft³", "lbs/ft3", "lb/cu ft", "pcf":
		size = perFoot
	case "kg/m³", "kg/m3", "kg/m^3":
		size = 1
	default:
		return 0, want("%s", plain.Say(example))
	}
	n, after, ok := parseNumber(number)
	switch {
	case len(text) > 64 || !ok || after != "":
		return 0, want("%s", plain.Say(example))
	case size == 0:
		return 0, want("the unit too: %s", plain.Say(example))
	case !(n*size <= mostDensity):
		return 0, want("a smaller number: %s", plain.Say(example))
	}
	return plain.KilogramsPerCubic(n * size), nil
}
