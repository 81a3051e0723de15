package lift

import (
	"math"
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// Placing is where the hook points sit along the piece.
type Placing uint8

// The placings. OverBalance: set at equal distances from the balance point, as
// the trial lift shows. AtEnds: as far in from one end as from the other.
const (
	PlacingUnknown Placing = iota
	AtEnds
	OverBalance
)

func placingNames() []string { return []string{"unknown", "at-ends", "over-balance"} }

// String is the name ParsePlacing takes.
func (p Placing) String() string { return nameOf(placingNames(), int(p)) }

// ParsePlacing reads at-ends or over-balance.
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
// the plumb load over the weight hung.
type hang struct {
	degrees, height float64
	flattest        float64 // the flatter leg after tilting, degrees
	pull, share     [2]float64
}

// checkHang works the geometry out and says what forbids it. ok is false where
// no pull can be worked out.
func (v *Verdict) checkHang(l *Lift) (h hang, ok bool) {
	r := &l.Rig
	if !v.checkSpan(l) {
		return h, false
	}
	h.degrees, h.height, ok = LegAngle(l.Span, r.YokeWidth, r.LegLength)
	if !ok {
		v.block(SpanRule, "", "geometry", "legs of %s can't reach hook points %s apart from a yoke %s wide", plain.Metres(r.LegLength), plain.Metres(l.Span), plain.Metres(r.YokeWidth))
		return h, false
	}
	v.Angle, v.Height = plain.Degrees(h.degrees), plain.Metres(h.height)
	off, ok := v.checkBalance(l)
	if !ok {
		return h, false
	}
	h.pulls(off, l.Span, r.YokeWidth, r.LegLength)
	v.checkTilt(&h, off)
	v.checkAngles(r, &h)
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

// checkBalance returns how far the balance point lies from the middle of the
// hook points, toward the large end where positive.
func (v *Verdict) checkBalance(l *Lift) (off float64, ok bool) {
	placing := l.Placing
	if l.Rig.grips() {
		placing = AtEnds
	}
	balance := float64(v.Balance)
	switch placing {
	case OverBalance:
		v.FirstHook = plain.Metres(balance - l.Span/2)
		if v.FirstHook < 0 || balance+l.Span/2 > l.Piece.Length {
			v.block(BalanceRule, "", "geometry", "hook points %s apart about the balance point, %s from the small end, don't fit on the piece", plain.Metres(l.Span), v.Balance)
			return 0, false
		}
		return 0, true
	case AtEnds:
		if l.Piece.Shape == Measured && l.Piece.Balance == 0 {
			v.block(BalanceRule, "", "", "the balance point of a piece known by its volume only: find it by trial, or set the hooks at equal distances from it")
			return 0, false
		}
		v.FirstHook = plain.Metres((l.Piece.Length - l.Span) / 2)
		off = balance - l.Piece.Length/2
		if math.Abs(off) >= l.Span/2 {
			v.block(BalanceRule, "", "statics", "the balance point, %s from the small end, lies outside the hook points", v.Balance)
			return 0, false
		}
		return off, true
	}
	v.block(BalanceRule, "", "", "where the hook points sit along the piece is not known")
	return 0, false
}

// pulls fills in shares and pulls for a balance point off from the middle. For
// legs from one point the tilt is exact. Under a yoke, which may swing by
// itself, the pulls are those of the piece held level, which are never less.
func (h *hang) pulls(off, span, yoke, leg float64) {
	h.share = [2]float64{0.5 - off/span, 0.5 + off/span}
	h.flattest = h.degrees
	factor := AngleFactor(h.degrees)
	h.pull = [2]float64{h.share[0] * factor, h.share[1] * factor}
	if off == 0 {
		return
	}
	tilt := math.Atan2(math.Abs(off), h.height) / degree
	h.flattest -= tilt
	if yoke == 0 {
		_, away, toward := Tilt(1, span, leg, math.Abs(off), 0)
		if off > 0 {
			h.pull = [2]float64{away, toward}
		} else {
			h.pull = [2]float64{toward, away}
		}
	}
}

// mostTilt is how far out of level a piece may hang. Own choice.
const mostTilt = 5.0

func (v *Verdict) checkTilt(h *hang, off float64) {
	v.Tilt = plain.Degrees(h.degrees - h.flattest)
	if v.Tilt > mostTilt {
		v.block(TiltRule, "", "common practice, no source", "it would hang %s out of level: the balance point is %s from the middle of the hook points", v.Tilt, plain.Metres(math.Abs(off)))
	}
}

func (v *Verdict) checkAngles(r *Rig, h *hang) {
	const slack = 1e-9 // of a degree, for an angle that is exactly the floor
	floor, house := r.floor()
	if h.flattest < floor-slack {
		rule, source := FloorRule, "OSHA, Guidance on Safe Sling Use, chain slings"
		if house && h.flattest >= LeastAngle-slack {
			rule, source = HouseFloorRule, "this mill's own floor"
		}
		v.block(rule, "", source, "legs at %s from the horizontal, flatter than %s", plain.Degrees(h.flattest), plain.Degrees(floor))
	}
	if !r.grips() {
		return
	}
	band := r.EndHookBand
	steepest := 2*h.degrees - h.flattest
	switch {
	case !band.known():
		v.blockGrip()
	case h.flattest < band.Low-slack || steepest > band.High+slack:
		v.block(GripRule, "", band.Source, "end hooks hold with legs at %s to %s; these would hang at %s", plain.Degrees(band.Low), plain.Degrees(band.High), v.Angle)
	}
}

// known tells whether somebody stands for the band.
func (b Band) known() bool { return b.High > 0 && b.Source != "" }

func (v *Verdict) blockGrip() {
	v.block(GripRule, "", "no published rating covers a point in wood", "the angles at which these end hooks hold are not known: they come from the maker or a qualified person's dated statement; use a sling instead")
}
