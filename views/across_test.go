package views

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// A saw is one of 52 in at every maker's and sawsmith's (WAC 296-78-610(3) has its
// sizes so), never of 4 ft 4 in.
func TestSawsDiameterIsToldInInchesAlone(t *testing.T) {
	for units, want := range map[checklists.Units][2]string{checklists.InchPound: {"52 in", "48 3/8 in"}, checklists.Metric: {"1,321 mm", "1,229 mm"}} {
		f := &Frame{Units: units}
		for i, inches := range []plain.Metres{52, 48.375} {
			said, err := f.Across(inches * plain.Inch)
			require.NoError(t, err)
			require.Equal(t, want[i], said)
		}
	}
}
