package lift_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
)

// Longest and shortest by the closed formulas of the yoke: B = S − 2ℓ cos θ and
// ℓ = (S − B)/(2 cos θ). Own derivation.
func TestTheYokeWindowIsThatOfTheFormulas(t *testing.T) {
	l := hookLift(t)
	w := lift.Window(l)
	require.True(t, w.Open)
	require.NotEmpty(t, w.Said) // headroom not known
	// A straight log: the balance point in the middle, so the angles are those of level legs.
	l.Piece = lift.Piece{Shape: lift.Squared, Length: 1.25, Width: .2, Height: .2, Density: 800}
	w = lift.Window(l)
	cos := func(degrees float64) float64 { return math.Cos(degrees * math.Pi / 180) }
	require.Len(t, w.Yoke, 1)
	require.InDelta(t, 1.23-2*0.6*cos(30), float64(w.Yoke[0].From), 2e-4)
	require.InDelta(t, 1.23-2*0.6*cos(75), float64(w.Yoke[0].To), 2e-4)
	require.Len(t, w.Legs, 1)
	require.InDelta(t, (1.23-.5)/2/cos(30), float64(w.Legs[0].From), 2e-4)
	require.InDelta(t, (1.23-.5)/2/cos(75), float64(w.Legs[0].To), 2e-4)
	l.Rig.HouseFloor = 45
	require.InDelta(t, (1.23-.5)/2/cos(45), float64(lift.Window(l).Legs[0].From), 2e-4)

	// Height left for the legs: 1 m less hook, half the piece and clearance.
	l.Rig.Headroom, l.Rig.HookToYoke, l.Rig.Clearance = 1.0, 0.2, 0.1
	w = lift.Window(l)
	require.InDelta(t, math.Hypot(1-.2-.1-.1, (1.23-.5)/2), float64(w.Legs[0].To), 2e-4)
	require.Empty(t, w.Said)
}

func TestMarkedSettingsSayWhyTheyDoNotFit(t *testing.T) {
	l := goodLift(t)
	l.Rig.Settings = []lift.Setting{{Name: "first", YokeWidth: 0.2, LegLength: 0.5}, {Name: "second", YokeWidth: 0.5, LegLength: 0.6}, {Name: "third", YokeWidth: 1.1, LegLength: 0.6}}
	w := lift.Window(l)
	require.Len(t, w.Fits, 3)
	require.Equal(t, lift.FloorRule, w.Fits[0].Why[0].Rule)
	require.True(t, w.Fits[1].Fits)
	require.InDelta(t, 60, float64(w.Fits[1].Angle), 1e-9)
	require.Equal(t, lift.OutwardRule, w.Fits[2].Why[0].Rule)
	require.Zero(t, w.Fits[1].Needed) // how far the yoke hangs below the hook isn't known
	l.Rig.HookToYoke = 0.2
	require.Positive(t, lift.Window(l).Fits[1].Needed)
}

func TestAShutWindowSaysWhy(t *testing.T) {
	l := goodLift(t)
	l.Span = 0
	w := lift.Window(l)
	require.False(t, w.Open)
	require.Len(t, w.Said, 3)
	l.Piece.Length = math.NaN()
	require.False(t, lift.Window(l).Open)
	l = goodLift(t)
	l.Rig.LegLength = math.NaN()
	require.False(t, lift.Window(l).Open)
}

// What the window allows the rules of geometry allow too, at both ends.
func TestTheWindowAgreesWithTheVerdict(t *testing.T) {
	geometry := []lift.Rule{lift.SpanRule, lift.OutwardRule, lift.FloorRule, lift.HouseFloorRule, lift.GripRule, lift.BalanceRule, lift.TiltRule, lift.HeadroomRule}
	rapid.Check(t, func(t *rapid.T) {
		l := anyLift(t)
		if rapid.Bool().Draw(t, "at the ends") {
			l.Placing = lift.AtEnds
		}
		for _, r := range lift.Window(l).Legs {
			for _, x := range []float64{float64(r.From), float64(r.To)} {
				l.Rig.LegLength = x
				for _, found := range rules(lift.Check(l)) {
					require.NotContains(t, geometry, found)
				}
			}
		}
	})
}
