package lift

import (
	"math"
	"slices"
	"time"
	"unicode"

	"stillsaw/procedures/plain"
)

// Placing is where the hook points sit along the piece.
type Placing uint8

// The placings. OverBalance: as far on one side of the balance point as on the
// other. AtEnds: as far in from one end as from the other. HungLevel: shifted by
// trial until the piece hangs level, which on legs of two lengths is another
// place than OverBalance and on legs alike the same.
const (
	PlacingUnknown Placing = iota
	AtEnds
	OverBalance
	HungLevel
)

func placingNames() []string { return []string{"unknown", "at-ends", "over-balance", "hung-level"} }

// String is the name ParsePlacing takes.
func (p Placing) String() string { return nameOf(placingNames(), int(p)) }

// ParsePlacing reads at-ends, over-balance or hung-level.
func ParsePlacing(text string) (Placing, error) {
	i, err := indexOf(placingNames(), text)
	return Placing(i), err
}

// MarshalText writes the name.
func (p Placing) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText is ParsePlacing.
func (p *Placing) UnmarshalText(text []byte) (err error) {
	*p, err = ParsePlacing(string(text))
	return err
}

// Lift is everything one verdict rests on.
type Lift struct {
	Piece     Piece
	Rig       Rig
	Span      float64 // m between the hook points; 0 = unknown
	Placing   Placing // end hooks are AtEnds whatever is entered: they can sit nowhere else
	Questions Questions
	Now       time.Time
	// Holds are what the caller knows that forbids the lift: a reported lockout,
	// a stop defect, a pre-shift check not done. Each is a NO-GO.
	Holds []plain.Sentence
}

// Check says whether the lift may be made, with every reason. It is GO only
// when nothing is unknown, nothing forbids and every link bears its share of
// the upper weight and of the gear below it.
func Check(l Lift) Verdict {
	var v Verdict
	v.Check(&l)
	return v
}

// Check is the function of that name, into a verdict whose slices are used
// again, for a whole chart of lifts at once.
func (v *Verdict) Check(l *Lift) {
	v.reset()
	if l.Now.IsZero() {
		v.block(TimeRule, "", "", "the time of this check, which is not known")
	}
	for _, hold := range l.Holds {
		v.Findings = append(v.Findings, Finding{Rule: HoldRule, Said: hold, Blocks: true})
	}
	v.checkQuestions(l)
	sound := v.checkRig(&l.Rig)
	v.checkLinks(&l.Rig, l.Now)
	v.checkEdges(l)
	wood, err := l.Piece.weighInto(&v.Weight)
	if err != nil {
		v.refusePiece(err)
		sound = false
	}
	if sound {
		v.Balance = plain.Metres(l.Piece.balanceOf(wood))
		hang, ok := v.checkHang(l)
		v.checkStrength(&l.Rig, hang, ok)
	}
	slices.SortStableFunc(v.Findings, worseFirst)
	v.decide(sound, len(l.Rig.Links))
}

// decide sets Go: nothing forbids, and each of that many links was judged and
// bears its load.
func (v *Verdict) decide(sound bool, links int) {
	v.Go = sound && len(v.Bars) == links
	for i := range v.Findings {
		v.Go = v.Go && !v.Findings[i].Blocks
		v.NeedsSupervisor = v.NeedsSupervisor || v.Findings[i].Rule == MarginRule
	}
	for i := range v.Bars {
		v.Go = v.Go && v.Bars[i].Ratio <= 1
	}
}

func worseFirst(a, b Finding) int {
	switch {
	case a.Blocks != b.Blocks && a.Blocks:
		return -1
	case a.Blocks != b.Blocks:
		return 1
	case a.Ratio > b.Ratio:
		return -1
	case a.Ratio < b.Ratio:
		return 1
	}
	return 0
}

func (v *Verdict) refusePiece(err error) {
	problems, ok := err.(plain.Problems)
	if !ok {
		v.block(PieceRule, "", "", "the piece can't be weighed: %s", err.Error())
		return
	}
	for _, one := range problems {
		v.block(PieceRule, "", "", "the piece, %s: want %s", one.Field, one.Want)
	}
}

func (v *Verdict) checkQuestions(l *Lift) {
	list, n := l.Questions.list(l.Rig.grips())
	for _, q := range list[:n] {
		switch q.answer {
		case Yes:
		case No:
			v.block(QuestionRule, "", q.source, "answered no: %s", plain.Say(q.ask))
		default:
			v.block(QuestionRule, "", q.source, "not answered: %s", plain.Say(q.ask))
		}
	}
}

