package lift

import (
	"slices"

	"stillsaw/procedures/plain"
)

// Landing is how a piece lies once it is down. Lengths along the piece are from
// its small end.
type Landing struct {
	HalfLength plain.Metres    // where to chalk the mark that goes over the carriage's own
	Balance    plain.Metres    // balance point
	Bears      []int           // which of the headblocks it lies on, by their place in the list
	Overhang   [2]plain.Metres // past the outer headblocks it lies on, small end first
	Share      []float64       // of the weight, where it lies on just two; else empty
	Rests      bool            // it lies on two or more, with its balance point between the outer ones
	Said       plain.Sentence  // why it does not rest
}

// leastBearing is how far an end must reach past a headblock to lie on it, in
// metres: an inch, to which a piece is measured and set down. Own choice.
const leastBearing = 0.0254

// Land works out where a piece comes to lie on a carriage: headblocks are their
// positions along the track in metres, in any order, and mark the position over
// which the piece's half-length mark is set down, small end toward the lower
// positions. The error is a [plain.Problems]. Moments about the headblocks;
// with more than two the shares aren't determinate.
func Land(p Piece, headblocks []float64, mark float64) (Landing, error) {
	var bad plain.Problems
	bad.Add("", p.Validate())
	const farthest = 100 // m of track
	for _, at := range append(slices.Clone(headblocks), mark) {
		if !(at >= -farthest && at <= farthest) {
			bad.Unless(false, "headblocks", "positions along the track of at most %s", plain.Metres(farthest))
			break
		}
	}
	if err := bad.Err(); err != nil {
		return Landing{}, err
	}
	half, balance := p.Length/2, p.BalancePoint()
	l := Landing{HalfLength: plain.Metres(half), Balance: plain.Metres(balance)}
	small := mark - half
	first, last := -1, -1
	for i, at := range headblocks {
		if at < small+leastBearing || at > small+p.Length-leastBearing {
			continue
		}
		l.Bears = append(l.Bears, i)
		if first < 0 || at < headblocks[first] {
			first = i
		}
		if last < 0 || at > headblocks[last] {
			last = i
		}
	}
	if len(l.Bears) == 0 {
		l.Said = plain.Say("it lies on no headblock")
		return l, nil
	}
	l.Overhang = [2]plain.Metres{plain.Metres(headblocks[first] - small), plain.Metres(small + p.Length - headblocks[last])}
	apart := headblocks[last] - headblocks[first]
	reach := small + balance - headblocks[first]
	switch {
	case !(apart > 0):
		l.Said = plain.Say("it lies on one headblock only and would tip: set it down where it meets two, or dog it before the hooks come off")
		return l, nil
	case !(reach > 0 && reach < apart):
		l.Said = plain.Say("its balance point lies outside the headblocks it bears on: it would tip when the hooks come off")
		return l, nil
	}
	l.Rests = true
	if len(l.Bears) == 2 {
		l.Share = []float64{1 - reach/apart, reach / apart}
		if l.Bears[0] != first {
			slices.Reverse(l.Share)
		}
	}
	return l, nil
}
