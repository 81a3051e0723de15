package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

const (
	mostHeadblocks = 12
	mostTrack      = 30.0 // m, of distances from the zero mark
	nearest        = 0.05 // m, between two headblocks
)

// checkTrack returns nil or a [plain.Problems] for "headblocks" and
// "landing_mark": distances along the track of a carriage, no two headblocks in
// one place, and where a piece is set down once there are headblocks.
func (e *Equipment) checkTrack() error {
	var bad plain.Problems
	on := func(at float64) bool { return at >= 0 && at <= mostTrack }
	measured := len(e.Headblocks) > 0 || e.LandingMark != 0
	bad.Unless(!measured || e.Kind == Carriage, "headblocks", "none: only a carriage has headblocks")
	bad.Unless(len(e.Headblocks) <= mostHeadblocks, "headblocks", "at most %d headblocks", mostHeadblocks)
	order := slices.Sorted(slices.Values(e.Headblocks))
	for i, at := range order {
		if !on(at) || i > 0 && !(at-order[i-1] >= nearest) {
			bad.Unless(false, "headblocks", "each headblock's own distance from the zero mark, none less than nothing, at most %s", plain.Metres(mostTrack))
			break
		}
	}
	bad.Unless(on(e.LandingMark) && (e.LandingMark > 0 || len(e.Headblocks) == 0), "landing_mark",
		"where the half-length mark is set down, from the same zero mark: more than nothing, at most %s", plain.Metres(mostTrack))
	return bad.Err()
}
