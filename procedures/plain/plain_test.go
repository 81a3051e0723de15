package plain_test

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

func TestProblemsAreNoErrorUntilThereIsOne(t *testing.T) {
	var bad plain.Problems
	bad.Unless(true, "length", "anything")
	require.NoError(t, bad.Err(), "and no typed nil either")
	bad.Unless(false, "length", "at most %d m", 6)
	require.Error(t, bad.Err())
	require.Equal(t, "at most 6 m", bad.For("length").String())
	require.Nil(t, bad.For("width"))
	require.Equal(t, "length: at most 6 m", bad.Error())
}

// Ranges are asserted, so that a number that is none fails every one.
func TestNotANumberFailsAnAssertedRange(t *testing.T) {
	var bad plain.Problems
	for _, x := range []float64{math.NaN(), math.Inf(1), -1, 3} {
		bad.Unless(x >= 0 && x <= 6, "length", "0 to 6 m")
	}
	require.Len(t, bad, 3, "all but the last")
}

func TestProblemsOfAPartKeepTheirPlace(t *testing.T) {
	var part, whole plain.Problems
	part.Unless(false, "name", "a name")
	whole.Add("link-2-", part)
	whole.Add("note", errors.New("unreadable"))
	whole.Add("other", nil)
	require.Equal(t, plain.Problems{{Field: "link-2-name", Want: plain.Say("a name")}, {Field: "note", Want: plain.Say("%s", "unreadable")}}, whole)
	var placed plain.Problems
	placed.At("saw_diameter", part)
	placed.At("spindle_speed", errors.New("no number"))
	placed.At("feed", nil)
	require.NotNil(t, placed.For("saw_diameter"), "whatever the parser calls it")
	require.NotNil(t, placed.For("spindle_speed"))
	require.Len(t, placed, 2)
}

func TestRefusalSaysItsClause(t *testing.T) {
	require.Equal(t, "verify first (29 CFR 1910.147(d)(6))", plain.Refuse("29 CFR 1910.147(d)(6)", "%s first", "verify").Error())
	require.Equal(t, "not now", plain.Refuse("", "not now").Error())
	var refusal *plain.Refusal
	require.ErrorAs(t, error(plain.Refuse("", "no")), &refusal)
}

func TestSentenceWithoutValuesMayHoldAPercentSign(t *testing.T) {
	require.Equal(t, "100 % of the mark", plain.Say("100 % of the mark").String())
	require.True(t, plain.Sentence{}.Empty())
	require.False(t, plain.Say("x").Empty())
}

// Exact by definition: the international yard and pound agreement of 1959 and
// the General Conference on Weights and Measures of 1901.
func TestDefinedUnits(t *testing.T) {
	require.Equal(t, 0.0254, float64(plain.Inch))
	require.Equal(t, 0.3048, float64(plain.Foot))
	require.Equal(t, 0.45359237, float64(plain.Pound))
	require.Equal(t, 9.80665, plain.StandardGravity)
	require.InDelta(t, 12, float64(plain.Foot/plain.Inch), 1e-12)
}

func TestQuantitiesSayTheirUnit(t *testing.T) {
	for want, said := range map[string]interface{ String() string }{
		"2.286 m": plain.Metres(2.286), "453.6 kg": plain.Pound * 1000, "1200 N": plain.Newtons(1200), "41.4°": plain.Degrees(41.41),
		"0.2832 m³": plain.CubicMetres(0.28317), "8.69 mm": plain.Gauged(0.342 * 0.0254), "1009 kg/m³": plain.KilogramsPerCubic(1009), "80 %": plain.Fraction(0.8),
	} {
		require.Equal(t, want, said.String())
	}
}
