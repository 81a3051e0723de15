package lift_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// A verdict that holds: given before now, in a shift that isn't over, with
// every inspection still good.
func standsWithinItsShift(t *testing.T, p *parts, c chance) bool {
	l := goodLift(t)
	v := lift.Check(l)
	end, at := now.Add(c.within(24*time.Hour)-4*time.Hour), now.Add(c.within(30*time.Hour)-4*time.Hour)
	if c.IntN(5) == 0 {
		end = time.Time{}
	}
	if c.IntN(3) == 0 {
		l.Rig.Links[3].InspectionDue = now.Add(c.within(12 * time.Hour))
	}
	holds, why := p.holds(&l, &v, end, nil, at)
	stands := !end.IsZero() && at.Before(end) && !at.Before(now) && now.Before(end) && !at.After(l.Rig.Links[3].InspectionDue)
	return holds == stands && holds == why.Empty()
}

// Whatever kind of event lies between the verdict and now, or has no time, ends
// it; one that was before it or comes later does not.
func standsUntilSomethingHappens(t *testing.T, p *parts, c chance) bool {
	l := goodLift(t)
	v := lift.Check(l)
	at := now.Add(c.within(6 * time.Hour))
	var events []lift.Event
	ended := false
	for range c.IntN(3) {
		e := lift.Event{Kind: lift.EventKind(c.IntN(6)), Mass: 1e6, At: now.Add(c.within(12*time.Hour) - 4*time.Hour)}
		if c.IntN(8) == 0 {
			e.At = time.Time{}
		}
		ended = ended || e.At.IsZero() || !e.At.Before(now) && !e.At.After(at)
		events = append(events, e)
	}
	holds, _ := p.holds(&l, &v, now.Add(10*time.Hour), events, at)
	return holds == !ended
}

// hung is a lift that is a GO by a little, its legs of one length or of two.
func hung(t *testing.T, c chance) lift.Lift {
	l := goodLift(t)
	l.Placing = lift.AtEnds
	l.Rig.YokeWidth, l.Rig.Links = 0, append(l.Rig.Links[:4:4], l.Rig.Links[5])
	l.Rig.LegLength = c.between(0.7, 1.2)
	if c.IntN(2) == 0 {
		l.Rig.SecondLeg = l.Rig.LegLength * c.between(0.97, 1.03)
	}
	l.Piece.Balance = l.Piece.Length/2 + c.between(-0.028, 0.028)
	leg := &l.Rig.Links[4]
	leg.RatedLoad, leg.Grade = 300, lift.NotChain
	leg.RatedLoad *= lift.Check(l).Bars[4].Ratio / c.between(0.7, 0.85)
	return l
}

func coversNothingHeavier(t *testing.T, p *parts, c chance) bool {
	l := hung(t, c)
	v := lift.Check(l)
	next := l.Piece
	next.Balance = next.Length/2 + c.between(-0.028, 0.028)
	next.Slabs[0] *= c.between(0.99, 1.1)
	if c.IntN(3) == 0 {
		next.Extra = c.between(0, 10)
	}
	covers, why := p.covers(&l, &v, next)
	if !covers {
		return !why.Empty()
	}
	l.Piece = next
	w := lift.Check(l)
	return w.Go && w.Weight.Upper <= v.Weight.Upper && (v.NeedsSupervisor || !w.NeedsSupervisor)
}

// shapesTheHang tells of a finding whether it is one of geometry.
func shapesTheHang(f lift.Finding) bool {
	return slices.Contains([]lift.Rule{lift.SpanRule, lift.OutwardRule, lift.FloorRule, lift.HouseFloorRule, lift.GripRule,
		lift.BalanceRule, lift.TiltRule, lift.HeadroomRule}, f.Rule)
}

func windowAgrees(t *testing.T, p *parts, c chance) bool {
	l := hookLift(t)
	if c.IntN(2) == 0 {
		l = goodLift(t)
		l.Placing = lift.Placing(c.IntN(3))
	}
	l.Rig.HookToYoke, l.Rig.Headroom = c.between(0, 0.3), c.between(0.9, 1.6)
	for range 3 {
		l.Rig.Settings = append(l.Rig.Settings, lift.Setting{Name: "a hole", YokeWidth: c.between(0.2, 1.3), LegLength: c.between(0.3, 0.9)})
	}
	w := p.window(l)
	fitting := func(width, leg float64) bool {
		at := l
		at.Rig.YokeWidth, at.Rig.LegLength = width, leg
		return !slices.ContainsFunc(lift.Check(at).Findings, shapesTheHang)
	}
	for _, f := range w.Fits {
		if f.Fits != fitting(f.Setting.YokeWidth, f.Setting.LegLength) || f.Fits != (len(f.Why) == 0) || f.Fits && !w.Open {
			return false
		}
	}
	for _, r := range w.Yoke {
		if !fitting(float64(r.From), l.Rig.LegLength) || !fitting(float64(r.To), l.Rig.LegLength) {
			return false
		}
	}
	for _, r := range w.Legs {
		if !fitting(l.Rig.YokeWidth, float64(r.From)) || !fitting(l.Rig.YokeWidth, float64(r.To)) {
			return false
		}
	}
	return w.Open || len(w.Said) > 0
}

