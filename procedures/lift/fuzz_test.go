package lift_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// What is read of a quantity is a number in its range, and the same when it is
// written plainly and read again; else a sentence says what is wanted.
func readsBack[Q ~float64](t *testing.T, text, unit string, most float64, parse func(string, lift.Unit) (Q, error), bare lift.Unit) {
	got, err := parse(text, bare)
	if err != nil {
		require.NotEmpty(t, err.Error())
		require.Zero(t, got)
		return
	}
	require.True(t, got >= 0 && float64(got) <= most, "%q gave %v", text, got)
	again, err := parse(fmt.Sprintf("%.9f %s", float64(got), unit), lift.NoUnit)
	require.NoError(t, err)
	require.InDelta(t, float64(got), float64(again), 1e-9+math.Abs(float64(got))*1e-12)
}

func FuzzParseMass(f *testing.F) {
	for _, text := range []string{"250 lb", "250 lbs.", "250#", "113.4kg", "12", "1/2 lb", "17 3/8 lb", "½ kg", "1,200 lb", "-4 kg", "3 in", "1e3 kg", "Inf", "9999999 kg"} {
		f.Add(text, uint8(lift.Pounds))
	}
	f.Fuzz(func(t *testing.T, text string, bare uint8) {
		readsBack(t, text, "kg", 1e6, lift.ParseMass, lift.Unit(bare))
	})
}

func FuzzParseDensityAndVolume(f *testing.F) {
	for _, text := range []string{"55 lb/ft³", "55 lb/ft3", "880 kg/m³", "55", "38 ft³", "38 cu ft", "1.08 m^3", "1 1/2 m3", "0.5  cubic   feet", "3/0 m3", "1e9 pcf", "", "m³", "٣ m3"} {
		f.Add(text, uint8(lift.Pounds))
		f.Add(text, uint8(lift.Metres))
	}
	f.Fuzz(func(t *testing.T, text string, bare uint8) {
		readsBack(t, text, "kg/m³", 1e5, lift.ParseDensity, lift.Unit(bare))
		readsBack(t, text, "m³", 1e4, lift.ParseVolume, lift.Unit(bare))
	})
}
