package server

import (
	"math"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// endDrawing is the small end of a slabbed cant as one looks at it, top up, to
// a scale of its own: the log's circle with the flats cut off.
type endDrawing struct {
	Side, Middle, Radius px // of the square view box, and of the log in it
	Wood                 string
	Said                 string
}

const (
	endSide   = 120.0
	endRadius = 54.0
	endCorner = 3 // degrees from one corner of the drawn round to the next
)

func drawEnd(f *views.Frame, p *lift.Piece) *endDrawing {
	if p.Shape != lift.Slabbed || !(p.Small > 0) {
		return nil
	}
	d := &endDrawing{Side: endSide, Middle: endSide / 2, Radius: endRadius}
	for _, corner := range endCorners(p) {
		d.Wood += (d.Middle + px(corner[0]*endRadius)).String() + "," + (d.Middle - px(corner[1]*endRadius)).String() + " "
	}
	d.Said = f.T("The small end, top up: a log %[1]s through, sawn to %[2]s high and %[3]s wide.",
		plain.Metres(p.Small), plain.Metres(p.Small-p.Slabs[0]-p.Slabs[1]), plain.Metres(p.Small-p.Slabs[2]-p.Slabs[3]))
	return d
}

// endCorners are the corners of the sawn end, right and up from the log's axis
// in radii of the log: its circle cut by each of the four faces in turn.
func endCorners(p *lift.Piece) [][2]float64 {
	var around [][2]float64
	for degrees := 0; degrees < 360; degrees += endCorner {
		sin, cos := math.Sincos(float64(degrees) * math.Pi / 180)
		around = append(around, [2]float64{cos, sin})
	}
	for i, out := range [4][2]float64{{0, 1}, {0, -1}, {-1, 0}, {1, 0}} {
		if p.Slabs[i] > 0 {
			around = cutAlong(around, out, 1-2*p.Slabs[i]/p.Small)
		}
	}
	return around
}

// cutAlong keeps what of a convex outline lies no farther out than far.
func cutAlong(outline [][2]float64, out [2]float64, far float64) (kept [][2]float64) {
	over := func(c [2]float64) float64 { return c[0]*out[0] + c[1]*out[1] - far }
	for i, here := range outline {
		next := outline[(i+1)%len(outline)]
		a, b := over(here), over(next)
		if a <= 0 {
			kept = append(kept, here)
		}
		if a*b < 0 {
			share := a / (a - b)
			kept = append(kept, [2]float64{here[0] + share*(next[0]-here[0]), here[1] + share*(next[1]-here[1])})
		}
	}
	return kept
}
