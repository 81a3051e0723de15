package table

import "strconv"

// SI is x in the SI unit of its kind; ok is false for a unit not known here,
// such as a count. Factors: NIST SP 811 (2008), appendix B.9, from memory; the
// inch of water is the conventional one.
func SI(x float64, unit string) (si float64, name string, ok bool) {
	var factor float64
	switch unit {
	case "in":
		factor, name = 0.0254, "m"
	case "ft":
		factor, name = 0.3048, "m"
	case "mm":
		factor, name = 0.001, "m"
	case "cm":
		factor, name = 0.01, "m"
	case "m":
		factor, name = 1, "m"
	case "lb":
		factor, name = 0.45359237, "kg"
	case "kg":
		factor, name = 1, "kg"
	case "psi":
		factor, name = 6894.757, "Pa"
	case "bar":
		factor, name = 100000, "Pa"
	case "kPa":
		factor, name = 1000, "Pa"
	case "in w.g.":
		factor, name = 249.0889, "Pa"
	case "ft/min":
		factor, name = 0.00508, "m/s"
	case "m/s":
		factor, name = 1, "m/s"
	case "rpm":
		factor, name = 1.0/60, "1/s"
	case "s":
		factor, name = 1, "s"
	case "min":
		factor, name = 60, "s"
	case "h":
		factor, name = 3600, "s"
	case "%":
		factor, name = 0.01, "1"
	default:
		return 0, "", false
	}
	// What a binary fraction adds beyond the digits that mean something is cut off.
	si, err := strconv.ParseFloat(strconv.FormatFloat(x*factor, 'g', 9, 64), 64)
	return si, name, err == nil
}
