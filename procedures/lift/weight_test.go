package lift_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

func TestUnknownKindIsTakenAsTheHeaviestAndSaidSo(t *testing.T) {
	p := goodLift(t).Piece
	p.Species = lift.Species{}
	w, err := lift.Weigh(p)
	require.NoError(t, err)
	require.NotEmpty(t, w.Notes)
	p.Fallback = kind(t, "eastern white pine")
	pine, err := lift.Weigh(p)
	require.NoError(t, err)
	require.NotEmpty(t, pine.Notes)
	require.Less(t, pine.Upper, w.Upper)
	for _, s := range lift.AllSpecies() {
		p.Species = s
		known, err := lift.Weigh(p)
		require.NoError(t, err)
		require.LessOrEqual(t, known.Upper, w.Upper, s.Common)
		p.Bark = true
		barked, err := lift.Weigh(p)
		require.NoError(t, err)
		require.Greater(t, barked.Upper, known.Upper)
		p.Bark = false
	}
}

func TestThickAirDryStockCountsAsGreen(t *testing.T) {
	p := lift.Piece{Shape: lift.Squared, Length: 2, Width: 4 * inch, Height: 12 * inch, Species: kind(t, "white oak"), Condition: lift.AirDry}
	thin, err := lift.Weigh(p)
	require.NoError(t, err)
	p.Width += 0.0001
	thick, err := lift.Weigh(p)
	require.NoError(t, err)
	p.Condition = lift.Green
	green, err := lift.Weigh(p)
	require.NoError(t, err)
	require.Equal(t, green.Upper, thick.Upper)
	require.Less(t, thin.Upper, 0.8*thick.Upper)
}

func TestEveryFieldOutOfRangeIsNamed(t *testing.T) {
	bad := lift.Piece{Shape: lift.Slabbed, Length: -1, Small: 2, Large: math.Inf(1), Middle: math.NaN(), Slabs: [4]float64{-1, 3, 0, math.NaN()},
		Condition: lift.MeasuredMoisture, Moisture: 9, Density: 0, Extra: -1, Balance: math.NaN()}
	problems, ok := bad.Validate().(plain.Problems)
	require.True(t, ok)
	for _, field := range []string{"length", "small", "large", "middle", "slab-1", "slab-2", "slab-4", "moisture", "extra", "balance"} {
		require.NotNil(t, problems.For(field), field)
	}
	squared := lift.Piece{Shape: lift.Squared, Length: 7, Width: 0, Height: math.NaN(), Density: 9000, Species: lift.Species{Gravity: math.NaN()}}
	problems, ok = squared.Validate().(plain.Problems)
	require.True(t, ok)
	for _, field := range []string{"length", "width", "height", "density", "species"} {
		require.NotNil(t, problems.For(field), field)
	}
	_, err := lift.Weigh(lift.Piece{Shape: lift.Slabbed, Length: 1, Small: .3, Large: .3, Density: 800,
		Slabs: [4]float64{.2, .2, 0, 0}})
	require.ErrorContains(t, err, "slab-2")
}
