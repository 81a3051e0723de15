package server

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// The power goes while sixteen phones send: stops, answers, signatures. What was
// answered is there, once; what was not is there once or not at all, and once when
// it is sent again; the record is whole, and goes on from what a phone saw of it.
// A thousand times with STILLSAW_LONG; STILLSAW_SEED draws other cuts,
// STILLSAW_RUNS sets how many.
func TestAcknowledgedActsSurviveAPowerCut(t *testing.T) {
	seed, runs := drawnCuts(t, 8, 1000)
	const fresh = 10 // cuts of one database before the next
	chance := rand.New(rand.NewPCG(seed, 0))
	y := newYard(t)
	start, err := y.disk.Copy()
	require.NoError(t, err)
	answered, unanswered, rescued := 0, 0, 0
	for run := range runs {
		if run > 0 && run%fresh == 0 {
			y.leave(t)
			y.disk, err = start.Copy()
			require.NoError(t, err)
			y.seen, y.seenOf = "", 0
			require.NoError(t, y.start(t, y.clock))
		}
		y.cycle(t, fmt.Sprint("cut ", run), chance)
		lost, doubled := y.lost(t)
		require.Empty(t, lost, "seed %d, cut %d: answered and lost", seed, run)
		require.Empty(t, doubled, "seed %d, cut %d", seed, run)
		for a, n := range y.counted(t) {
			switch {
			case a.answered:
				answered++
			case n > 0:
				rescued++
			default:
				unanswered++
			}
		}
		y.again(t)
		if runs > 8 || run%4 == 3 {
			y.whole(t)
		}
		require.False(t, t.Failed(), "seed %d, cut %d", seed, run)
		if run%100 == 99 {
			t.Logf("%d cuts, %d acts answered before one", run+1, answered)
		}
	}
	y.leave(t)
	require.NoError(t, start.Close())
	t.Logf("seed %d: %d cuts; %d acts were answered before one, all kept, once; of %d others %d were kept", seed, runs, answered, unanswered+rescued, rescued)
	require.Positive(t, answered)
	require.Positive(t, unanswered)
}

// drawnCuts are what the tests of faults draw by and how often, few times in the
// ordinary suite.
func drawnCuts(t *testing.T, few, many int) (seed uint64, runs int) {
	t.Helper()
	seed, runs = 1, few
	if os.Getenv("STILLSAW_LONG") != "" {
		runs = many
	}
	if given := os.Getenv("STILLSAW_SEED"); given != "" {
		var err error
		seed, err = strconv.ParseUint(given, 10, 64)
		require.NoError(t, err)
	}
	if given := os.Getenv("STILLSAW_RUNS"); given != "" {
		var err error
		runs, err = strconv.Atoi(given)
		require.NoError(t, err)
	}
	return seed, runs
}
