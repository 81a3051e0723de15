package lift_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

var looked = time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)

func registeredRig() lift.Rig {
	r := lift.StarterRig()
	for i := range r.Links {
		l := &r.Links[i]
		l.State, l.Inspected, l.InspectionDue = lift.InService, looked.AddDate(0, -1, 0), looked.AddDate(0, 11, 0)
		if l.Kind == lift.Leg {
			l.Grade, l.Size = lift.Grade80, lift.Chain3_8
		}
	}
	return r
}

func legOf(r lift.Rig) lift.Link {
	for _, l := range r.Links {
		if l.Kind == lift.Leg {
			return l
		}
	}
	return lift.Link{}
}

// Least link of 3/8 in chain: 0.342 in, ASME B30.9; the federal 19/64 in is less.
func TestChainWornThroughIsOutOfService(t *testing.T) {
	r := registeredRig()
	at := func(inches float64, days int) lift.Taken {
		return lift.Taken{Link: "legs", What: "link", Value: inches * 0.0254, At: looked.AddDate(0, 0, days)}
	}
	require.Equal(t, lift.InService, legOf(r.Registered(nil, []lift.Taken{at(0.342, 0)})).State)
	require.Equal(t, lift.OutOfService, legOf(r.Registered(nil, []lift.Taken{at(0.341, 0)})).State)
	require.Equal(t, lift.OutOfService, legOf(r.Registered(nil, []lift.Taken{at(0.36, 0), at(0.30, 30)})).State)
	require.Equal(t, lift.OutOfService, legOf(r.Registered(nil, []lift.Taken{at(0.30, 30), at(0.36, 0)})).State, "in whatever order they come")
	require.Equal(t, lift.InService, legOf(r).State, "the rig itself is left alone")
}

func TestPartFoundUnfitStaysOutUntilAThoroughInspection(t *testing.T) {
	r := registeredRig()
	one := func(every lift.Every, fit bool, days int) lift.Looked {
		return lift.Looked{Link: "legs", Every: every, Fit: fit, At: looked.AddDate(0, 0, days)}
	}
	bad := one(lift.EveryShift, false, 0)
	state := func(list ...lift.Looked) lift.State { return legOf(r.Registered(list, nil)).State }
	require.Equal(t, lift.OutOfService, state(bad))
	require.Equal(t, lift.OutOfService, state(bad, one(lift.EveryShift, true, 1)), "a look before a shift clears nothing")
	require.Equal(t, lift.InService, state(bad, one(lift.EveryMonth, true, 1)))
	require.Equal(t, lift.OutOfService, state(one(lift.EveryYear, true, 0), bad), "of the same moment the worse counts")
}

func TestMeasurementThatCannotBeMeantIsRefused(t *testing.T) {
	leg := legOf(registeredRig())
	for _, one := range []lift.Taken{{What: ""}, {What: "throat", Value: 0.03}, {What: "link"}, {What: "link", Value: -1}, {What: "link", Value: math.NaN()},
		{What: "link", Value: math.Inf(1)}, {What: "reach", Value: 1, New: math.NaN()}, {What: "reach", Value: 1, New: -1}, {What: "yard", Value: 900}} {
		_, err := leg.Judge(one)
		require.Error(t, err, "%+v", one)
	}
	beam := lift.Link{Kind: lift.Beam}
	require.Empty(t, beam.Measures())
	hook := lift.Link{Kind: lift.HoistHook}
	j, err := hook.Judge(lift.Taken{What: "twist"})
	require.NoError(t, err)
	require.Equal(t, lift.Within, j.Wear)
	j, err = hook.Judge(lift.Taken{What: "twist", Value: 4})
	require.NoError(t, err)
	require.Equal(t, lift.Discard, j.Wear)
	j, err = hook.Judge(lift.Taken{What: "throat", Value: 0.03})
	require.NoError(t, err)
	require.Equal(t, lift.WearUnknown, j.Wear, "without its size as new")
}
