package store

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// entriesOf reads back every entry of a mill.
func entriesOf(t *testing.T, m *Mill) (all []replayEntry) {
	t.Helper()
	pages := make(chan replayPageRead)
	go func() {
		defer close(pages)
		readPages(t.Context(), m, m.id, -1, nil, pages)
	}()
	for page := range pages {
		require.NoError(t, page.err)
		all = append(all, page.entries...)
	}
	return all
}

// drawnFrom is a history nobody entered: of the entries of one some are left out,
// some come twice and some before what they follow.
func drawnFrom(rng *rand.Rand, all []replayEntry) []replayEntry {
	var drawn []replayEntry
	for _, e := range all {
		switch rng.IntN(20) {
		case 0:
			continue
		case 1:
			drawn = append(drawn, begunAgain(e))
		}
		drawn = append(drawn, e)
		if last := len(drawn) - 1; last > 0 && rng.IntN(12) == 0 {
			other := max(0, last-1-rng.IntN(8))
			drawn[last], drawn[other] = drawn[other], drawn[last]
		}
	}
	for i := range drawn {
		drawn[i].Seq = int64(i)
	}
	return drawn
}

// begunAgain is e, or a lockout begun an hour before that is begun once more by e.
func begunAgain(e replayEntry) replayEntry {
	if b, ok := e.body.(*lockoutBody); ok && b.Event.Kind == procedures.Began {
		other := *b
		other.Event.At = other.Event.At.Add(-time.Hour)
		e.body = &other
	}
	return e
}

// Rows that are held back until they are asked for, and lockouts that are folded in
// memory, leave the tables as writing each entry by itself does, and the same
// entries out: in histories that hold together and in those that don't.
func TestReplayAheadLeavesWhatEachEntryByItselfDoes(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	worked(t, m, 300)
	all := entriesOf(t, m)
	failed := 0
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 0))
		history := all
		if seed > 0 {
			history = drawnFrom(rng, all)
		}
		quick, err := newScratch(t.Context(), t.TempDir())
		require.NoError(t, err)
		apart, err := newScratch(t.Context(), t.TempDir())
		require.NoError(t, err)
		apart.apart = true
		var one, other replayed
		for len(history) > 0 {
			most := 6 // of what holds together more is left where little goes back at once
			if seed%3 == 0 {
				most = 120
			}
			n := min(len(history), 1+rng.IntN(most))
			require.NoError(t, quick.project(t.Context(), slices.Clone(history[:n]), &one))
			require.NoError(t, apart.project(t.Context(), slices.Clone(history[:n]), &other))
			history = history[n:]
		}
		require.Equal(t, other, one, "seed %d", seed)
		failed += len(one.Failed)
		for _, table := range projections() {
			shape, err := shapeOf(quick, table)
			require.NoError(t, err)
			count, err := compareTable(t.Context(), quick, apart, shape, func(d rowDifference) error {
				return fmt.Errorf("seed %d, %s %v: %v", seed, table, d.key(), d.fields())
			})
			require.NoError(t, err)
			if seed == 0 {
				require.Positive(t, count.rows, table)
			}
		}
		require.NoError(t, quick.Close())
		require.NoError(t, apart.Close())
	}
	require.Positive(t, failed, "no drawn history broke a rule")
}
