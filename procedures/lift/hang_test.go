package lift_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// fourLegs is the good lift with a second pair of legs like the first.
func fourLegs(t require.TestingT) lift.Lift {
	l := goodLift(t)
	l.Rig.Links = append(l.Rig.Links, l.Rig.Links[5])
	return l
}

// A stiff load hangs on two of its legs, whichever they are. Common practice;
// formulas of statics: more than two legs are not determinate.
func TestMoreThanTwoLegsCountAsTwo(t *testing.T) {
	two, four := goodLift(t), fourLegs(t)
	two.Rig.Links[5].OwnMass = 12 // as much gear as both pairs of the other
	v, w := lift.Check(two), lift.Check(four)
	require.True(t, w.Go, "%v", w.Findings)
	require.Contains(t, rules(w), lift.LegsRule)
	require.InDelta(t, float64(v.LegTension[0]), float64(w.LegTension[0]), 1e-9)
	require.InDelta(t, float64(v.Bars[5].Load), float64(w.Bars[6].Load), 1e-9)

	four.Rig.Links[6].RatedLoad = float64(w.Bars[6].Load) / 2 // enough if four shared it
	require.Contains(t, rules(lift.Check(four)), lift.RatingRule)
	four = fourLegs(t)
	four.Rig.SecondLeg = 0.61
	require.Contains(t, rules(lift.Check(four)), lift.PathRule)
	four.Rig.Links = append(four.Rig.Links, four.Rig.Links[5])
	require.False(t, lift.Check(four).Go)
	hooks := hookLift(t)
	hooks.Rig.Links = append(hooks.Rig.Links[:6:6], hooks.Rig.Links[5], hooks.Rig.Links[6])
	require.Contains(t, rules(lift.Check(hooks)), lift.PathRule)
}

// Worked example L7 as a whole lift: 900 lb, hook points 2 ft and 4 ft from
// plumb, 3 ft of height. Own arithmetic, to 0.1 lb and 0.01°.
func TestUnequalLegsAreJudgedByTheWorse(t *testing.T) {
	const foot = 12 * inch
	l := goodLift(t)
	l.Rig.Links[5].OwnMass, l.Rig.Links[4].OwnMass = 1e-9, 1e-9
	l.Rig.Links = append(l.Rig.Links[:4:4], l.Rig.Links[5])
	l.Rig.YokeWidth, l.Rig.LegLength, l.Rig.SecondLeg = 0, math.Sqrt(13)*foot, 5*foot
	l.Span = 6 * foot
	l.Piece = lift.Piece{Shape: lift.Measured, Length: 8 * foot, Balance: 3 * foot, Volume: 900 * pound / 800 / 1.1645, Density: 800, Species: kind(t, "eastern white pine")}
	l.Placing = lift.HungLevel
	v := lift.Check(l)
	require.True(t, v.Go, "%v", v.Findings)
	require.InDelta(t, 721.1*pound*plain.StandardGravity, float64(v.LegTension[0]), 0.5)
	require.InDelta(t, 500.0*pound*plain.StandardGravity, float64(v.LegTension[1]), 0.5)
	require.InDelta(t, 400.0*pound*plain.StandardGravity, float64(v.Inward), 0.5)
	require.InDelta(t, 36.87, float64(v.Angle), 0.01) // the flatter leg meets the floor
	require.InDelta(t, 1*foot, float64(v.FirstHook), 1e-9)
	require.InDelta(t, 721.1*pound, float64(v.Bars[4].Load), 0.05)
	l.Rig.HouseFloor = 37
	require.Contains(t, rules(lift.Check(l)), lift.HouseFloorRule)

	// Leg by leg the limit is what the next lower column leaves it: 30° here.
	l.Rig.HouseFloor = 0
	leg := &l.Rig.Links[4]
	one := 721.1103 * pound * 2 * math.Sin(math.Atan(1.5)) / 1
	for rated, goes := range map[float64]bool{one * 1.0001: true, one * 0.9999: false} {
		leg.RatedLoad = rated
		require.Equal(t, goes, lift.Check(l).Go, "%v", lift.Check(l).Findings)
	}
}

