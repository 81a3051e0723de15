package lift_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

func TestLengthsAsPeopleWriteThem(t *testing.T) {
	for text, metres := range map[string]float64{
		"17 3/8 in": 17.375 * inch, `17 3/8"`: 17.375 * inch, `17-3/8"`: 17.375 * inch, "17⅜ in": 17.375 * inch, "17 3/8in": 17.375 * inch,
		"3/8 inch": 0.375 * inch, "½ in": 0.5 * inch, ".5in": 0.5 * inch, "17.375": 17.375 * inch, "17 3/8": 17.375 * inch, "0": 0,
		"7 ft 6 in": 90 * inch, `7'6"`: 90 * inch, "7'6": 90 * inch, `7' 6 1/2"`: 90.5 * inch, "7ft6in": 90 * inch, "8ft": 96 * inch, "7.5 feet": 90 * inch, "7′ 6″": 90 * inch,
		"2.4 m": 2.4, "240cm": 2.4, "1800mm": 1.8, " 1800 MM ": 1.8, "2 metres": 2,
	} {
		got, err := lift.ParseLength(text, lift.Inches)
		require.NoError(t, err, text)
		require.InDelta(t, metres, float64(got), 1e-12, text)
	}
	got, err := lift.ParseLength("8", lift.Feet)
	require.NoError(t, err)
	require.InDelta(t, 8*12*inch, float64(got), 1e-12)
}

func TestWeightsAsPeopleWriteThem(t *testing.T) {
	for text, kg := range map[string]float64{"250 lb": 250 * pound, "250 lbs.": 250 * pound, "250#": 250 * pound, "113.4kg": 113.4, "12": 12} {
		got, err := lift.ParseMass(text, lift.Kilograms)
		require.NoError(t, err, text)
		require.InDelta(t, kg, float64(got), 1e-12, text)
	}
}

func TestNonsenseIsRefusedWithASentence(t *testing.T) {
	for _, text := range []string{"", " ", "-3 in", "−3 in", "NaN", "inf", "+Inf", "1e5", "1e5 in", "0x10", "1,800 mm", "2,4 m", "12 lb", "3/0 in", "17 9/8 in",
		"7 ft 14 in", "8'000", "2’011", "7 ft 006 in", "1 234.5 mm", "1\u202f234 mm", "1e3 mm", "7.5 ft 6 in", "7 ft 6 mm", "7 m 6 in", "7 6", "7 in 6 ft", "1 ft 2 in 3", "in", "'", "/", "1.2.3 m", "5 furlongs", "99999999 m", "１２ in",
		"1000000000000000000000000000000000000000000000000000000000000000000000 mm"} {
		_, err := lift.ParseLength(text, lift.Inches)
		require.Error(t, err, text)
		var bad plain.Problems
		bad.Add("length", err)
		require.NotNil(t, bad.For("length"), text)
		require.NotContains(t, err.Error(), "%!", text)
	}
	_, err := lift.ParseLength("17", lift.NoUnit)
	require.ErrorContains(t, err, "unit")
	_, err = lift.ParseMass("3 in", lift.Pounds)
	require.ErrorContains(t, err, "another unit")
}

func FuzzParseLength(f *testing.F) {
	for _, text := range []string{"17 3/8 in", `7'6"`, "2.4 m", "240cm", "1e9", "7 ft 6 1/2 in", "½", "３ m", "1/0", "NaN"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := lift.ParseLength(text, lift.Inches)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		require.True(t, got >= 0 && got <= 1000, "%q gave %v", text, got)
		again, err := lift.ParseLength(fmt.Sprintf("%.9f m", float64(got)), lift.NoUnit)
		require.NoError(t, err)
		require.InDelta(t, float64(got), float64(again), 1e-9)
	})
}

func TestNamesAreReadBack(t *testing.T) {
	type name interface {
		fmt.Stringer
		MarshalText() ([]byte, error)
	}
	back := func(n name, err error, want name) {
		require.NoError(t, err)
		require.Equal(t, want, n)
		text, err := want.MarshalText()
		require.NoError(t, err)
		require.Equal(t, want.String(), string(text))
	}
	for i := range uint8(5) {
		s, err := lift.ParseShape(lift.Shape(i).String())
		back(s, err, lift.Shape(i))
		c, err := lift.ParseCondition(lift.Condition(i).String())
		back(c, err, lift.Condition(i))
		h, err := lift.ParseHitch(lift.Hitch(i).String())
		back(h, err, lift.Hitch(i))
		col, err := lift.ParseColumn(lift.Column(i).String())
		back(col, err, lift.Column(i))
	}
	for i := range uint8(4) {
		s, err := lift.ParseState(lift.State(i).String())
		back(s, err, lift.State(i))
	}
	for i := range uint8(3) {
		a, err := lift.ParseAnswer(lift.Answer(i).String())
		back(a, err, lift.Answer(i))
		p, err := lift.ParsePlacing(lift.Placing(i).String())
		back(p, err, lift.Placing(i))
	}
	for i := range uint8(9) {
		k, err := lift.ParseKind(lift.Kind(i).String())
		back(k, err, lift.Kind(i))
	}
	for i := range uint8(7) {
		g, err := lift.ParseGrade(lift.Grade(i).String())
		back(g, err, lift.Grade(i))
	}
	for i := range uint8(11) {
		c, err := lift.ParseChainSize(lift.ChainSize(i).String())
		back(c, err, lift.ChainSize(i))
	}
	cant, err := lift.ParseShape(" Cant ")
	require.NoError(t, err)
	require.Equal(t, lift.Slabbed, cant)
	for _, parse := range []func() error{
		func() error { _, err := lift.ParseShape("ball"); return err },
		func() error { _, err := lift.ParseHitch(""); return err },
		func() error { _, err := lift.ParseGrade("81"); return err },
	} {
		require.ErrorContains(t, parse(), "one of")
	}
	require.Equal(t, "unknown", lift.Shape(200).String())
}

func TestSpeciesTable(t *testing.T) {
	all := lift.AllSpecies()
	require.Len(t, all, 118)
	for i, s := range all {
		require.True(t, s.Gravity > 0.25 && s.Gravity < 0.9 && s.MeanMoisture > 0.2 && s.MeanMoisture < 2.5 && s.BarkVolume > 0.05 && s.BarkMoisture > 0, "%+v", s)
		require.NotEmpty(t, s.Source)
		if i > 0 {
			require.LessOrEqual(t, strings.ToLower(all[i-1].Common), strings.ToLower(s.Common))
		}
		found, ok := lift.FindSpecies(" " + s.Scientific)
		require.True(t, ok && found.Scientific == s.Scientific)
	}
	oak, ok := lift.FindSpecies("Northern RED oak")
	require.True(t, ok)
	require.InDelta(t, 0.831, oak.MeanMoisture, 1e-9)
	require.InDelta(t, 0.80, oak.HeartMoisture, 1e-9)
	_, ok = lift.FindSpecies("")
	require.False(t, ok)
	require.Equal(t, lift.Species{}, lift.Heaviest(nil))
	heaviest := lift.Heaviest(all)
	require.Equal(t, "live oak", heaviest.Common)
	all[0].Gravity = 99
	require.Less(t, lift.AllSpecies()[0].Gravity, 1.0)
	require.False(t, math.IsNaN(heaviest.GreenDensity()))
}
