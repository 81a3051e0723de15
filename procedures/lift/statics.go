package lift

import "math"

const degree = math.Pi / 180

// AngleFactor is the pull in each of two even legs over half the load: 1 over
// the sine of the leg's angle from the horizontal. +Inf for a leg that lies flat.
func AngleFactor(degrees float64) float64 { return 1 / math.Sin(degrees*degree) }

// LegAngle is the angle of two even legs from the horizontal and the height of
// their upper ends above the hook points, for hook points span apart, a yoke as
// wide as yoke (0: both legs from one point) and legs as long as leg. ok is
// false when the legs would hang plumb or pull outward, or don't reach.
func LegAngle(span, yoke, leg float64) (degrees, height float64, ok bool) {
	out := (span - yoke) / 2
	if !(out > 0 && leg > out && yoke >= 0) || math.IsInf(leg, 1) {
		return 0, 0, false
	}
	return math.Acos(out/leg) / degree, math.Sqrt(leg*leg - out*out), true
}

// Pulls are the pulls in two legs from one point plumb above the balance
// point, rise over the hook points; first and second are the level distances of
// the hook points from the plumb line. Same unit as weight. Moments about each
// hook point give the shares.
func Pulls(weight, first, second, rise float64) (one, two float64) {
	both := first + second
	one = weight * second / both * math.Hypot(first, rise) / rise
	two = weight * first / both * math.Hypot(second, rise) / rise
	return one, two
}

// Tilt is how far, in degrees, a piece on two even legs from one point tips
// when its balance point lies off from the middle of the hook points and below
// their line, and the pull in the leg it lies away from and in the one it lies
// toward. The piece turns until the balance point hangs plumb under the apex.
func Tilt(weight, span, leg, off, below float64) (degrees, away, toward float64) {
	half := span / 2
	height := math.Sqrt(leg*leg - half*half)
	tip := math.Atan2(off, height+below)
	lean := math.Asin(half / leg) // of each leg from the line that bisects them
	// Forces of a body on two legs: each pull goes as the sine of the other's lean.
	scale := weight / math.Sin(2*lean)
	return tip / degree, scale * math.Sin(lean-tip), scale * math.Sin(lean+tip)
}
