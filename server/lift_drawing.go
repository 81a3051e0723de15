package server

import (
	"math"
	"strconv"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// px is a length on a drawing, in units of its view box.
type px float64

// String has one decimal: finer than any screen.
func (p px) String() string { return strconv.FormatFloat(math.Round(float64(p)*10)/10, 'f', -1, 64) }

type stroke struct{ X1, Y1, X2, Y2 px }

type spot struct{ X, Y px }

// liftDrawing is a piece on its hooks from the side, to scale, small end left.
// What could not be worked out is not drawn.
type liftDrawing struct {
	W, H    px
	Alt     string
	Piece   string      // corners of the outline
	Guessed bool        // the outline is only as long as the piece, its section is not known at both ends
	End     *endDrawing // nil where there is no flat to show
	Rope    *stroke
	Yoke    *stroke
	Stem    *stroke // hoist hook to yoke
	Legs    []stroke
	Points  []spot        // hook points
	Arcs    []arc         // from the level to each leg
	Turn    string        // transform of the piece as it comes to hang, "" for level
	Tilted  plain.Degrees // how far out of level it is drawn
	Balance *spot
	Half    stroke // half-length mark
	Measure stroke // dimension of the length
	Length  string
	MiddleX px
}

const (
	drawnWide   = 360.0 // view box; near the width of a phone, so that its letters are as large as the page's
	drawnPiece  = 316.0 // the longest the piece is drawn
	drawnHigh   = 250.0 // the highest legs and piece are drawn
	drawnMargin = 22.0
	ropeHigh    = 34.0
	footHigh    = 44.0
	arcRadius   = 40.0
)

// outline is how far the piece reaches above and below its axis at both ends, m.
func outline(p *lift.Piece) (smallUp, smallDown, largeUp, largeDown float64, known bool) {
	switch p.Shape {
	case lift.Round:
		if middleAlone(p) { // how it tapers, and to which end, nobody measured
			return p.Middle / 2, p.Middle / 2, p.Middle / 2, p.Middle / 2, false
		}
		return p.Small / 2, p.Small / 2, p.Large / 2, p.Large / 2, true
	case lift.Slabbed:
		face := func(depth float64) (small, large float64) {
			if depth > 0 { // sawn in line with the axis: no taper left
				return p.Small/2 - depth, p.Small/2 - depth
			}
			return p.Small / 2, p.Large / 2
		}
		smallUp, largeUp = face(p.Slabs[0])
		smallDown, largeDown = face(p.Slabs[1])
		return smallUp, smallDown, largeUp, largeDown, true
	case lift.Squared:
		return p.Height / 2, p.Height / 2, p.Height / 2, p.Height / 2, true
	case lift.Measured:
		half := math.Sqrt(p.Volume/p.Length) / 2 // a square bar of that volume
		return half, half, half, half, false
	}
	return 0, 0, 0, 0, false
}

func drawLift(f *views.Frame, l *lift.Lift, v *lift.Verdict) liftDrawing {
	p := &l.Piece
	smallUp, smallDown, largeUp, largeDown, known := outline(p)
	up, down := math.Max(smallUp, largeUp), math.Max(smallDown, largeDown)
	height, balance := float64(v.Height), float64(v.Balance)
	if p.Balance == 0 && (middleAlone(p) || p.Shape == lift.Measured) {
		balance = 0 // nobody knows it, nor how the piece would hang but on hooks set about it
		if v.FirstHook <= 0 {
			height = 0
		}
	}
	scale := math.Min(drawnPiece/p.Length, drawnHigh/(height+up+down))
	left := (drawnWide - p.Length*scale) / 2
	top := drawnMargin
	if height > 0 {
		top += ropeHigh
	}
	hooks := top + height*scale // the level of the hook points: on the axis for end hooks, else on top
	axis := hooks + up*scale
	if height > 0 && l.Rig.Hitch == lift.EndHooks {
		axis = hooks
	}
	x := func(m float64) px { return px(left + m*scale) }
	y := func(m float64) px { return px(axis - m*scale) }

	d := liftDrawing{End: drawEnd(f, p), W: drawnWide, H: px(axis+down*scale) + footHigh, Guessed: !known, MiddleX: drawnWide / 2, Length: f.T("%s", plain.Metres(p.Length))}
	for _, corner := range []spot{{x(0), y(smallUp)}, {x(p.Length), y(largeUp)}, {x(p.Length), y(-largeDown)}, {x(0), y(-smallDown)}} {
		d.Piece += corner.X.String() + "," + corner.Y.String() + " "
	}
	foot := px(axis + down*scale)
	d.Measure = stroke{x(0), foot + 20, x(p.Length), foot + 20}
	d.Half = stroke{x(p.Length / 2), y(up) - 6, x(p.Length / 2), foot + 8}
	if balance > 0 {
		d.Balance = &spot{x(balance), px(axis + (down-up)*scale/2)}
	}
	if height > 0 {
		d.hang(f, l, v, x, px(hooks), px(top), scale)
	}
	d.Alt = f.T("The piece from the side, to scale: %[1]s long, small end on the left.", d.Length)
	return d
}

// rung is one bar of the ladder of the load path.
type rung struct {
	Name, Load, Limit, Share string
	Width                    px // of 100
	Unknown, Over, Weakest   bool
}

// fullBar is the ratio of load and limit at which a bar fills its width.
const fullBar = 1.25

func ladder(f *views.Frame, v *lift.Verdict) []rung {
	var rungs []rung
	for _, b := range v.Bars {
		r := rung{Name: f.T("%s", plain.Say(b.Name)), Load: f.T("%s", b.Load), Limit: f.T("%s", b.Limit), Weakest: b.Name == v.Weakest}
		switch {
		case math.IsInf(b.Ratio, 0) || math.IsNaN(b.Ratio):
			r.Unknown, r.Limit, r.Width = true, f.T("not known"), 100
		default:
			r.Share, r.Over = f.T("%s", plain.Fraction(b.Ratio)), b.Ratio > 1
			r.Width = px(100 * math.Min(b.Ratio/fullBar, 1))
		}
		rungs = append(rungs, r)
	}
	return rungs
}

// limitAt and marginAt are where on a bar the limit and the house margin stand.
func limitAt() px { return 100 / fullBar }

func marginAt(r *lift.Rig) px {
	if r.HouseMargin > 0 {
		return px(r.HouseMargin) * limitAt()
	}
	return px(lift.DefaultMargin) * limitAt()
}