// hang is how the piece hangs: its geometry, and each leg's pull and share of
// the plumb load over the weight hung. The first leg is that nearer the small
// end.
type hang struct {
	angle              [2]float64 // of the legs, piece level, degrees
	height             float64
	flattest, steepest float64 // of the legs after tilting, degrees
	tilt               float64 // degrees, without sign
	pull, share        [2]float64
}

// checkHang works the geometry out and says what forbids it. ok is false where
// no pull can be worked out.
func (v *Verdict) checkHang(l *Lift) (h hang, ok bool) {
	r := &l.Rig
	if !v.checkSpan(l) {
		return h, false
	}
	first, second := r.legLengths()
	legs := Legs{Span: l.Span, Yoke: r.YokeWidth, YokeDepth: r.HookToYoke, First: first, Second: second}
	out, height, ok := legs.Level()
	if !ok {
		v.block(SpanRule, "", "geometry", "legs of %s and %s can't hold hook points %s apart level under a yoke %s wide", plain.Metres(first), plain.Metres(second), plain.Metres(l.Span), plain.Metres(r.YokeWidth))
		return h, false
	}
	h.height = height
	h.angle[0] = math.Acos(out[0]/first) / degree
	h.angle[1] = h.angle[0]
	if second != first {
		h.angle[1] = math.Acos(out[1]/second) / degree
	}
	v.Angle, v.Height = plain.Degrees(min(h.angle[0], h.angle[1])), plain.Metres(h.height)
	v.LegAngle = [2]plain.Degrees{plain.Degrees(h.angle[0]), plain.Degrees(h.angle[1])}
	level := l.Span * (out[0] / (out[0] + out[1])) // half of it, exactly, for legs alike
	legs.Balance, ok = v.checkBalance(l, level)
	if !ok {
		return h, false
	}
	off := legs.Balance - level
	if !h.pulls(&legs, off, out) {
		v.block(TiltRule, "", "statics", "it would tip over: the balance point is %s from where it would hang level", plain.Metres(math.Abs(off)))
		return h, false
	}
	v.checkTilt(&h, off)
	v.checkAngles(r, &h)
	v.checkHeadroom(l, &h)
	return h, true
}

func (v *Verdict) checkSpan(l *Lift) bool {
	r := &l.Rig
	switch {
	case !(l.Span > 0 && l.Span <= maxLength):
		v.block(SpanRule, "", "", "the distance between the hook points is not known")
	case l.Span > l.Piece.Length+l.Piece.Reading.step().Length:
		v.block(SpanRule, "", "geometry", "hook points %s apart don't fit on a piece %s long", plain.Metres(l.Span), plain.Metres(l.Piece.Length))
	case !(r.LegLength > 0):
		v.block(SpanRule, "", "", "the length of the legs is not known")
	case l.Span <= r.YokeWidth:
		v.block(OutwardRule, "", "own rule, from the geometry", "the yoke is as wide as the hook points are apart, or wider (%s against %s): the legs pull the hooks off the piece", plain.Metres(r.YokeWidth), plain.Metres(l.Span))
	default:
		return true
	}
	return false
}

// checkBalance returns how far the balance point lies from the hook point nearer
// the small end. level is how far it would have to lie for the piece to hang
// level.
func (v *Verdict) checkBalance(l *Lift, level float64) (fromHook float64, ok bool) {
	if shape, off := l.Piece.trialOff(); off {
		v.block(BalanceRule, "", "own rule", "the balance point found by trial, %s from the small end, and the one worked out from the shape, %s, lie too far apart: measure both ends again, and try again", v.Balance, plain.Metres(shape))
		return 0, false
	}
	placing := l.Placing
	if l.Rig.grips() {
		placing = AtEnds
	}
	balance := float64(v.Balance)
	switch placing {
	case OverBalance, HungLevel:
		fromHook = l.Span / 2
		if placing == HungLevel {
			fromHook = level
		}
		first := balance - fromHook
		v.FirstHook = plain.Metres(first)
		if first < 0 || first+l.Span > l.Piece.Length {
			v.block(BalanceRule, "", "geometry", "hook points %s apart about the balance point, %s from the small end, don't fit on the piece", plain.Metres(l.Span), v.Balance)
			return 0, false
		}
		return fromHook, true
	case AtEnds:
		if l.Piece.balanceUnknown() && l.Rig.grips() {
			v.block(BalanceRule, "", "", "the balance point of a piece known by its volume or its middle only: find it by trial and enter it")
			return 0, false
		}
		if l.Piece.balanceUnknown() {
			v.block(BalanceRule, "", "", "the balance point of a piece known by its volume or its middle only: find it by trial, or set the hooks at equal distances from it")
			return 0, false
		}
		v.FirstHook = plain.Metres((l.Piece.Length - l.Span) / 2)
		fromHook = l.Span/2 + (balance - l.Piece.Length/2)
		if !(fromHook > 0 && fromHook < l.Span) {
			v.block(BalanceRule, "", "statics", "the balance point, %s from the small end, lies outside the hook points", v.Balance)
			return 0, false
		}
		return fromHook, true
	}
	v.block(BalanceRule, "", "", "where the hook points sit along the piece is not known")
	return 0, false
}

