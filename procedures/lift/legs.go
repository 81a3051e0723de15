package lift

import "math"

// Legs is how a piece is held by two legs that may differ in length. The first
// leg is the one at the end from which the balance point is measured. Metres.
type Legs struct {
	Span          float64 // between the hook points
	Yoke          float64 // between the legs' upper ends; 0 = both from one point
	YokeDepth     float64 // hoist hook above the middle of the upper ends, with a yoke
	First, Second float64 // length of each leg
	Balance       float64 // balance point from the first hook point, along their line
	Below         float64 // balance point below that line
}

// Posture is how a piece comes to rest. Angles are degrees; pulls are in the
// unit of the weight hung.
type Posture struct {
	Tilt    float64    // of the line through the hook points; positive: the second end is down
	Bar     float64    // of the yoke, the same way; 0 without one
	Pull    [2]float64 // in the legs
	Angle   [2]float64 // of the legs from the horizontal as they come to hang
	Settled bool       // false: the legs don't reach, hang plumb or pull outward, or no rest was found
}

// Level is how far out each leg reaches and the height of the upper ends above
// the hook points when piece and yoke lie level. ok is false when the legs
// would hang plumb or pull outward, or don't reach.
func (g *Legs) Level() (out [2]float64, height float64, ok bool) {
	both := g.Span - g.Yoke
	if !(both > 0 && g.First > 0 && g.Second > 0 && g.Yoke >= 0) || math.IsInf(g.First+g.Second, 1) {
		return out, 0, false
	}
	out[0] = both/2 + (g.First-g.Second)*(g.First+g.Second)/(2*both)
	out[1] = both - out[0]
	height = math.Sqrt(g.First*g.First - out[0]*out[0])
	return out, height, out[0] > 0 && out[1] > 0 && height > 0
}

// Rest finds how a piece of the given weight comes to hang. A yoke swings about
// the hoist hook. The mass of yoke and legs is left out: it would right the
// piece, so the tilt is the most it can be.
//
// Statics: the forces on the piece balance, and so do those on the yoke. From
// one point this is closed; under a yoke three equations are solved.
func (g *Legs) Rest(weight float64) (p Posture) {
	out, height, ok := g.Level()
	if !ok || !(g.Balance > 0 && g.Balance < g.Span && g.YokeDepth >= 0 && g.Below >= 0) {
		return p
	}
	lean := [2]float64{math.Atan2(out[0], height), math.Atan2(out[1], height)}
	if g.Yoke == 0 {
		tip := math.Atan2(g.Balance-out[0], height+g.Below)
		lean[0], lean[1] = lean[0]+tip, lean[1]-tip
		return restWith(weight, tip, 0, lean)
	}
	bar, lean, ok := g.settle(lean)
	if !ok {
		return p
	}
	left, right := g.hooks(bar, lean)
	return restWith(weight, math.Atan2(right[1]-left[1], right[0]-left[0]), bar, lean)
}

// restWith is the posture of legs that lean from plumb by so many radians: each
// pull goes as the sine of the other's lean.
func restWith(weight, tip, bar float64, lean [2]float64) Posture {
	between := math.Sin(lean[0] + lean[1])
	p := Posture{
		Tilt: tip / degree, Bar: bar / degree,
		Pull:  [2]float64{weight * math.Sin(lean[1]) / between, weight * math.Sin(lean[0]) / between},
		Angle: [2]float64{90 - lean[0]/degree, 90 - lean[1]/degree},
	}
	p.Settled = lean[0] > 0 && lean[1] > 0 && p.Angle[0] > 0 && p.Angle[1] > 0
	return p
}

// hooks are the hook points, in metres from the hoist hook to the right and
// downward, for a yoke turned by bar, right end down, and legs leaning outward.
func (g *Legs) hooks(bar float64, lean [2]float64) (left, right [2]float64) {
	sin, cos := math.Sincos(bar)
	sin1, cos1 := math.Sincos(lean[0])
	sin2, cos2 := math.Sincos(lean[1])
	half := g.Yoke / 2
	x, y := -g.YokeDepth*sin, g.YokeDepth*cos
	return [2]float64{x - half*cos - g.First*sin1, y - half*sin + g.First*cos1},
		[2]float64{x + half*cos + g.Second*sin2, y + half*sin + g.Second*cos2}
}

// unrest is what is left over: of the distance of the hook points, of the
// moment on the yoke about the hoist hook, and of the balance point from the
// plumb line, each as a share.
func (g *Legs) unrest(u [3]float64) [3]float64 {
	lean := [2]float64{u[1], u[2]}
	left, right := g.hooks(u[0], lean)
	dx, dy := right[0]-left[0], right[1]-left[1]
	long := math.Hypot(dx, dy)
	sin, cos := math.Sincos(u[0])
	sin1, cos1 := math.Sincos(u[1])
	sin2, cos2 := math.Sincos(u[2])
	between := sin1*cos2 + cos1*sin2
	// The level parts of the two pulls are alike; half the yoke is the arm.
	moment := cos*(sin1*cos2-sin2*cos1)/between - 2*sin*(sin1*sin2/between+g.YokeDepth/g.Yoke)
	return [3]float64{long/g.Span - 1, moment, (left[0] + (g.Balance*dx-g.Below*dy)/long) / g.Span}
}

// settle solves the three by Newton's method from the level pose, in radians.
func (g *Legs) settle(lean [2]float64) (bar float64, rest [2]float64, ok bool) {
	const (
		rounds = 30
		nudge  = 1e-6
		near   = 1e-11
	)
	u := [3]float64{0, lean[0], lean[1]}
	for range rounds {
		f := g.unrest(u)
		if math.Abs(f[0])+math.Abs(f[1])+math.Abs(f[2]) < near {
			return u[0], [2]float64{u[1], u[2]}, true
		}
		var slope [3][3]float64 // by column: what each unknown changes
		for i := range u {
			ahead, behind := u, u
			ahead[i], behind[i] = u[i]+nudge, u[i]-nudge
			a, b := g.unrest(ahead), g.unrest(behind)
			for row := range a {
				slope[i][row] = (a[row] - b[row]) / (2 * nudge)
			}
		}
		whole := triple(slope[0], slope[1], slope[2])
		step := [3]float64{triple(f, slope[1], slope[2]) / whole, triple(slope[0], f, slope[2]) / whole, triple(slope[0], slope[1], f) / whole}
		for i := range u {
			u[i] -= step[i]
			if !(math.Abs(u[i]) < math.Pi/2) {
				return 0, lean, false
			}
		}
	}
	return 0, lean, false
}

// triple is the determinant of three columns.
func triple(a, b, c [3]float64) float64 {
	return a[0]*(b[1]*c[2]-b[2]*c[1]) - a[1]*(b[0]*c[2]-b[2]*c[0]) + a[2]*(b[0]*c[1]-b[1]*c[0])
}
