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
	require.Equal(t, looked.AddDate(0, 11, 0), legOf(r).InspectionDue, "the rig itself is left alone")
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

func owed(kind lift.Kind, every lift.Every, list ...lift.Looked) lift.Owing {
	l := lift.Link{ID: "legs", Kind: kind, Inspected: looked.AddDate(0, 0, -10), InspectionDue: looked.AddDate(1, 0, -10)}
	return l.Rounds(list)[every-lift.EveryWeek]
}

// 29 CFR 1910.179(j)(1)(ii)(a) and (j)(2): hoist, hook and what they hang on
// each month, entered before or not; 1910.184(e)(3)(i): slings each year.
func TestRoundsAreOwedFromTheFirstVersionOn(t *testing.T) {
	for _, kind := range []lift.Kind{lift.Beam, lift.Trolley, lift.Hoist, lift.HoistHook, lift.KindUnknown} {
		month := owed(kind, lift.EveryMonth)
		require.True(t, month.Owed, kind)
		require.Equal(t, looked.AddDate(0, 0, -10).AddDate(0, 1, 0), month.Due, "newly in force it counts as looked at on the day it was inspected")
	}
	for _, kind := range []lift.Kind{lift.Yoke, lift.Leg, lift.EndHook, lift.Fitting} {
		require.False(t, owed(kind, lift.EveryMonth).Owed, kind)
		require.False(t, owed(kind, lift.EveryMonth).Said.Empty(), "why not")
		year := owed(kind, lift.EveryYear)
		require.True(t, year.Owed)
		require.Equal(t, looked.AddDate(1, 0, -10), year.Due)
	}
	require.False(t, owed(lift.Hoist, lift.EveryWeek).Owed)
	r := registeredRig()
	now := looked.AddDate(0, 0, 5)
	late := map[string]bool{}
	standing := r.Registered(nil, nil)
	for _, f := range standing.Faults(now) {
		if f.Rule == lift.InspectionRule {
			late[f.Link] = true
		}
	}
	require.Equal(t, map[string]bool{"Beam or jib": true, "Trolley": true, "Hoist": true, "Hoist hook": true}, late, "a month and five days after the rig was inspected")
}

func TestInspectionFallsDueAgain(t *testing.T) {
	monthly, yearly := look(lift.EveryMonth, true, 0), look(lift.EveryYear, true, 20)
	require.Equal(t, looked.AddDate(0, 1, 0), owed(lift.Leg, lift.EveryMonth, monthly).Due, "once it was entered it is owed again")
	require.Equal(t, yearly.At.AddDate(0, 1, 0), owed(lift.Leg, lift.EveryMonth, monthly, yearly).Due, "the yearly one stands for the monthly")
	require.Equal(t, yearly.At.AddDate(1, 0, 0), owed(lift.Leg, lift.EveryYear, monthly, yearly).Due)
	require.Equal(t, looked.AddDate(0, 1, 0), legOf(registeredRig().Registered([]lift.Looked{monthly}, nil)).InspectionDue)
	weekly := []lift.Looked{monthly, look(lift.EveryWeek, true, 0)}
	require.Equal(t, looked.AddDate(0, 0, 7), legOf(registeredRig().Registered(weekly, nil)).InspectionDue, "the soonest counts")
	weekly[1].Elsewhere = true
	require.False(t, owed(lift.Leg, lift.EveryWeek, weekly...).Owed)
}

// 29 CFR 1910.184(d) asks for it each day, entered here or not.
func TestLookBeforeAShiftBringsNoDateOfItsOwn(t *testing.T) {
	shift := look(lift.EveryShift, true, 0)
	r := registeredRig()
	require.Equal(t, legOf(r), legOf(r.Registered([]lift.Looked{shift}, nil)))
	shift.Fit = false
	require.Equal(t, lift.OutOfService, legOf(r.Registered([]lift.Looked{shift}, nil)).State, "what it found counts")
}

// 29 CFR 1910.184(e)(3)(i): at least once every twelve months, whatever was typed.
func TestNoInspectionIsGoodForMoreThanAYear(t *testing.T) {
	l := lift.Link{Inspected: looked, InspectionDue: time.Date(2099, 1, 1, 0, 0, 0, 0, time.UTC)}
	require.Equal(t, looked.AddDate(1, 0, 0), l.DueBy())
	for _, kept := range []time.Time{looked.AddDate(0, 3, 0), looked.AddDate(1, 0, 0), looked.AddDate(1, 0, 1).Add(-time.Second), {}} {
		l.InspectionDue = kept
		require.Equal(t, kept, l.DueBy(), "to the end of that day")
	}
	r := registeredRig()
	for i := range r.Links {
		r.Links[i].InspectionDue = looked.AddDate(50, 0, 0)
	}
	require.Equal(t, looked.AddDate(0, 11, 0), legOf(r.Registered(nil, nil)).InspectionDue)
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
