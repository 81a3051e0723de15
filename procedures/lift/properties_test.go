package lift_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
)

// anyLift is a lift near the good one, rated so that both answers come up.
func anyLift(t *rapid.T) lift.Lift {
	l := goodLift(t)
	all := lift.AllSpecies()
	between := func(low, high float64, name string) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
	p := &l.Piece
	p.Species = all[rapid.IntRange(0, len(all)-1).Draw(t, "species")]
	p.Shape = lift.Shape(rapid.IntRange(1, 3).Draw(t, "shape"))
	p.Condition = lift.Condition(rapid.IntRange(1, 3).Draw(t, "condition"))
	p.Length = between(1.15, 2.6, "length")
	p.Small = between(0.2, 0.5, "small")
	p.Large = p.Small * between(1, 1.3, "taper")
	p.Width, p.Height = between(0.08, 0.4, "width"), between(0.08, 0.4, "height")
	if p.Shape == lift.Slabbed {
		p.Slabs = [4]float64{between(0.01, 0.09, "slab"), between(0, 0.09, "opposite"), between(0, 0.09, "third"), 0}
	}
	p.Bark, p.Weather.Wet = rapid.Bool().Draw(t, "bark"), rapid.Bool().Draw(t, "wet")
	l.Span = between(0.7, 1.1, "span")
	l.Rig.LegLength = between(0.32, 1, "leg")
	for i := range l.Rig.Links[:5] {
		l.Rig.Links[i].RatedLoad = between(60, 900, "rated")
	}
	return l
}

func TestHarderIsNeverSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := anyLift(t)
		before := lift.Check(l)
		more := rapid.Float64Range(0, 0.3).Draw(t, "more")
		harder := l
		harder.Rig.Links = append([]lift.Link{}, l.Rig.Links...)
		how := rapid.SampledFrom([]string{"longer", "thicker", "thinner slab", "wetter", "heavier kind", "flatter", "lower rating", "extra", "gear"}).Draw(t, "how")
		switch how {
		case "longer":
			harder.Piece.Length += more
		case "thicker":
			harder.Piece.Small += more
			harder.Piece.Large += more
			harder.Piece.Width += more
		case "thinner slab":
			harder.Piece.Slabs[0] *= 1 - more
		case "wetter":
			harder.Piece.Condition = lift.Green
		case "heavier kind":
			s := &harder.Piece.Species
			s.Gravity += more
			s.MeanMoisture += more
		case "flatter":
			harder.Rig.LegLength -= more
		case "lower rating":
			harder.Rig.Links[rapid.IntRange(0, 5).Draw(t, "which")].RatedLoad *= 1 - more
		case "extra":
			harder.Piece.Extra += 100 * more
		case "gear":
			harder.Rig.Links[rapid.IntRange(1, 5).Draw(t, "which")].OwnMass += 100 * more
		}
		after := lift.Check(harder)
		if !before.Go && after.Go {
			t.Fatalf("%s by %v turned NO-GO into GO: %v", how, more, before.Findings)
		}
		if weighed(before) && weighed(after) {
			require.GreaterOrEqual(t, after.Weight.Upper+1e-9, before.Weight.Upper)
		}
	})
}

func weighed(v lift.Verdict) bool { return v.Weight.Upper > 0 }

func TestUpperIsNeverLessThanExpected(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := anyLift(t)
		w, err := lift.Weigh(l.Piece)
		if err != nil {
			return
		}
		require.GreaterOrEqual(t, w.Upper, w.Expected)
		sum := w.Expected
		for _, part := range w.Parts {
			sum += part.Mass
		}
		require.InDelta(t, float64(w.Upper), float64(sum), 1e-6)
		point := l.Piece.BalancePoint()
		require.True(t, point > 0 && point < l.Piece.Length)
	})
}

func FuzzCheckNeverPanics(f *testing.F) {
	f.Add(uint8(2), uint8(1), 1.25, 0.35, 0.38, 0.05, 0.02, 0.2, 0.2, 1.0, 0.5, 0.6, 500.0, 12.0)
	f.Add(uint8(1), uint8(4), math.NaN(), math.Inf(1), -1.0, 0.0, 1e308, 1e-308, 0.2, 9.0, 0.5, 0.0, -500.0, math.NaN())
	f.Fuzz(func(t *testing.T, shape, condition uint8, length, small, large, slab, third, width, height, span, yoke, leg, rated, own float64) {
		l := goodLift(t)
		l.Piece.Shape, l.Piece.Condition = lift.Shape(shape%6), lift.Condition(condition%6)
		l.Piece.Length, l.Piece.Small, l.Piece.Large = length, small, large
		l.Piece.Slabs = [4]float64{slab, third, third, slab}
		l.Piece.Width, l.Piece.Height, l.Piece.Volume, l.Piece.Moisture = width, height, width, height
		l.Span, l.Rig.YokeWidth, l.Rig.LegLength = span, yoke, leg
		l.Rig.Links[2].RatedLoad, l.Rig.Links[2].OwnMass = rated, own
		v := lift.Check(l)
		if !v.Go {
			require.NotEmpty(t, v.Findings)
			return
		}
		for _, x := range []float64{float64(v.Weight.Upper), float64(v.Weight.Expected), float64(v.Angle), float64(v.Tilt), float64(v.Balance), float64(v.LegTension[0])} {
			require.False(t, math.IsNaN(x) || math.IsInf(x, 0), "%+v", v)
		}
		for _, b := range v.Bars {
			require.LessOrEqual(t, b.Ratio, 1.0)
		}
	})
}

// BenchmarkCheck judges one lift over and over into the same verdict, a GO and
// three kinds of NO-GO.
func BenchmarkCheck(b *testing.B) {
	good := func(*lift.Lift) {}
	for _, one := range []struct {
		name  string
		goes  bool
		spoil func(*lift.Lift)
	}{
		{"go", true, good},
		{"hoist too weak", false, func(l *lift.Lift) { l.Rig.Links[2].RatedLoad = 100 }},
		{"legs too flat", false, func(l *lift.Lift) { l.Rig.LegLength = 0.33 }},
		{"question open", false, func(l *lift.Lift) { l.Questions.Free = lift.Unanswered }},
	} {
		b.Run(one.name, func(b *testing.B) {
			l := goodLift(b)
			one.spoil(&l)
			var v lift.Verdict
			b.ReportAllocs()
			for b.Loop() {
				v.Check(&l)
			}
			if v.Go != one.goes {
				b.Fatal(v.Findings)
			}
		})
	}
}
