package lift_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// 1 lb/ft³ is 16.018 463 kg/m³: NIST SP 811 (2008), Appendix B.8, "pound per
// cubic foot"; from memory. It follows from the pound and the foot.
func TestDensitiesAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]float64{
		"55 lb/ft³": 55 * 16.018463, "55 lb/ft3": 55 * 16.018463, "55lb/ft^3": 55 * 16.018463, "55 LB/CU  FT": 55 * 16.018463, "55 pcf": 55 * 16.018463, "54 1/2": 54.5 * 16.018463,
		"55": 55 * 16.018463, "880 kg/m³": 880, "880.5kg/m3": 880.5,
	} {
		got, err := lift.ParseDensity(text, lift.Pounds)
		require.NoError(t, err, text)
		require.InDelta(t, want, float64(got), want*1e-7, text)
	}
	got, err := lift.ParseDensity("880", lift.Kilograms)
	require.NoError(t, err)
	require.InDelta(t, 880, float64(got), 1e-12)
	_, err = lift.ParseDensity("880", lift.NoUnit)
	require.ErrorContains(t, err, "unit")
}

func TestDensityThatIsNoneIsRefused(t *testing.T) {
	for _, text := range []string{"", " ", "-55", "NaN", "inf", "1e3", "55 lb", "55 kg", "55 lb/in", "heavy", "lb/ft³", "55 55", "1.2.3", "9999999", "5,5 lb/ft³", "55 kg/m³ or so"} {
		_, err := lift.ParseDensity(text, lift.Pounds)
		require.Error(t, err, text)
		var bad plain.Problems
		bad.Add("density", err)
		require.NotNil(t, bad.For("density"), text)
	}
}

// A girth is π diameters: the message speaks of what was typed.
func TestTooLargeAGirthIsToldAsAGirth(t *testing.T) {
	p := lift.Piece{Shape: lift.Round, Length: 2, Small: 0.3, Large: lift.DiameterOfGirth(4.8), Girths: true, Condition: lift.Green}
	require.ErrorContains(t, p.Validate(), "4.712 m round")
	p.Girths = false
	require.ErrorContains(t, p.Validate(), "1.500 m")
}
