package sample_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/sample"
)

// In CI, and where the long tests are asked for, nothing is left out; elsewhere each nth
// is gone through.
func TestNothingIsLeftOutInCI(t *testing.T) {
	for _, c := range []struct {
		ci, long string
		whole    bool
		has      []int
	}{
		{"", "", false, []int{0, 3, 6}},
		{"true", "", true, []int{0, 1, 2, 3, 4, 5, 6}},
		{"", "1", true, []int{0, 1, 2, 3, 4, 5, 6}},
	} {
		t.Setenv("CI", c.ci)
		t.Setenv("STILLSAW_LONG", c.long)
		require.Equal(t, c.whole, sample.Whole())
		var has []int
		for i := range 7 {
			if sample.Has(i, 3) {
				has = append(has, i)
			}
		}
		require.Equal(t, c.has, has)
	}
}
