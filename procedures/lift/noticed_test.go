package lift_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// A stiff load may hang on any two of three or four legs (statics), so three and
// four are taken and two of them counted; more or fewer are no sling.
func TestTwoOfThreeAndOfFourLegsAreCounted(t *testing.T) {
	with := func(legs int) lift.Verdict {
		l := goodLift(t)
		pair := l.Rig.Links[5]
		single := pair
		single.Pair = false
		l.Rig.Links = l.Rig.Links[:5]
		for ; legs > 1; legs -= 2 {
			l.Rig.Links = append(l.Rig.Links, pair)
		}
		if legs == 1 {
			l.Rig.Links = append(l.Rig.Links, single)
		}
		return lift.Check(l)
	}
	for legs, said := range map[int]string{3: "of the 3 legs two are counted", 4: "of the 4 legs two are counted"} {
		v := with(legs)
		require.NotContains(t, rules(v), lift.PathRule, "%d legs: %v", legs, v.Findings)
		require.Contains(t, rules(v), lift.LegsRule)
		for _, f := range v.Findings {
			if f.Rule == lift.LegsRule {
				require.Contains(t, f.Said.String(), said)
			}
		}
	}
	require.NotContains(t, rules(with(2)), lift.LegsRule)
	for _, legs := range []int{0, 1, 5, 6} {
		require.False(t, with(legs).Go, "%d legs", legs)
	}
}

// Legs too flat and a hoist too weak: longer legs and a stronger hoist, together;
// one step alone is said without a word of others.
func TestFlatLegsAndAWeakHoistAreMendedTogether(t *testing.T) {
	l := goodLift(t)
	l.Rig.LegLength, l.Rig.Links[2].RatedLoad = 0.33, 20
	l.Rig.Links[2].OwnMass = 1
	var longer *lift.Remedy
	for _, r := range lift.Remedies(l) {
		if r.Steps[0].Kind == lift.LongerLegs {
			longer = &r
		}
	}
	require.NotNil(t, longer, "%v", lift.Remedies(l))
	require.Len(t, longer.Steps, 2)
	require.Equal(t, lift.HigherRating, longer.Steps[1].Kind)
	require.True(t, lift.Check(longer.Changed).Go)
	l = goodLift(t)
	l.Rig.Links[2].RatedLoad = 100
	one := lift.Remedies(l)[0]
	require.True(t, one.Alone())
	require.Equal(t, one.Steps[0].Said.String()+"; a supervisor signs as well", one.Said().String())
}

// What was not measured stands as nothing measured, whatever was typed for it.
func TestNotMeasuredIsNoSize(t *testing.T) {
	for _, typed := range []float64{0, -1} {
		for _, j := range lift.JudgeHook(lift.HookMeasures{NewThroat: 0.03, NewSection: 0.02, Throat: typed, Section: typed}) {
			if j.Measure != "twist" {
				require.Zero(t, j.Measured, j.Measure)
				require.Equal(t, "not measured", j.Said.String())
			}
		}
	}
}
