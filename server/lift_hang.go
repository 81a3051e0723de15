package server

import (
	"math"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// drawnTilt is how far out of level a piece is drawn as it hangs and not level,
// degrees: less is hardly seen.
const drawnTilt = 0.5

// arc is the angle of a leg at its hook point.
type arc struct {
	Path string
	Text string
	At   spot
	End  bool // the text ends there
}

// pose is where the legs' ends are, in metres from the hoist hook to the right
// and downward, first leg first.
type pose struct {
	upper, hook [2][2]float64
	middle      [2]float64 // of the yoke
	angle       [2]float64 // of the legs from level, degrees
	tilt        float64    // of the piece, degrees; positive: large end down
}

// poseOf is how the piece hangs: level, or tilted where that can be seen.
func poseOf(l *lift.Lift, v *lift.Verdict) (p pose, ok bool) {
	r := &l.Rig
	g := lift.Legs{Span: l.Span, Yoke: r.YokeWidth, YokeDepth: r.HookToYoke, First: r.LegLength, Second: r.SecondLeg, Balance: float64(v.Balance - v.FirstHook)}
	if g.Second == 0 {
		g.Second = g.First
	}
	out, height, ok := g.Level()
	if !ok {
		return p, false
	}
	bar := 0.0
	p.angle = [2]float64{math.Atan2(height, out[0]) * 180 / math.Pi, math.Atan2(height, out[1]) * 180 / math.Pi}
	if rest := g.Rest(1); rest.Settled && math.Abs(rest.Tilt) > drawnTilt {
		p.tilt, p.angle, bar = rest.Tilt, rest.Angle, rest.Bar*math.Pi/180
	}
	depth := g.YokeDepth
	if g.Yoke == 0 {
		depth = 0
	}
	sin, cos := math.Sincos(bar)
	p.middle = [2]float64{-depth * sin, depth * cos}
	for i, side := range [2]float64{-1, 1} {
		leg := [2]float64{g.First, g.Second}[i]
		s, c := math.Sincos(p.angle[i] * math.Pi / 180)
		p.upper[i] = [2]float64{p.middle[0] + side*g.Yoke/2*cos, p.middle[1] + side*g.Yoke/2*sin}
		p.hook[i] = [2]float64{p.upper[i][0] + side*leg*c, p.upper[i][1] + leg*s}
	}
	return p, true
}

// hang draws what the piece hangs on, and turns the piece about its balance
// point to where it comes to rest. x is across the level piece; hooks is the
// level of its hook points and top that of the legs' upper ends.
func (d *liftDrawing) hang(f *views.Frame, l *lift.Lift, v *lift.Verdict, x func(float64) px, hooks, top px, scale float64) {
	p, ok := poseOf(l, v)
	if !ok {
		return
	}
	share := float64(v.Balance-v.FirstHook) / l.Span
	balance := [2]float64{p.hook[0][0] + share*(p.hook[1][0]-p.hook[0][0]), p.hook[0][1] + share*(p.hook[1][1]-p.hook[0][1])}
	over, level := x(float64(v.Balance)), l.Rig.HookToYoke
	if l.Rig.YokeWidth == 0 {
		level = 0
	}
	at := func(m [2]float64) spot {
		return spot{over + px((m[0]-balance[0])*scale), top + px((m[1]-level)*scale)}
	}
	hook, middle := at([2]float64{}), at(p.middle)
	hook.Y = max(hook.Y, 14)
	d.Rope = &stroke{hook.X, 4, hook.X, hook.Y}
	if l.Rig.YokeWidth > 0 {
		a, b := at(p.upper[0]), at(p.upper[1])
		d.Yoke, d.Stem = &stroke{a.X, a.Y, b.X, b.Y}, &stroke{hook.X, hook.Y, middle.X, middle.Y}
	}
	for i := range p.hook {
		a, b := at(p.hook[i]), at(p.upper[i])
		d.Legs, d.Points = append(d.Legs, stroke{a.X, a.Y, b.X, b.Y}), append(d.Points, a)
	}
	d.angles(f, &p, px(l.Span*scale))
	if p.tilt != 0 {
		down := at(balance).Y - hooks
		d.Turn = "translate(0 " + down.String() + ") rotate(" + px(p.tilt).String() + " " + over.String() + " " + hooks.String() + ")"
		d.Tilted = plain.Degrees(math.Abs(p.tilt))
		far := math.Max(float64(v.Balance), l.Piece.Length-float64(v.Balance))
		lower := max(down, 0) + px(far*scale*math.Abs(math.Sin(p.tilt*math.Pi/180)))
		d.H, d.Measure.Y1, d.Measure.Y2 = d.H+lower, d.Measure.Y1+lower, d.Measure.Y2+lower
	}
}

// angles marks the angle of the legs, of each where they differ.
func (d *liftDrawing) angles(f *views.Frame, p *pose, span px) {
	for i, side := range [2]float64{1, -1} {
		if i == 1 && math.Abs(p.angle[1]-p.angle[0]) < 0.1 {
			return
		}
		from := d.Points[i]
		turn := func(radius, angle float64) spot {
			return spot{from.X + px(side*radius*math.Cos(angle)), from.Y - px(radius*math.Sin(angle))}
		}
		radians := p.angle[i] * math.Pi / 180
		start, end, sweep := turn(arcRadius, 0), turn(arcRadius, radians), " 0 0 0 "
		if side < 0 {
			sweep = " 0 0 1 "
		}
		r := px(arcRadius).String()
		a := arc{Path: "M" + start.X.String() + " " + start.Y.String() + "A" + r + " " + r + sweep + end.X.String() + " " + end.Y.String(),
			Text: f.T("%s", plain.Degrees(p.angle[i])), At: turn(arcRadius+12, radians*0.65), End: i == 1}
		if span < 5*arcRadius { // no room between the legs
			a.At, a.End = spot{from.X - px(side)*10, from.Y - 14}, i == 0
		}
		d.Arcs = append(d.Arcs, a)
	}
}
