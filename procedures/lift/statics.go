package lift

import "math"

const degree = math.Pi / 180

// AngleFactor is the pull in each of two even legs over half the load: 1 over
// the sine of the leg's angle from the horizontal. +Inf for a leg that lies flat.
func AngleFactor(degrees float64) float64 { return 1 / math.Sin(degrees*degree) }
