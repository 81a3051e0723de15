package lift

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Six checks that were NO-GO, of a piece that was never lifted.
func TestLiftsNeverAllowedTeachNoLighterWood(t *testing.T) {
	p := oakPiece(t)
	published := weigh(t, p)
	list := readings(t, p, .6, .6, .61, .6, .6, .62)
	for i := range list {
		list[i].Lifted = false
	}
	p.Learned, _ = Learn(list, p.Species, p.Condition)
	require.Equal(t, Learned{}, p.Learned)
	for _, one := range Tell(list, p.Species, p.Condition) {
		require.False(t, one.Counts)
		require.Contains(t, one.Why.String(), "did not allow")
	}
	heavy := readings(t, p, 1.3)
	heavy[0].Lifted = false
	p.Learned, _ = Learn(append(list, heavy...), p.Species, p.Condition)
	require.Equal(t, 1, p.Learned.N)
	require.Greater(t, weigh(t, p).Upper, published.Upper, "heavier counts from any lift")
}

func TestOnePieceCountsOnceAtItsHeaviest(t *testing.T) {
	p := oakPiece(t)
	list := readings(t, p, .9, .95, .92)
	for i := range list {
		list[i].At = list[0].At.Add(time.Duration(i) * time.Hour)
		list[i].Lift = string(rune('a' + i))
	}
	l, _ := Learn(list, p.Species, p.Condition)
	require.Equal(t, 1, l.N)
	require.InDelta(t, .95, l.Heaviest, 1e-9)
	counts := map[string]bool{}
	for _, one := range Tell(list, p.Species, p.Condition) {
		counts[one.Lift] = one.Counts
		require.Equal(t, one.Counts, one.Why.Empty())
	}
	require.Equal(t, map[string]bool{"a": false, "b": true, "c": false}, counts)
	list[2].Length *= 1.1
	l, _ = Learn(list, p.Species, p.Condition)
	require.Equal(t, 2, l.N, "another piece")
	list[0].At = list[0].At.Add(48 * time.Hour)
	l, _ = Learn(list, p.Species, p.Condition)
	require.Equal(t, 3, l.N, "another day")
}

// Whatever is weighed of lifts that were not allowed, no answer gets lighter.
func TestReadingsOfLiftsNotAllowedOnlyEverMakeHeavier(t *testing.T) {
	p := oakPiece(t)
	rapid.Check(t, func(t *rapid.T) {
		ratios := rapid.SliceOfN(rapid.Float64Range(.5, 1.5), 0, 12)
		own, other := readings(t, p, ratios.Draw(t, "own")...), readings(t, p, ratios.Draw(t, "other")...)
		for i := range other {
			other[i].Lifted, other[i].At = false, other[i].At.Add(-10_000*time.Hour)
		}
		signed := rapid.Bool().Draw(t, "signed")
		with, without := p, p
		learned, _ := Learn(own, p.Species, p.Condition)
		without.Learned = learned.SignedFor(signed)
		learned, _ = Learn(append(other, own...), p.Species, p.Condition)
		with.Learned = learned.SignedFor(signed)
		require.GreaterOrEqual(t, float64(weigh(t, with).Upper), float64(weigh(t, without).Upper)-1e-9)
	})
}
