package lift

import (
	"math"
	"slices"

	"stillsaw/procedures/plain"
)

// sift returns the ratios that count and the readings that are odd. With few
// readings the published mean and spread are what they are held against, later
// their own median, which a few wild ones can't move.
func sift(weighings []Weighing, spread float64) (counted []float64, odd []Odd) {
	var possible []Weighing
	for _, w := range weighings {
		density := w.Weighed / w.Volume
		if ratio := w.Ratio(); ratio > 0 && density >= lightestWood && density <= heaviestWood {
			possible = append(possible, w)
			continue
		}
		odd = append(odd, Odd{w.Lift, plain.Fraction(w.Ratio()), false,
			plain.Say("no wood weighs this: look at the scale, the sizes and what else hung on it; not counted")})
	}
	middle, scatter := 1.0, spread
	if len(possible) >= lighterFrom {
		middle, scatter = medianOf(possible)
	}
	for _, w := range possible {
		ratio := w.Ratio()
		switch score := (ratio - middle) / scatter; {
		case score < -oddScore:
			odd = append(odd, Odd{w.Lift, plain.Fraction(ratio), false,
				plain.Say("much lighter than the others: was all of it hanging free? Not counted")})
		case score > oddScore:
			odd = append(odd, Odd{w.Lift, plain.Fraction(ratio), true,
				plain.Say("much heavier than the others: counted until a supervisor puts it aside with a reason")})
			counted = append(counted, ratio)
		default:
			counted = append(counted, ratio)
		}
	}
	return counted, odd
}

// medianOf is the median of the ratios and their median deviation from it, as
// the standard deviation it would be of normal readings.
func medianOf(weighings []Weighing) (middle, scatter float64) {
	ratios := make([]float64, len(weighings))
	for i, w := range weighings {
		ratios[i] = w.Ratio()
	}
	middle = median(ratios)
	for i, x := range ratios {
		ratios[i] = math.Abs(x - middle)
	}
	return middle, math.Max(medianToSD*median(ratios), leastScatter*middle)
}

// median sorts its list.
func median(list []float64) float64 {
	slices.Sort(list)
	half := len(list) / 2
	if len(list)%2 == 1 {
		return list[half]
	}
	return (list[half-1] + list[half]) / 2
}

// student95 is the one-sided 95 % point of Student's t. To 30 degrees of
// freedom from the table of the NIST/SEMATECH e-Handbook of Statistical Methods
// (a copy of it); past them by the expansion of Abramowitz and Stegun 26.7.5
// (from memory).
func student95(degrees int) float64 {
	table := [...]float64{6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812,
		1.796, 1.782, 1.771, 1.761, 1.753, 1.746, 1.740, 1.734, 1.729, 1.725,
		1.721, 1.717, 1.714, 1.711, 1.708, 1.706, 1.703, 1.701, 1.699, 1.697}
	switch {
	case degrees < 1:
		return math.Inf(1)
	case degrees <= len(table):
		return table[degrees-1]
	}
	const z = 1.6448536269514722
	n := float64(degrees)
	return z + (z*z*z+z)/(4*n) + (5*math.Pow(z, 5)+16*z*z*z+3*z)/(96*n*n)
}
