package lift_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

func gauged(inches float64, days int, qualified bool) lift.Taken {
	return lift.Taken{Link: "legs", What: "link", Value: inches * 0.0254, At: looked.AddDate(0, 0, days), Qualified: qualified}
}

// Least link of 3/8 in chain: 0.342 in, ASME B30.9.
func TestPartPastItsLimitStaysOutUntilSomebodyQualifiedSaysOtherwise(t *testing.T) {
	r := registeredRig()
	past := gauged(0.30, 0, true)
	state := func(looks []lift.Looked, more ...lift.Taken) lift.State {
		return legOf(r.Registered(looks, append([]lift.Taken{past}, more...))).State
	}
	require.Equal(t, lift.OutOfService, state(nil))
	require.Equal(t, lift.OutOfService, state(nil, gauged(0.36, 1, false)), "one measurement by anybody")
	require.Equal(t, lift.InService, state(nil, gauged(0.36, 1, true)))
	require.Equal(t, lift.OutOfService, state(nil, gauged(0.36, 0, true)), "of the same moment the worse counts")
	require.Equal(t, lift.OutOfService, state(nil, gauged(0.36, 1, true), gauged(0.341, 2, false)))
	for _, every := range []lift.Every{lift.EveryUnknown, lift.EveryShift, lift.EveryWeek, lift.EveryMonth} {
		require.Equal(t, lift.OutOfService, state([]lift.Looked{look(every, true, 1)}), every)
	}
	require.Equal(t, lift.InService, state([]lift.Looked{look(lift.EveryYear, true, 1)}))
	require.Equal(t, lift.OutOfService, state([]lift.Looked{look(lift.EveryYear, true, -1)}), "passed before")
	elsewhere := gauged(0.36, 1, true)
	elsewhere.Elsewhere = true
	require.Equal(t, lift.OutOfService, state(nil, elsewhere), "perhaps another chain with a like tag")
}

// ASME B30.10: throat no more than 5 % over the size as new.
func TestSizeAsNewIsKeptFromTheFirstThatStatesIt(t *testing.T) {
	r := registeredRig()
	throat := func(value, asNew float64, days int, qualified bool) lift.Taken {
		return lift.Taken{Link: "hoist-hook", What: "throat", Value: value, New: asNew, At: looked.AddDate(0, 0, days), Qualified: qualified}
	}
	state := func(taken ...lift.Taken) lift.State { return r.Registered(nil, taken).Links[3].State }
	first := throat(0.026, 0.026, 0, false)
	require.Equal(t, lift.InService, state(first))
	require.Equal(t, lift.OutOfService, state(first, throat(0.028, 0, 1, true)), "left empty it is judged by the one that stands")
	require.Equal(t, lift.OutOfService, state(first, throat(0.028, 0.030, 1, false)), "an unqualified person's other size counts for nothing")
	require.Equal(t, lift.InService, state(first, throat(0.028, 0.030, 1, true)))
	bad := throat(0.028, 0, 1, false)
	unknown := lift.Taken{Link: "hoist-hook", What: "throat", Value: 0.02, At: looked.AddDate(0, 0, 2), Qualified: true, Elsewhere: true}
	require.Equal(t, lift.OutOfService, state(first, bad, unknown))
	require.InDelta(t, 0.026, lift.AsNew([]lift.Taken{first, throat(0.028, 0.030, 1, false)}, "hoist-hook", "throat"), 1e-12)
	require.Zero(t, lift.AsNew([]lift.Taken{first}, "hoist-hook", "section"))
}

// A chain entered as rope has no least link: what was past its limit stays out.
func TestPartEnteredOtherwiseIsNotClearedByIt(t *testing.T) {
	r := registeredRig()
	for i := range r.Links {
		if r.Links[i].Kind == lift.Leg {
			r.Links[i].Grade, r.Links[i].Size = lift.NotChain, lift.SizeUnknown
		}
	}
	require.Equal(t, lift.OutOfService, legOf(r.Registered(nil, []lift.Taken{gauged(0.30, 0, false)})).State)
}

func TestFindingIsClearedByAnInspectionAsThoroughAtLeast(t *testing.T) {
	r := registeredRig()
	for found, clears := range map[lift.Every]lift.Every{lift.EveryShift: lift.EveryWeek, lift.EveryWeek: lift.EveryWeek, lift.EveryMonth: lift.EveryMonth, lift.EveryYear: lift.EveryYear, lift.EveryUnknown: lift.EveryYear} {
		for passed := lift.EveryUnknown; passed <= lift.EveryYear; passed++ {
			list := []lift.Looked{look(found, false, 0), look(passed, true, 1)}
			want := lift.OutOfService
			if passed >= clears {
				want = lift.InService
			}
			require.Equal(t, want, legOf(r.Registered(list, nil)).State, "found at %s, passed at %s", found, passed)
		}
	}
	list := []lift.Looked{look(lift.EveryYear, false, 0), look(lift.EveryShift, false, 2), look(lift.EveryWeek, true, 3)}
	require.Equal(t, lift.OutOfService, legOf(r.Registered(list, nil)).State, "the crack of the yearly one stands")
	leg := legOf(r)
	require.Len(t, leg.Out(list, []lift.Taken{gauged(0.30, 0, false)}), 2, "both reasons are told")
}
