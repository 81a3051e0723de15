package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// depth is how far the piece may reach down from its hook points: half its
// thickness from end hooks, all of it from slings, bark with it. +Inf where it
// isn't known.
func (p *Piece) depth(grips bool) float64 {
	thick := math.Inf(1)
	switch p.Shape {
	case Round:
		thick = p.widest()
		if p.middleOnly() {
			thick += middleTaper * p.Length / 2
		}
	case Slabbed:
		thick = math.Max(p.Large-p.Slabs[0]-p.Slabs[1], p.Large-p.Slabs[2]-p.Slabs[3])
	case Squared:
		thick = math.Max(p.Width, p.Height)
	case Measured:
		if p.Large > 0 {
			thick = p.Large
		}
	}
	if p.Bark && !p.OverBark {
		s, standsIn := p.kind()
		if standsIn || s.BarkVolume == 0 {
			s.BarkVolume = thickestBark
		}
		thick *= math.Sqrt(1 + s.BarkVolume)
	}
	if grips {
		return thick / 2
	}
	return thick
}

// needed is the height from the hoist hook's saddle down to what the piece has
// to pass over, metres.
func (l *Lift) needed(height, tilt float64) float64 {
	clear := l.Rig.Clearance
	if clear == 0 {
		clear = DefaultClearance
	}
	return l.Rig.HookToYoke + height + l.Piece.depth(l.Rig.grips()) + l.Piece.Length/2*math.Sin(tilt*degree) + clear
}

// checkHeadroom says where the piece can't be lifted high enough. A headroom
// that nobody measured says nothing: the lift then ends at the hoist's limit
// switch, not in the air.
func (v *Verdict) checkHeadroom(l *Lift, h *hang) {
	r := &l.Rig
	if r.Headroom == 0 {
		return
	}
	if r.YokeWidth > 0 && r.HookToYoke == 0 {
		v.block(HeadroomRule, "", "geometry", "how far the legs' upper ends hang below the hoist hook is not known, so the headroom can't be judged")
		return
	}
	need := l.needed(h.height, h.tilt)
	switch {
	case math.IsInf(need, 1):
		v.block(HeadroomRule, "", "geometry", "how thick the piece is, is not known, so the headroom can't be judged")
	case need > r.Headroom+1e-9:
		v.block(HeadroomRule, "", "geometry", "it needs %s from the hoist hook down; there are %s", plain.Metres(need), plain.Metres(r.Headroom))
	}
}
