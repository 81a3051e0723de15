package views_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// A limit is read at the machine: no power of ten, however large it is.
func TestNumbersAreWrittenOutWithoutPowersOfTen(t *testing.T) {
	f := &views.Frame{}
	for want, x := range map[string]float64{"1,000,000 in": 1e6, "12 in": 12, "0.0625 in": 0.0625, "1,204.5 in": 1204.5, "25,000,000 in": 2.5e7, "0.00005 in": 0.00005} {
		require.Equal(t, "at most "+want, f.Say(plain.Say("at most %v %s", x, "in")))
		require.Equal(t, "at most "+want, f.Say(plain.Say("at most %[1]v %[2]s", x, "in")))
	}
}
