package lift_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// A 12-ft log of 14 and 18 in balances 5.5026 ft from the large end (worked
// example I1, own arithmetic to 0.0005 ft); the rest is moments by hand.
func TestWhereALogComesToLie(t *testing.T) {
	const foot = 12 * inch
	log := lift.Piece{Shape: lift.Round, Length: 12 * foot, Small: 14 * inch, Large: 18 * inch, Density: 800}
	l, err := lift.Land(log, []float64{9 * foot, 1 * foot, 20 * foot}, 5*foot) // lies from −1 ft to 11 ft
	require.NoError(t, err)
	require.True(t, l.Rests)
	require.InDelta(t, 6*foot, float64(l.HalfLength), 1e-12)
	require.InDelta(t, (12-5.5026)*foot, float64(l.Balance), 0.0005*foot)
	require.Equal(t, []int{0, 1}, l.Bears)
	require.InDelta(t, 2*foot, float64(l.Overhang[0]), 1e-9)
	require.InDelta(t, 2*foot, float64(l.Overhang[1]), 1e-9)
	// 5.4974 ft from the track's start, so 4.4974 of 8 ft from the first headblock.
	require.InDelta(t, 4.4974/8, l.Share[0], 1e-4) // the headblock at 9 ft stands first in the list
	require.InDelta(t, 1, l.Share[0]+l.Share[1], 1e-12)
}

// An end that only just reaches a headblock, by less than it is set down and
// measured to, slides off it: it is not counted as lying there.
func TestTheLastInchOfAnEndBearsNothing(t *testing.T) {
	p := lift.Piece{Shape: lift.Squared, Length: 2, Width: .3, Height: .3, Density: 800}
	for past, rests := range map[float64]bool{0: false, 0.02: false, 0.03: true} {
		for _, blocks := range [][]float64{{-1 + past, .5}, {.5, -1 + past}, {-.5, 1 - past}} {
			l, err := lift.Land(p, blocks, 0)
			require.NoError(t, err)
			require.Equal(t, rests, l.Rests, "%v of %v", past, blocks)
		}
	}
}

func TestAPieceThatWouldTipDoesNotRest(t *testing.T) {
	p := lift.Piece{Shape: lift.Squared, Length: 2, Width: .3, Height: .3, Density: 800}
	for name, tc := range map[string]struct {
		blocks []float64
		rests  bool
	}{
		"two": {[]float64{-.5, .5}, true}, "three": {[]float64{-.5, 0, .5}, true}, "one": {[]float64{0}, false}, "none": {nil, false},
		"beside": {[]float64{.2, .8}, false}, "at one place": {[]float64{.1, .1}, false}, "out of reach": {[]float64{-3, 3}, false},
	} {
		l, err := lift.Land(p, tc.blocks, 0)
		require.NoError(t, err)
		require.Equal(t, tc.rests, l.Rests, name)
		require.Equal(t, tc.rests, l.Said.Empty(), name)
	}
	for _, at := range []float64{math.NaN(), math.Inf(1)} {
		_, err := lift.Land(p, []float64{0, at}, 0)
		require.IsType(t, plain.Problems{}, err)
		_, err = lift.Land(p, nil, at)
		require.Error(t, err)
	}
	_, err := lift.Land(lift.Piece{}, []float64{0, 1}, 0)
	require.Error(t, err)
}