// pulls fills in what follows from a balance point that lies off from where the
// piece would hang level, or returns false where it would tip over. Each leg is
// counted at the larger of its pull with the piece level and as it comes to
// rest: how deep the balance point lies isn't known, and with depth the piece
// tips less.
func (h *hang) pulls(g *Legs, off float64, out [2]float64) bool {
	h.share = [2]float64{1 - g.Balance/g.Span, g.Balance / g.Span}
	h.pull = [2]float64{h.share[0] * g.First / h.height, h.share[1] * g.Second / h.height}
	h.flattest, h.steepest = min(h.angle[0], h.angle[1]), max(h.angle[0], h.angle[1])
	if off == 0 && (g.Yoke == 0 || g.First == g.Second) {
		return true
	}
	if g.Yoke == 0 { // level means with the balance point plumb under the legs' meeting point
		h.pull = [2]float64{out[1] / g.Span * g.First / h.height, out[0] / g.Span * g.Second / h.height}
	}
	p := g.Rest(1)
	if !p.Settled {
		return false
	}
	h.tilt = max(math.Abs(p.Tilt), math.Atan2(math.Abs(off), h.height)/degree)
	for i := range p.Pull {
		h.share[i] = max(h.share[i], p.Pull[i]*math.Sin(p.Angle[i]*degree))
		h.pull[i] = max(h.pull[i], p.Pull[i])
		h.flattest = min(h.flattest, p.Angle[i])
		h.steepest = max(h.steepest, p.Angle[i])
	}
	return true
}

// mostTilt is how far out of level a piece may hang. Own choice.
const mostTilt = 5.0

func (v *Verdict) checkTilt(h *hang, off float64) {
	v.Tilt = plain.Degrees(h.tilt)
	if v.Tilt > mostTilt {
		over := plain.Degrees(math.Ceil(10*h.tilt) / 10) // never shown as the limit itself
		v.block(TiltRule, "", "common practice, no source", "it could hang up to %s out of level, and %s is the most: the balance point is %s from where it would hang level", over, plain.Degrees(mostTilt), plain.Metres(math.Abs(off)))
	}
}

func (v *Verdict) checkAngles(r *Rig, h *hang) {
	const slack = 1e-9 // of a degree, for an angle that is exactly the floor
	floor, house := r.floor()
	if h.flattest < floor-slack {
		rule, source := FloorRule, "OSHA, Guidance on Safe Sling Use, chain slings"
		switch above := h.flattest >= LeastAngle-slack; {
		case above && house:
			rule, source = HouseFloorRule, "this mill's own floor"
		case above:
			source = "the floor entered for this rig"
		}
		v.block(rule, "", source, "legs at %s from the horizontal, flatter than %s", plain.Degrees(h.flattest), plain.Degrees(floor))
	}
	if !r.grips() {
		return
	}
	band := r.EndHookBand
	switch {
	case !band.known():
		v.blockGrip()
	case h.flattest < band.Low-slack || h.steepest > band.High+slack:
		at := h.flattest
		if at >= band.Low-slack {
			at = h.steepest
		}
		v.block(GripRule, "", band.Source, "end hooks hold with legs at %s to %s; these would hang at %s", plain.Degrees(band.Low), plain.Degrees(band.High), plain.Degrees(at))
	}
}

// leastSource is how many letters and digits the word of who stands for a band
// has at the least: a mark or a blank is nobody's word. Own choice.
const leastSource = 6

// known tells whether somebody stands for the band.
func (b Band) known() bool {
	said := 0
	for _, r := range b.Source {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			said++
		}
	}
	return b.High > 0 && said >= leastSource
}

func (v *Verdict) blockGrip() {
	v.block(GripRule, "", "no published rating covers a point in wood", "the angles at which these end hooks hold are not known: they come from the maker or a qualified person's dated statement; use a sling instead")
}
