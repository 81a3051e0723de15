package lift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
)

func look(every lift.Every, fit bool, days int) lift.Looked {
	return lift.Looked{Link: "legs", Every: every, Fit: fit, At: looked.AddDate(0, 0, days)}
}

// 29 CFR 1910.184(e)(3)(i): a thorough inspection at least every twelve months.
func TestYearlyInspectionThatPassedMovesTheDateOn(t *testing.T) {
	r := registeredRig()
	legs := func(list ...lift.Looked) lift.Link { return legOf(r.Registered(list, nil)) }
	passed := look(lift.EveryYear, true, 90)
	require.Equal(t, passed.At, legs(passed).Inspected)
	require.Equal(t, passed.At.AddDate(1, 0, 0), legs(passed).InspectionDue)
	require.Equal(t, legOf(r), legs(look(lift.EveryYear, true, -60)), "older than the rig's own: that stands")
	require.Equal(t, legOf(r).InspectionDue, legs(look(lift.EveryYear, false, 90)).InspectionDue, "not passed")
	for _, every := range []lift.Every{lift.EveryUnknown, lift.EveryShift, lift.EveryWeek, lift.EveryMonth} {
		require.False(t, legs(look(every, true, 90)).InspectionDue.After(legOf(r).InspectionDue), every)
		require.Equal(t, legOf(r).Inspected, legs(look(every, true, 90)).Inspected, every)
	}
	require.Equal(t, looked.AddDate(1, 0, 0), legOf(r).InspectionDue, "the rig itself is left alone")
	require.Equal(t, legOf(r), legs(lift.Looked{Link: "yoke", Every: lift.EveryYear, Fit: true, At: passed.At}), "another part")
}

// WAC 296-155-55800 Table 12: severe service, each quarter.
func TestRigInspectedOftenerThanYearlyStaysSo(t *testing.T) {
	r := registeredRig()
	for i := range r.Links {
		r.Links[i].InspectionDue = r.Links[i].Inspected.AddDate(0, 0, 90)
	}
	l := legOf(r.Registered([]lift.Looked{look(lift.EveryYear, true, 30)}, nil))
	require.Equal(t, looked.AddDate(0, 0, 30+90), l.InspectionDue)
}

func TestInspectionOfAPartNobodyDatedIsDatedByTheRegister(t *testing.T) {
	r := registeredRig()
	for i := range r.Links {
		r.Links[i].Inspected, r.Links[i].InspectionDue = time.Time{}, time.Time{}
	}
	require.Equal(t, looked.AddDate(1, 0, 0), legOf(r.Registered([]lift.Looked{look(lift.EveryYear, true, 0)}, nil)).InspectionDue)
	require.Zero(t, legOf(r.Registered([]lift.Looked{look(lift.EveryMonth, true, 0), look(lift.EveryYear, false, 0)}, nil)).InspectionDue, "unknown stays unknown")
}

func TestInspectionFallsDueAgain(t *testing.T) {
	monthly, yearly := look(lift.EveryMonth, true, 0), look(lift.EveryYear, true, 20)
	require.True(t, lift.Due(nil, "legs").IsZero())
	require.Equal(t, looked.AddDate(0, 1, 0), lift.Due([]lift.Looked{monthly}, "legs"))
	require.Equal(t, yearly.At.AddDate(0, 1, 0), lift.Due([]lift.Looked{monthly, yearly}, "legs"), "the yearly one stands for the monthly")
	require.True(t, lift.Due([]lift.Looked{monthly}, "yoke").IsZero())
	require.Equal(t, looked.AddDate(0, 1, 0), legOf(registeredRig().Registered([]lift.Looked{monthly}, nil)).InspectionDue)
	require.Equal(t, looked.AddDate(0, 0, 7), lift.Due([]lift.Looked{monthly, look(lift.EveryWeek, true, 0)}, "legs"), "the soonest counts")
}

// 29 CFR 1910.184(d) asks for it each day, entered here or not.
func TestLookBeforeAShiftBringsNoDateOfItsOwn(t *testing.T) {
	shift := look(lift.EveryShift, true, 0)
	require.True(t, lift.Due([]lift.Looked{shift}, "legs").IsZero())
	r := registeredRig()
	require.Equal(t, r, r.Registered([]lift.Looked{shift}, nil))
	shift.Fit = false
	require.Equal(t, lift.OutOfService, legOf(r.Registered([]lift.Looked{shift}, nil)).State, "what it found counts")
}

func anyLooks(t *rapid.T) []lift.Looked {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) lift.Looked {
		return lift.Looked{Link: rapid.SampledFrom([]string{"legs", "yoke", "hoist", ""}).Draw(t, "link"), Every: lift.Every(rapid.IntRange(0, 5).Draw(t, "every")),
			Fit: rapid.Bool().Draw(t, "fit"), At: looked.AddDate(0, 0, rapid.IntRange(-500, 500).Draw(t, "day"))}
	}), 0, 12).Draw(t, "looks")
}

// Whatever the register says, a part is never in a better state than the rig
// has it, and its date moves on only by a yearly inspection that passed.
func TestRegisterMakesNothingBetterThanTheFacts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := registeredRig()
		for i := range r.Links {
			l := &r.Links[i]
			l.State = lift.State(rapid.IntRange(0, 3).Draw(t, "state"))
			if rapid.Bool().Draw(t, "undated") {
				l.Inspected, l.InspectionDue = time.Time{}, time.Time{}
			}
		}
		looks := anyLooks(t)
		now := r.Registered(looks, nil)
		for i := range now.Links {
			was, is := r.Links[i], now.Links[i]
			if was.State != lift.InService && is.State != was.State {
				t.Fatalf("%s: %s became %s", was.ID, was.State, is.State)
			}
			stands := was.InspectionDue
			for _, one := range looks {
				if one.Link == was.ID && one.Fit && one.Every == lift.EveryYear && one.At.After(was.Inspected) && one.At.AddDate(1, 0, 0).After(stands) {
					stands = one.At.AddDate(1, 0, 0)
				}
			}
			if is.InspectionDue.After(stands) {
				t.Fatalf("%s: due %s, at the latest %s by the facts", was.ID, is.InspectionDue, stands)
			}
			is.State, is.Inspected, is.InspectionDue = was.State, was.Inspected, was.InspectionDue
			if is != was {
				t.Fatalf("%s: more than state and dates changed: %+v", was.ID, is)
			}
		}
	})
}
