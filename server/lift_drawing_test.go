package server

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/views"
)

func areaOf(corners [][2]float64) (area float64) {
	for i, a := range corners {
		b := corners[(i+1)%len(corners)]
		area += (a[0]*b[1] - a[1]*b[0]) / 2
	}
	return area
}

// Geometry, radius 1: a half disk is π/2, a quarter π/4; the square in a circle
// is 2; the segment of a sixth of a turn is π/6 − √3/4, cut off at a depth of
// 1 − √3/2. The drawn circle is of chords, 0.05 % less.
func TestDrawnEndIsTheCirclesPartTheFlatsLeave(t *testing.T) {
	inner := 1 - math.Sqrt2/2
	for name, tc := range map[string]struct {
		slabs [4]float64
		want  float64
	}{
		"half": {[4]float64{1}, math.Pi / 2}, "other half": {[4]float64{0, 1}, math.Pi / 2}, "quarter": {[4]float64{1, 0, 1}, math.Pi / 4},
		"square": {[4]float64{inner, inner, inner, inner}, 2}, "one slab": {[4]float64{1 - math.Sqrt(3)/2}, math.Pi - (math.Pi/6 - math.Sqrt(3)/4)},
		"past the axis": {[4]float64{1.5}, math.Pi/3 - math.Sqrt(3)/4},
	} {
		p := lift.Piece{Shape: lift.Slabbed, Small: 2, Slabs: tc.slabs}
		assert.InDelta(t, tc.want, areaOf(endCorners(&p)), 0.0025, name)
	}
	top := lift.Piece{Shape: lift.Slabbed, Small: 2, Slabs: [4]float64{0.5, 0, 0.8}}
	for _, c := range endCorners(&top) {
		assert.LessOrEqual(t, c[1], 0.5+1e-12, "the first face is the top")
		assert.GreaterOrEqual(t, c[0], -0.2-1e-12, "the third is at the left")
	}
}

func TestOnlyASlabbedCantShowsItsEnd(t *testing.T) {
	f := &views.Frame{Units: checklists.InchPound}
	end := drawEnd(f, &lift.Piece{Shape: lift.Slabbed, Small: 18 * 0.0254, Slabs: [4]float64{3.5 * 0.0254, 3.5 * 0.0254, 2 * 0.0254}})
	require.NotNil(t, end)
	assert.Equal(t, "The small end, top up: a log 18 in through, sawn to 11 in high and 16 in wide.", end.Said)
	for _, p := range []lift.Piece{{Shape: lift.Round, Small: .4, Large: .4}, {Shape: lift.Squared, Width: .3, Height: .3}, {Shape: lift.Measured, Volume: 1}} {
		assert.Nil(t, drawEnd(f, &p))
	}
	m := liftingMill(t)
	m.as("ada").post("/lifts/new", redOakCant()).says(t, "sawn to 11 in high and 18 in wide.")
}

func TestLogOfWhichTheMiddleAloneIsKnownIsDrawnAsThickAndBroken(t *testing.T) {
	p := lift.Piece{Shape: lift.Round, Length: 2, Middle: 0.5, Condition: lift.Green}
	a, b, c, d, known := outline(&p)
	assert.Equal(t, [4]float64{.25, .25, .25, .25}, [4]float64{a, b, c, d})
	assert.False(t, known, "how it tapers is not")
	f := &views.Frame{Units: checklists.Metric}
	drawn := drawLift(f, &lift.Lift{Piece: p}, &lift.Verdict{})
	assert.True(t, drawn.Guessed)
	assert.NotContains(t, drawn.Piece, "NaN")

	// Where it balances nobody knows, so neither mark nor hang is drawn.
	m := liftingMill(t)
	l := domainCant(t, m)
	p.Species = l.Piece.Species
	l.Piece, l.Span = p, 1.9
	v := lift.Check(l)
	require.False(t, v.Go)
	drawn = drawLift(f, &l, &v)
	assert.Nil(t, drawn.Balance)
	assert.Empty(t, drawn.Legs)
	about := l
	about.Placing, about.Rig.Hitch, about.Span = lift.OverBalance, lift.TwoLegBridle, 1.2
	about.Rig.YokeWidth, about.Rig.Links = 0, about.Rig.Links[:len(about.Rig.Links)-1] // slings in place of the end hooks
	v = lift.Check(about)
	drawn = drawLift(f, &about, &v)
	assert.Nil(t, drawn.Balance)
	assert.NotEmpty(t, drawn.Legs, "with the hooks set about it, wherever it is, it hangs level")
	l.Piece.Balance = 1
	v = lift.Check(l)
	drawn = drawLift(f, &l, &v)
	assert.NotNil(t, drawn.Balance, "found by trial it is")
	assert.NotEmpty(t, drawn.Legs)
}
