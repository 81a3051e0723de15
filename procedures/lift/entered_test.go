package lift_test

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
)

// What people enter beside the shape may make a piece heavier or send somebody
// to measure again; it never talks a piece light, level or held.

// A piece alike at both ends balances in its middle: hook points as far on one
// side of the balance point as on the other are then as far from one end as from
// the other, and the answer is the same, whatever the legs. Geometry.
func TestPlacingsThatAreTheSamePlaceAreTheSameLift(t *testing.T) {
	unequal := 0
	rapid.Check(t, func(t *rapid.T) {
		l := goodLift(t)
		l.Piece = lift.Piece{Shape: lift.Squared, Length: 1.25, Width: 0.25, Height: 0.25, Species: l.Piece.Species, Condition: lift.Green}
		l.Rig.YokeWidth = rapid.SampledFrom([]float64{0, 0.4}).Draw(t, "yoke")
		if l.Rig.YokeWidth == 0 {
			l.Rig.Links = append(l.Rig.Links[:4:4], l.Rig.Links[5])
		}
		l.Rig.HookToYoke = 0.2
		l.Rig.LegLength = rapid.Float64Range(0.7, 1.2).Draw(t, "leg")
		if rapid.Bool().Draw(t, "two lengths") {
			l.Rig.SecondLeg = l.Rig.LegLength * rapid.Float64Range(0.85, 1.15).Draw(t, "second")
		}
		ends, over := l, l
		ends.Placing, over.Placing = lift.AtEnds, lift.OverBalance
		a, b := lift.Check(ends), lift.Check(over)
		require.Equal(t, a.Go, b.Go)
		require.InDelta(t, float64(a.Tilt), float64(b.Tilt), 1e-6)
		require.Len(t, b.LegTension, len(a.LegTension))
		for i := range a.LegTension {
			require.InEpsilon(t, float64(a.LegTension[i]), float64(b.LegTension[i]), 1e-9)
		}
		if l.Rig.SecondLeg > 0 && !a.Go {
			unequal++
		}
	})
	require.Positive(t, unequal)
}

// Legs of 60 and 52 in from one point, hook points 86 in apart about the middle of
// an even piece: it comes to rest 8 degrees out of level. Own arithmetic: the
// legs meet 5.2 in off the middle and 36.4 in up.
func TestLegsOfTwoLengthsTipAPieceHungAboutItsBalance(t *testing.T) {
	l := goodLift(t)
	l.Piece = lift.Piece{Shape: lift.Squared, Length: 114 * inch, Width: 8 * inch, Height: 8 * inch, Species: l.Piece.Species, Condition: lift.Green}
	l.Rig.YokeWidth, l.Rig.Links = 0, append(l.Rig.Links[:4:4], l.Rig.Links[5])
	l.Rig.LegLength, l.Rig.SecondLeg, l.Span = 60*inch, 52*inch, 86*inch
	v := lift.Check(l)
	require.False(t, v.Go)
	require.Contains(t, rules(v), lift.TiltRule)
	out := 43 + (60-52)*(60+52)/(2*86.0)
	require.InDelta(t, math.Atan2(out-43, math.Sqrt(60*60-out*out))*180/math.Pi, float64(v.Tilt), 0.01)
	require.InDelta(t, math.Acos(out/60)*180/math.Pi, float64(v.LegAngle[0]), 1e-6)
	require.InDelta(t, math.Acos((86-out)/52)*180/math.Pi, float64(v.LegAngle[1]), 1e-6)
	l.Placing = lift.HungLevel
	require.NotContains(t, rules(lift.Check(l)), lift.TiltRule, "shifted until it hangs level")
}

func TestNoTypedDensityTalksAPieceLight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := goodLift(t).Piece
		if rapid.Bool().Draw(t, "kind not known") {
			p.Species = lift.Species{}
		}
		plain, err := lift.Weigh(p)
		require.NoError(t, err)
		p.Density = rapid.Float64Range(200, 1500).Draw(t, "density")
		typed, err := lift.Weigh(p)
		if err != nil {
			require.ErrorContains(t, err, "bone dry")
			return
		}
		require.GreaterOrEqual(t, float64(typed.Upper), float64(plain.Expected)-1e-9, "no lighter than the published mean")
		sum := float64(typed.Expected)
		for _, part := range typed.Parts {
			sum += float64(part.Mass)
		}
		require.InDelta(t, float64(typed.Upper), sum, 1e-6)
	})
}

