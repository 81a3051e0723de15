package checklists_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

func TestNumbersAreReadAsTypedAtTheMachine(t *testing.T) {
	for typed, want := range map[string]float64{
		"0": 0, "0.5": 0.5, "0,5": 0.5, ".5": 0.5, " 3 ": 3, "1/32": 0.03125, "1 1/2": 1.5, "12": 12, "1/8": 0.125,
	} {
		got, err := checklists.ParseNumber(typed)
		require.NoError(t, err, "%q", typed)
		require.Equal(t, want, got, "%q", typed)
	}
	for _, typed := range []string{
		"", " ", "-1", "NaN", "Inf", "1e3", "0x10", "1,000.5", "1.2.3", "1/0", "1/", "/2", "half", "1 2", "1.5 1/2", "1 3/2", "1/2/3",
		"1 in", "١", "99999999999999999999999999999999999", "1_0",
	} {
		_, err := checklists.ParseNumber(typed)
		var bad plain.Problems
		require.ErrorAs(t, err, &bad, "%q", typed)
		require.NotNil(t, bad.For("number"), "%q", typed)
	}
}

func FuzzParsedNumberIsFiniteAndNotNegative(f *testing.F) {
	for _, seed := range []string{"0.5", "1 1/2", "-3", "1e309", "NaN", "1/0", "0,1", "9/.1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		got, err := checklists.ParseNumber(typed)
		if err == nil && !(got >= 0 && !math.IsInf(got, 0)) {
			t.Errorf("%q read as %v", typed, got)
		}
	})
}

func number(x float64) *float64 { return &x }

func TestNotANumberIsNeverWithinLimits(t *testing.T) {
	for _, l := range []checklists.Limits{
		{}, {Most: 10}, {Low: number(1), Most: 10}, {High: number(5), Most: 10}, {Low: number(1), High: number(5), HighOut: true, Most: 10},
	} {
		for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -0.1, 10.1} {
			require.False(t, l.Within(x), "%+v %v", l, x)
		}
	}
}

func TestLimitsAreSaidAsTheyAreMeant(t *testing.T) {
	for want, l := range map[string]checklists.Limits{
		"":                           {Unit: "in"},
		"at least 2 in":              {Unit: "in", Low: number(2)},
		"at most 3 in":               {Unit: "in", High: number(3)},
		"under 3 in":                 {Unit: "in", High: number(3), HighOut: true},
		"from 2 to 3 in":             {Unit: "in", Low: number(2), High: number(3)},
		"at least 2 and under 3 psi": {Unit: "psi", Low: number(2), High: number(3), HighOut: true},
	} {
		require.Equal(t, want, l.Said().String())
	}
}
