package procedures_test

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func TestHeadblocksAreKeptInOrderAlongTheTrack(t *testing.T) {
	plant := starterMill()
	carriage, _ := plant.Find("carriage")
	w := carriage.Particulars()
	w.Headblocks, w.LandingMark = []float64{1.8, 0, 0.9}, 1.2
	changed, err := plant.Changed("carriage", w)
	require.NoError(t, err)
	carriage, _ = changed.Find("carriage")
	require.Equal(t, []float64{0, 0.9, 1.8}, carriage.Headblocks)
	require.InDelta(t, 1.2, carriage.LandingMark, 0)
	same, err := changed.Changed("carriage", carriage.Particulars())
	require.NoError(t, err)
	require.Equal(t, changed, same)
}

func TestHeadblocksThatCannotBeAreRefused(t *testing.T) {
	plant := starterMill()
	for name, tc := range map[string]struct {
		field  string
		on     procedures.EquipmentID
		blocks []float64
		mark   float64
	}{
		"not a number":        {"headblocks", "carriage", []float64{math.NaN()}, 1},
		"behind the zero":     {"headblocks", "carriage", []float64{-1}, 1},
		"beyond any track":    {"headblocks", "carriage", []float64{31}, 1},
		"two in one place":    {"headblocks", "carriage", []float64{1, 1}, 1},
		"too many":            {"headblocks", "carriage", []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13}, 1},
		"no mark":             {"landing_mark", "carriage", []float64{1, 2}, 0},
		"mark not a number":   {"landing_mark", "carriage", []float64{1, 2}, math.NaN()},
		"mark beyond":         {"landing_mark", "carriage", []float64{1, 2}, math.Inf(1)},
		"a saw has none":      {"headblocks", "head-saw", []float64{1, 2}, 1},
		"nor a mark to match": {"headblocks", "hoist", nil, 1},
	} {
		e, _ := plant.Find(tc.on)
		w := e.Particulars()
		w.Headblocks, w.LandingMark = tc.blocks, tc.mark
		_, err := plant.Changed(tc.on, w)
		var problems plain.Problems
		require.True(t, errors.As(err, &problems), name)
		require.NotNil(t, problems.For(tc.field), "%s: %v", name, err)
		e.Headblocks, e.LandingMark = tc.blocks, tc.mark
		bad := append(procedures.Plant{}, plant...)
		for i := range bad {
			if bad[i].ID == tc.on {
				bad[i] = e
			}
		}
		require.Error(t, bad.Validate(), name)
	}
}
