package lift

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Half of a round log by hand: a disc of 0.4 m and half a step of 0.02 m, 2 m long
// and half a step of 0.1 m, of which bark is counted on half where a face went
// past the axis.
func TestBarkIsCountedOnHalfTheLogAtLeast(t *testing.T) {
	p := Piece{Shape: Slabbed, Length: 2, Small: 0.4, Large: 0.4, Slabs: [4]float64{0.25}}
	step := Reading{Section: 0.02, Length: 0.1}
	half := math.Pi / 4 * 0.41 * 0.41 * 2.05 / 2
	require.InDelta(t, half, p.barked(0.001, step), 1e-12)
	require.InDelta(t, 9, p.barked(9, step), 0)
	p.Slabs[0] = 0.2 // to the axis and no further
	require.InDelta(t, 0.001, p.barked(0.001, step), 0)
}

// The mill's own scale moves every density by as much as the expected one: a mean
// of 1.1 with ten readings and the published one for four is 15/14.
func TestEveryDensityMovesWithTheMillsOwnScale(t *testing.T) {
	published := densities{expected: 1000, dense: 1100, wet: 1200, excess: 1300, upper: 1400, weighed: 1400}
	l := Learned{N: 10, Mean: 1.1, Shrunk: 15.0 / 14, Heaviest: 1.2, Bound: 1.15, Signed: true}
	moved := l.apply(published, 0.6)
	by := 1000.0 / 14
	for name, pair := range map[string][2]float64{
		"expected": {published.expected, moved.expected}, "dense": {published.dense, moved.dense}, "wet": {published.wet, moved.wet},
		"excess": {published.excess, moved.excess}, "upper": {published.upper, moved.upper},
	} {
		require.InDelta(t, pair[0]+by, pair[1], 1e-9, name)
	}
}

// Nominal sizes of alloy chain in inches, as the table of OSHA's guidance names them.
func TestChainSizesAreWhatTheirNamesSay(t *testing.T) {
	for size, inches := range map[ChainSize]float64{Chain7_32: 0.21875, Chain9_32: 0.28125, Chain5_16: 0.3125, Chain3_8: 0.375, Chain1_2: 0.5,
		Chain5_8: 0.625, Chain3_4: 0.75, Chain7_8: 0.875, Chain1: 1, Chain1_1_4: 1.25, 200: 0} {
		require.InDelta(t, inches, size.inches(), 0, size.String())
	}
}

func TestMedianByHand(t *testing.T) {
	require.InDelta(t, 2, median([]float64{3, 1, 2}), 0)
	require.InDelta(t, 2.5, median([]float64{4, 1, 3, 2}), 0)
	require.InDelta(t, 7, median([]float64{7}), 0)
}

// A mark or a few letters are nobody's word for the angles of end hooks.
func TestBandIsKnownBySixLettersOfWhoStandsForIt(t *testing.T) {
	for source, known := range map[string]bool{"": false, "maker": false, "ma-ker": false, "m.a.k.e.r.": false, "makers": true, "ACME 7": false, "ACME 70": true} {
		require.Equal(t, known, Band{Low: 30, High: 75, Source: source}.known(), source)
	}
	require.False(t, Band{Low: 30, Source: "the maker's sheet"}.known())
}

// Each leg has to lean outward and hang below its upper end.
func TestRestNeedsBothLegsLeaningOutward(t *testing.T) {
	for lean, settled := range map[[2]float64]bool{{0.3, 0.2}: true, {0.3, -0.1}: false, {-0.1, 0.3}: false, {1.6, 0.2}: false, {0.2, 1.6}: false} {
		require.Equal(t, settled, restWith(100, 0, 0, lean).Settled, lean)
	}
}

// Readings of lifts that were never allowed are counted, and counted apart.
func TestReadingsOfLiftsNeverAllowedAreCountedApart(t *testing.T) {
	oak, ok := FindSpecies("northern red oak")
	require.True(t, ok)
	var all []Weighing
	for i, ratio := range []float64{1, 1.02, 0.99, 1.03, 1.05} {
		all = append(all, Weighing{Kind: oak.Scientific, Condition: Green, Predicted: 100 + float64(i), Weighed: (100 + float64(i)) * ratio, Volume: 0.1, Length: 1.2, At: time.Date(2026, 3, 1+i, 9, 0, 0, 0, time.UTC), Lifted: i < 3})
	}
	allowed, _ := Learn(all[:3], oak, Green)
	require.Equal(t, []int{3, 0}, []int{allowed.N, allowed.Heavy})
	both, _ := Learn(all, oak, Green)
	require.Equal(t, []int{5, 2}, []int{both.N, both.Heavy})
	require.GreaterOrEqual(t, both.Bound, allowed.Bound)
}