// Under a yoke hung by one hook an off-centre piece tips the yoke too, and
// more the nearer the hook is to the legs' upper ends.
func TestAYokeThatTipsIsCounted(t *testing.T) {
	l := hookLift(t)
	l.Piece.Balance = l.Piece.Length/2 + 0.02
	shallow := lift.Check(l)
	l.Rig.HookToYoke = 0.3
	deep := lift.Check(l)
	require.True(t, shallow.Go && deep.Go, "%v %v", shallow.Findings, deep.Findings)
	require.Greater(t, shallow.Tilt, deep.Tilt)
	require.GreaterOrEqual(t, shallow.LegTension[1], deep.LegTension[1])
	require.InDelta(t, 4.06, float64(shallow.Tilt), 0.01) // own numeric solve of the three equations
}

func TestHeadroomCountsOnceItIsKnown(t *testing.T) {
	l := goodLift(t)
	l.Rig.HookToYoke, l.Rig.Clearance = 0.2, 0.1
	height := float64(lift.Check(l).Height)
	need := 0.2 + height + 15*inch + 0.1 // slabs take 3 in one way, nothing the other
	for have, goes := range map[float64]bool{0: true, need + 1e-6: true, need - 1e-6: false} {
		l.Rig.Headroom = have
		v := lift.Check(l)
		require.Equal(t, goes, v.Go, "%v of %v: %v", have, need, v.Findings)
	}
	l.Rig.Headroom, l.Rig.HookToYoke = 9, 0
	require.Contains(t, rules(lift.Check(l)), lift.HeadroomRule)
	l.Rig.HookToYoke = 0.2
	l.Piece = lift.Piece{Shape: lift.Measured, Length: 1.25, Volume: 0.1, Density: 800}
	require.Contains(t, rules(lift.Check(l)), lift.HeadroomRule)
}

// A log measured in the middle alone is thicker at its butt than there, and bark
// makes a log thicker; neither may lift a piece into what it has to pass over.
func TestHeadroomCountsTheButtAndTheBark(t *testing.T) {
	needs := func(p lift.Piece) float64 {
		l := goodLift(t)
		l.Rig.HookToYoke, l.Rig.Clearance, l.Piece = 0.2, 0.1, p
		low, high := 0.3, 3.0
		for high-low > 1e-6 {
			l.Rig.Headroom = (low + high) / 2
			found := rules(lift.Check(l))
			if slices.Contains(found, lift.HeadroomRule) {
				low = l.Rig.Headroom
			} else {
				high = l.Rig.Headroom
			}
		}
		return high
	}
	middle := lift.Piece{Shape: lift.Round, Length: 1.25, Middle: 0.4, Species: kind(t, "northern red oak"), Condition: lift.Green}
	ends := middle
	ends.Middle, ends.Small, ends.Large = 0, 0.4, 0.4
	require.InDelta(t, needs(ends)+1.25/48/2, needs(middle), 1e-5)
	bulging := ends
	bulging.Middle = 0.44
	require.InDelta(t, needs(ends)+0.04, needs(bulging), 1e-5)
	barked := ends
	barked.Bark = true
	require.InDelta(t, needs(ends)+0.4*(math.Sqrt(1.20)-1), needs(barked), 1e-5) // bark is 20 % of this oak's wood
	barked.OverBark = true
	require.InDelta(t, needs(ends), needs(barked), 1e-5)
}

// Nothing typed for the newer measures makes a panic, or a GO without numbers.
func TestNoMeasureOfTheRigPanics(t *testing.T) {
	odd := rapid.OneOf(rapid.Float64Range(0, 3), rapid.Float64(), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), -1, 1e-300, 1e300}))
	rapid.Check(t, func(t *rapid.T) {
		l := anyLift(t)
		l.Placing = lift.Placing(rapid.IntRange(0, 2).Draw(t, "placing"))
		for _, x := range []*float64{&l.Rig.SecondLeg, &l.Rig.Headroom, &l.Rig.HookToYoke, &l.Rig.Clearance, &l.Piece.Balance, &l.Span} {
			if rapid.Bool().Draw(t, "touched") {
				*x = odd.Draw(t, "odd")
			}
		}
		v := lift.Check(l)
		lift.Window(l)
		require.True(t, proven(lift.Remedies(l)))
		if !v.Go {
			require.NotEmpty(t, v.Findings)
			return
		}
		for _, x := range []float64{float64(v.Angle), float64(v.Tilt), float64(v.LegTension[0]), float64(v.LegTension[1]), float64(v.Inward), float64(v.Height)} {
			require.False(t, math.IsNaN(x) || math.IsInf(x, 0), "%+v", v)
		}
	})
}
