package lift_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// aside is a piece on end hooks whose balance point lies off its middle, legs
// from one point. 1.23 m between the hooks and legs of 0.75 m: 34.9° level.
func aside(t require.TestingT, off float64) lift.Lift {
	l := hookLift(t)
	l.Rig.YokeWidth, l.Rig.LegLength = 0, 0.75
	l.Rig.Links = append(l.Rig.Links[:4:4], l.Rig.Links[5], l.Rig.Links[6])
	l.Piece.Balance = l.Piece.Length/2 + off
	return l
}

// A pair of end hooks is held to twice what the worse of them bears, level or
// as the piece comes to rest. Statics, by moments about the other hook.
func TestAPairOfEndHooksBearsTwiceTheWorse(t *testing.T) {
	for _, off := range []float64{-0.02, 0.02} {
		l := aside(t, off)
		v := lift.Check(l)
		legs := lift.Legs{Span: l.Span, First: 0.75, Second: 0.75, Balance: l.Span/2 + off}
		p := legs.Rest(1)
		require.True(t, p.Settled)
		worst := 0.0
		for i, level := range []float64{1 - legs.Balance/l.Span, legs.Balance / l.Span} {
			worst = max(worst, level, p.Pull[i]*math.Sin(p.Angle[i]*math.Pi/180))
		}
		level := 0.5 + math.Abs(off)/l.Span
		require.Greater(t, worst, level+0.001) // tipped, the lower hook bears more than level
		require.InDelta(t, 2*worst*float64(v.Weight.Upper), float64(v.Bars[5].Load), 1e-9)
	}
}

// The floor meets the flatter leg as the piece comes to rest: 0.02 m off under a
// height of 0.429 m tips it by 2.67°, and 34.92° become 32.25°.
func TestTheFloorMeetsTheLegOfThePieceAtRest(t *testing.T) {
	l := aside(t, 0.02)
	l.Rig.EndHookBand.Low = 20
	for floor, goes := range map[float64]bool{32.2: true, 32.3: false, 34: false} {
		l.Rig.HouseFloor = floor
		v := lift.Check(l)
		require.InDelta(t, 34.92, float64(v.Angle), 0.01)
		require.InDelta(t, 2.67, float64(v.Tilt), 0.01)
		require.Equal(t, goes, v.Go, "%v: %v", floor, v.Findings)
	}
}

// A yoke hung deep does not tip, and the piece less; how deep the balance point
// lies isn't known, so no less tilt is counted than under one point as high.
func TestNoLessTiltIsCountedThanUnderOnePoint(t *testing.T) {
	l := hookLift(t)
	l.Piece.Balance, l.Rig.HookToYoke = l.Piece.Length/2+0.02, 5.9
	v := lift.Check(l)
	require.GreaterOrEqual(t, float64(v.Tilt), math.Atan2(0.02, float64(v.Height))*180/math.Pi-1e-9)
	legs := lift.Legs{Span: l.Span, Yoke: 0.5, YokeDepth: 5.9, First: 0.6, Second: 0.6, Balance: l.Span/2 + 0.02}
	t.Logf("at rest %v, counted %v", legs.Rest(1).Tilt, v.Tilt)
}

// A piece that hangs out of level reaches further down, by half its length
// times the sine of the tilt.
func TestHeadroomCountsTheTilt(t *testing.T) {
	l := aside(t, 0.02)
	l.Rig.HookToYoke, l.Rig.Clearance = 0.1, 0.1
	level := 0.1 + math.Sqrt(0.75*0.75-0.615*0.615) + 15*inch/2 + 0.1
	tip := 1.25 / 2 * math.Sin(math.Atan2(0.02, math.Sqrt(0.75*0.75-0.615*0.615)))
	for have, goes := range map[float64]bool{level + tip + 1e-6: true, level + tip - 1e-6: false, level + 0.001: false} {
		l.Rig.Headroom = have
		require.Equal(t, goes, lift.Check(l).Go, "%v of %v", have, level+tip)
	}
}

// L7 turned round: the leg nearer the large end bears the most, and counts.
func TestTheSecondLegCountsWhereItIsTheWorse(t *testing.T) {
	const foot = 12 * inch
	l := goodLift(t)
	l.Rig.Links[5].OwnMass = 1e-9
	l.Rig.Links = append(l.Rig.Links[:4:4], l.Rig.Links[5])
	l.Rig.YokeWidth, l.Rig.LegLength, l.Rig.SecondLeg, l.Span = 0, 5*foot, math.Sqrt(13)*foot, 6*foot
	l.Piece = lift.Piece{Shape: lift.Measured, Length: 8 * foot, Balance: 5 * foot, Volume: 900 * pound / 800 / 1.1645, Density: 800, Species: kind(t, "eastern white pine")}
	l.Placing = lift.HungLevel
	v := lift.Check(l)
	require.True(t, v.Go, "%v", v.Findings)
	require.InDelta(t, 721.1*pound, float64(v.Bars[4].Load), 0.05)
}

// Under 60° the 45° column counts, up to the last tenth of a degree; at 60° its own.
func TestColumnsChangeAtTheirAngles(t *testing.T) {
	l := goodLift(t)
	leg := &l.Rig.Links[5]
	leg.Size, leg.RatedLoad = lift.Chain3_8, 7100*pound
	for degrees, pair := range map[float64]float64{60: 12300, 59.9: 10000, 56: 10000, 45: 10000, 44.9: 7100, 30: 7100} {
		l.Rig.LegLength = 0.3 / math.Cos(degrees*math.Pi/180)
		limit := float64(lift.Check(l).Bars[5].Limit)
		require.InDelta(t, min(7100, pair/2/math.Sin(degrees*math.Pi/180))*pound, limit, 0.01, "%v°", degrees)
	}
}

// Nothing typed for a choker makes a leg stronger than its own mark.
func TestAChokersMarkNeverStrengthensALeg(t *testing.T) {
	l := goodLift(t)
	leg := &l.Rig.Links[5]
	leg.Grade, leg.RatedLoad = lift.NotChain, 200
	straight := lift.Check(l).Bars[5].Limit
	l.Rig.Hitch, leg.ChokerLoad = lift.Choker, 9000
	require.Equal(t, straight, lift.Check(l).Bars[5].Limit)
}

// Between legs of two lengths the same distance from the middle is not the same
// lift on either side of it.
func TestOnLegsOfTwoLengthsTheOtherSideIsAnotherLift(t *testing.T) {
	refused := 0
	for _, off := range []float64{-0.028, 0.028} {
		l := goodLift(t)
		l.Placing = lift.AtEnds
		l.Rig.YokeWidth, l.Rig.Links = 0, append(l.Rig.Links[:4:4], l.Rig.Links[5])
		l.Rig.LegLength, l.Rig.SecondLeg, l.Rig.HouseMargin = 0.9, 0.92, 1
		l.Piece.Balance = l.Piece.Length/2 + off
		leg := &l.Rig.Links[4]
		leg.RatedLoad, leg.Grade = 300, lift.NotChain
		leg.RatedLoad *= lift.Check(l).Bars[4].Ratio / 0.9999
		v := lift.Check(l)
		require.True(t, v.Go, "%v", v.Findings)
		same, next := l.Piece, l.Piece
		next.Balance = next.Length/2 - off
		covers, why := lift.Covers(&l, &v, same)
		require.True(t, covers, "%s", why)
		if covers, why = lift.Covers(&l, &v, next); !covers {
			refused++
			require.Contains(t, why.String(), "bear")
		}
	}
	require.Equal(t, 1, refused)
}
