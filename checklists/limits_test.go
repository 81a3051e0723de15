package checklists_test

import (
	"math"
	"strings"
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
		"", " ", "-1", "NaN", "Inf", "1e3", "0x10", "1,000.5", "1.2.3", "1/0", "1/", "/2", "half", "1 2", "1.5 1/2", "1 3/2", "17,3/8", "17.3/8", "1/2.5", "1/2/3",
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

// The list's page puts only the item's id before what is wrong: the words name
// the field themselves.
func TestALimitThatIsWrongIsNamed(t *testing.T) {
	full := aList()
	for want, limits := range map[string]checklists.Limits{
		"a highest value that is more than the lowest":             {Unit: "in", Low: number(3), High: number(2), Most: 12},
		"a lowest value from 0 to 12":                              {Unit: "in", Low: number(19), Most: 12},
		"a highest value from 0 to 12":                             {Unit: "in", High: number(19), Most: 12},
		"a value to stop from that is no less than the highest":    {Unit: "in", High: number(5), StopAt: number(4), Most: 12},
		"a number above which a typed value is a slip of the hand": {Unit: "in", High: number(5)},
	} {
		list := full
		list.Items = []checklists.Item{item(t, full, "K4")}
		list.Items[0].Limits = limits
		var said []string
		for _, one := range problems(t, list.Validate(aPlant())) {
			said = append(said, one.Want.String())
		}
		require.Contains(t, strings.Join(said, "\n"), want)
	}
}

func TestAFileNamesItsListByAnIDThatCanStandInAnAddress(t *testing.T) {
	for id, ok := range map[string]bool{"pre-shift": true, "a1": true, "../x": false, "shed list": false, "Shed": false, "new": false, "import": false, "\"\"": false, "p-": true} {
		_, err := checklists.Import([]byte("stillsaw list: 1\ntitle: A\nid: " + id + "\nitems: []\n"))
		if ok {
			require.NoError(t, err, id)
			continue
		}
		require.ErrorContains(t, err, "line 3, id:", id)
	}
}