// restsInBalance takes moments by itself: two shares hold the balance point up
// where it is.
func restsInBalance(t *testing.T, p *parts, c chance) bool {
	q := lift.Piece{Shape: lift.Round, Length: c.between(0.8, 3), Small: 0.3, Large: c.between(0.3, 0.6), Density: 800}
	mark := c.between(-1, 1)
	blocks := make([]float64, c.IntN(4))
	for i := range blocks {
		blocks[i] = c.between(-2, 2)
	}
	l, err := p.land(q, blocks, mark)
	require.NoError(t, err)
	if l.Rests == !l.Said.Empty() {
		return false
	}
	if !l.Rests {
		return true
	}
	plumb := mark - q.Length/2 + q.BalancePoint()
	low, high, moment, sum := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for i, place := range l.Bears {
		at := blocks[place]
		if math.Abs(at-mark) > q.Length/2 {
			return false
		}
		low, high = min(low, at), max(high, at)
		if len(l.Share) > 0 {
			moment, sum = moment+l.Share[i]*(at-plumb), sum+l.Share[i]
		}
	}
	balanced := len(l.Share) == 0 || math.Abs(moment) < 1e-9 && math.Abs(sum-1) < 1e-12
	return low < plumb && plumb < high && balanced && (len(l.Bears) == 2) == (len(l.Share) == 2)
}

func learnsNoLighter(t *testing.T, p *parts, c chance) bool {
	q := goodLift(t).Piece
	published, err := lift.Weigh(q)
	require.NoError(t, err)
	var list []lift.Weighing
	for i := range 1 + c.IntN(20) {
		list = append(list, lift.Weighing{Kind: q.Species.Scientific, Condition: q.Condition, Predicted: 100, Weighed: c.between(40, 120), Volume: 0.1, Lifted: true, At: time.Unix(int64(i)*200_000, 0)})
	}
	q.Learned, _ = p.learn(list, q.Species, q.Condition)
	w, err := lift.Weigh(q)
	require.NoError(t, err)
	return w.Upper >= published.Expected && w.Upper >= w.Expected
}

// usedAgainIsNew judges two lifts into one verdict; of the second nothing of the
// first may be left.
func usedAgainIsNew(t *testing.T, p *parts, c chance) bool {
	pick := func() lift.Lift {
		l := goodLift(t)
		if c.IntN(2) == 0 {
			l = hookLift(t)
		}
		l.Rig.LegLength, l.Rig.Links[2].RatedLoad, l.Piece.Length = c.between(0.3, 0.8), c.between(100, 700), c.between(1, 1.5)
		l.Piece.Bark, l.Piece.Weather.Wet = c.IntN(2) == 0, c.IntN(2) == 0
		l.Questions.Free = lift.Answer(c.IntN(3))
		return l
	}
	var v lift.Verdict
	first, second := pick(), pick()
	p.again(&v, &first)
	p.again(&v, &second)
	fresh := lift.Check(second)
	same := len(v.Findings) == len(fresh.Findings) && len(v.Bars) == len(fresh.Bars) && len(v.Weight.Parts) == len(fresh.Weight.Parts) &&
		len(v.Weight.Notes) == len(fresh.Weight.Notes) && len(v.LegTension) == len(fresh.LegTension)
	for i := 0; same && i < len(v.Findings); i++ {
		same = v.Findings[i].Rule == fresh.Findings[i].Rule && v.Findings[i].Said.String() == fresh.Findings[i].Said.String()
	}
	return same && slices.Equal(v.Bars, fresh.Bars) && slices.Equal(v.LegTension, fresh.LegTension) && v.Go == fresh.Go &&
		v.NeedsSupervisor == fresh.NeedsSupervisor && v.Weakest == fresh.Weakest && v.Weight.Upper == fresh.Weight.Upper &&
		v.Angle == fresh.Angle && v.Tilt == fresh.Tilt && v.FirstHook == fresh.FirstHook && v.Balance == fresh.Balance && v.Inward == fresh.Inward
}

// finite tells whether every number of a verdict is one.
func finite(v *lift.Verdict) bool {
	all := []float64{float64(v.Weight.Volume), float64(v.Weight.Expected), float64(v.Weight.Upper), float64(v.Angle), float64(v.Height),
		float64(v.Balance), float64(v.FirstHook), float64(v.Tilt), float64(v.Inward)}
	for _, x := range v.LegTension {
		all = append(all, float64(x))
	}
	for _, b := range v.Bars {
		all = append(all, float64(b.Load), float64(b.Limit), b.Ratio)
	}
	return !slices.ContainsFunc(all, func(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) })
}

func goHasNumbers(t *testing.T, p *parts, c chance) bool {
	l := hung(t, c)
	odd := []float64{0, -1, math.NaN(), math.Inf(1), 1e-300, 1e300, c.Float64(), plain.StandardGravity}
	for _, x := range []*float64{&l.Span, &l.Piece.Balance, &l.Rig.LegLength, &l.Rig.SecondLeg, &l.Piece.Small, &l.Piece.Slabs[1], &l.Rig.Links[4].RatedLoad, &l.Rig.Headroom} {
		if c.IntN(12) == 0 {
			*x = odd[c.IntN(len(odd))]
		}
	}
	v := p.check(l)
	return !v.Go && len(v.Findings) > 0 || v.Go && finite(&v)
}