func TestAMoistureTypedAsAShareIsAskedAgain(t *testing.T) {
	p := goodLift(t).Piece
	p.Condition, p.Moisture = lift.MeasuredMoisture, 0.008 // 0.8 typed for 80 %
	require.ErrorContains(t, p.Validate(), "eighty percent")
	p.Moisture = 0.8
	require.NoError(t, p.Validate())
}

func TestABalancePointFarFromTheShapesIsTriedAgain(t *testing.T) {
	l := goodLift(t)
	l.Piece.Small, l.Piece.Large, l.Placing = 11*inch, 18*inch, lift.AtEnds
	require.Contains(t, rules(lift.Check(l)), lift.TiltRule)
	l.Piece.Balance = l.Piece.Length / 2
	v := lift.Check(l)
	require.False(t, v.Go)
	require.Contains(t, rules(v), lift.BalanceRule)
	l.Piece.Balance = 0
	l.Piece.Balance = l.Piece.BalancePoint()
	require.NotContains(t, rules(lift.Check(l)), lift.BalanceRule)
}

func TestAMarkIsNobodysWordForABand(t *testing.T) {
	for _, source := range []string{"", " ", "?", "-- ..", "n/a"} {
		l := hookLift(t)
		l.Rig.EndHookBand.Source = source
		v := lift.Check(l)
		require.False(t, v.Go, "%q", source)
		require.Contains(t, rules(v), lift.GripRule, "%q", source)
	}
}

// A density that was weighed is held to no less than the published mean at the
// moisture that was read, so a share typed for a percentage would take it down.
// Seen to fail while the moisture was not looked at beside a density.
func TestAMoistureBesideADensityIsHeldToTheSame(t *testing.T) {
	p := goodLift(t).Piece
	p.Condition, p.Moisture, p.Density = lift.MeasuredMoisture, 0.8, 700
	typed, err := lift.Weigh(p)
	require.NoError(t, err)
	alone := p
	alone.Density = 0
	read, err := lift.Weigh(alone)
	require.NoError(t, err)
	require.GreaterOrEqual(t, typed.Upper, read.Expected, "no lighter than the published mean at that moisture")
	for _, moisture := range []float64{0, 0.008, -0.99, 3.5, math.NaN(), math.Inf(1), math.Inf(-1)} {
		p.Moisture = moisture
		_, err := lift.Weigh(p)
		require.ErrorContains(t, err, "moisture", "%v", moisture)
	}
	p.Moisture, p.Condition = 0, lift.ConditionUnknown
	require.NoError(t, p.Validate(), "weighed, and nobody said how wet: it counts as green")
	p.Condition = lift.Condition(200)
	require.ErrorContains(t, p.Validate(), "condition")
}

// Also a number that the shape has no use for: nobody meant it.
func TestWhatIsNoNumberIsRefusedWhereverItStandsInAPiece(t *testing.T) {
	base := goodLift(t).Piece
	base.Learned = lift.Learned{Kind: base.Species.Scientific, Condition: base.Condition, N: 1, Mean: 1, Shrunk: 1, Bound: 1.1, Heaviest: 1}
	shapes := map[string]func(*lift.Piece){
		"slabbed":     func(*lift.Piece) {},
		"round":       func(p *lift.Piece) { p.Shape = lift.Round },
		"middle only": func(p *lift.Piece) { p.Shape, p.Middle, p.Small, p.Large = lift.Round, 0.4, 0, 0 },
		"squared":     func(p *lift.Piece) { p.Shape, p.Width, p.Height, p.Bark = lift.Squared, 0.3, 0.3, false },
		"measured":    func(p *lift.Piece) { p.Shape, p.Volume = lift.Measured, 0.3 },
		"weighed":     func(p *lift.Piece) { p.Density = 900 },
	}
	for name, shape := range shapes {
		p := base
		shape(&p)
		require.NoError(t, p.Validate(), name)
		places := numbersOf(reflect.ValueOf(&p).Elem(), "Piece")
		require.Greater(t, len(places), 30)
		for place, number := range places {
			was := number.Float()
			for _, none := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
				number.SetFloat(none)
				require.Error(t, p.Validate(), "%s: %s %v", name, place, none)
			}
			number.SetFloat(was)
		}
	}
}

// numbersOf are all numbers within v by their names.
func numbersOf(v reflect.Value, name string) map[string]reflect.Value {
	found := map[string]reflect.Value{}
	switch v.Kind() {
	case reflect.Float64:
		found[name] = v
	case reflect.Array:
		for i := range v.Len() {
			maps.Copy(found, numbersOf(v.Index(i), fmt.Sprintf("%s[%d]", name, i)))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			maps.Copy(found, numbersOf(v.Field(i), name+"."+v.Type().Field(i).Name))
		}
	}
	return found
}
