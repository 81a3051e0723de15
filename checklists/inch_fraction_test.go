package checklists_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestInchesAreSaidAsARuleShowsThem(t *testing.T) {
	for x, want := range map[float64]string{0.015625: "1/64", 0.0625: "1/16", 0.5: "1/2", 1.5: "1 1/2", 3.984375: "3 63/64"} {
		said, ok := checklists.InchFraction(x, "in")
		require.True(t, ok, want)
		require.Equal(t, want, said)
		again, err := checklists.ParseNumber(said)
		require.NoError(t, err)
		require.InDelta(t, x, again, 0, "what is shown can be typed")
	}
	for _, x := range []float64{0, 2, 0.03, 1.0 / 128, -0.5, 1e18} {
		_, ok := checklists.InchFraction(x, "in")
		require.False(t, ok, "%v", x)
	}
	_, ok := checklists.InchFraction(0.5, "mm")
	require.False(t, ok)
	low, high := 0.015625, 0.0625
	require.Equal(t, "from 1/64 to 1/16 in", checklists.Limits{Low: &low, High: &high, Unit: "in"}.Said().String())
}
