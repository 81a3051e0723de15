package lift

import "math"

// BeamImpact is what a powered hoist adds to the load on its beam by starting
// and stopping, as a fraction, for a hook speed in metres a second: 15 % to 30
// ft a minute, half a percent for each foot a minute from there, 50 % at most;
// nothing for a hand chain hoist. For the person who rates the beam and for
// cautions: rated loads already allow for it, so no verdict adds it. Source:
// Minnesota amendment to IBC 1607.13, since repealed; other codes differ.
func BeamImpact(metresPerSecond float64, byHand bool) float64 {
	if byHand {
		return 0
	}
	perMinute := metresPerSecond * 60 / 0.3048
	return math.Max(0.15, math.Min(0.50, 0.005*perMinute))
}

// Snatch is the pull over the weight hung when a load drops through some slack
// before gear that stretches by stretch under the weight takes it; both in
// metres. Without slack it is 2, which is why a lift begins gently, and any
// slack that can be taken up with a jerk is a reason not to lift. Source:
// textbook energy balance, from memory.
func Snatch(slack, stretch float64) float64 {
	if !(stretch > 0) {
		return math.Inf(1)
	}
	return 1 + math.Sqrt(1+2*slack/stretch)
}

// SlabShift is how far the balance point of a log's section moves away from a
// single slab of this depth, and how far from the log's axis the slab's own
// lies; radius, depth and both results in metres. Geometry.
func SlabShift(radius, depth float64) (shift, slab float64) {
	if !(depth > 0 && depth < 2*radius) {
		return 0, 0
	}
	half := math.Acos((radius - depth) / radius)
	off := segment(radius, radius-depth)
	slab = 2. / 3 * math.Pow(radius*math.Sin(half), 3) / off // first moment of the segment over its area
	return off * slab / (math.Pi*radius*radius - off), slab
}
