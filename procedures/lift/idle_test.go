package lift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

func daysFrom(days ...int) (all []time.Time) {
	for _, d := range days {
		all = append(all, looked.AddDate(0, 0, d))
	}
	return all
}

func idleFindings(r lift.Rig, now time.Time) (all []lift.Finding) {
	for _, f := range r.Faults(now) {
		if f.Rule == lift.IdleRule {
			all = append(all, f)
		}
	}
	return all
}

// 29 CFR 1910.179(j)(4)(i): idle one month or more, under six: a frequent
// inspection first; (ii) over six months: a complete one.
func TestGearThatHungIdleIsInspectedBeforeUse(t *testing.T) {
	r := registeredRig()
	owes := func(now int, uses []time.Time, looks ...lift.Looked) lift.Every {
		return legOf(r.Idled(uses, looks, looked.AddDate(0, 0, now))).IdleOwes
	}
	// From 3 March a month is 31 days, six months are 184.
	require.Equal(t, lift.EveryUnknown, owes(30, daysFrom(0)))
	require.Equal(t, lift.EveryMonth, owes(31, daysFrom(0)))
	require.Equal(t, lift.EveryMonth, owes(184, daysFrom(0)))
	require.Equal(t, lift.EveryYear, owes(185, daysFrom(0)))
	require.Equal(t, lift.EveryUnknown, owes(31, daysFrom(0, 5)), "the latest use counts")
	require.Equal(t, lift.EveryMonth, owes(40, daysFrom(40, 0)), "use after the gap, or a new version, clears nothing; in whatever order")
	require.Equal(t, lift.EveryMonth, owes(40, daysFrom(0), look(lift.EveryShift, true, 40)), "nor a look before the shift")
	require.Equal(t, lift.EveryMonth, owes(40, daysFrom(0), look(lift.EveryMonth, false, 40)), "nor one that found it not fit")
	require.Equal(t, lift.EveryUnknown, owes(40, daysFrom(0), look(lift.EveryMonth, true, 40)))
	require.Equal(t, lift.EveryUnknown, owes(40, daysFrom(0), look(lift.EveryMonth, true, 20)), "inspected while idle, within the month")
	require.Equal(t, lift.EveryYear, owes(200, daysFrom(0), look(lift.EveryMonth, true, 199)), "over six months the monthly is too little")
	require.Equal(t, lift.EveryUnknown, owes(200, daysFrom(0), look(lift.EveryYear, true, 199)))
	require.Equal(t, lift.EveryMonth, owes(60, daysFrom(0, 59), look(lift.EveryMonth, true, 10)), "inspected before it hung idle again")
	require.Equal(t, lift.EveryMonth, owes(40, daysFrom(0, 90), look(lift.EveryYear, true, 90)), "nothing counts before it happened")
	require.Equal(t, lift.EveryMonth, owes(0, nil), "no use known")
	require.Equal(t, lift.EveryUnknown, owes(0, nil, look(lift.EveryMonth, true, 0)))
}

func TestIdlePartIsNoGoThatNamesTheClauseAndTheDay(t *testing.T) {
	r := registeredRig()
	now := looked.AddDate(0, 0, 45)
	all := idleFindings(r.Idled(daysFrom(0), []lift.Looked{look(lift.EveryMonth, true, 45)}, now), now)
	require.Len(t, all, len(r.Links)-1, "every part but the one inspected")
	require.True(t, all[0].Blocks)
	require.Equal(t, "29 CFR 1910.179(j)(4)(i)", all[0].Source)
	require.Contains(t, all[0].Said.String(), "idle since")
	require.Empty(t, idleFindings(r, now), "the rig itself is left alone")
	long := looked.AddDate(0, 7, 0)
	require.Equal(t, "29 CFR 1910.179(j)(4)(ii)", idleFindings(r.Idled(daysFrom(0), nil, long), long)[0].Source)
	require.Len(t, idleFindings(r.Idled(nil, nil, now), now), len(r.Links))
}

// Whatever was used and looked over: a part not passed by a monthly or yearly
// inspection since a gap of a month is never let through.
func TestIdleGearIsNeverLetThroughUninspected(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := registeredRig()
		days := rapid.SliceOfN(rapid.IntRange(0, 400), 1, 8).Draw(t, "uses")
		now := looked.AddDate(0, 0, 401)
		looks := anyLooks(t)
		legs := legOf(r.Idled(daysFrom(days...), looks, now))
		known := daysFrom(days...)
		for _, one := range looks {
			if one.Link == "legs" && one.Fit && !one.At.After(now) {
				known = append(known, one.At)
			}
		}
		for _, from := range known { // a gap after this use?
			next := now
			for _, at := range known {
				if at.After(from) && at.Before(next) {
					next = at
				}
			}
			if next.Before(plain.MonthsOn(from, 1)) {
				continue
			}
			inspected := false
			for _, one := range looks {
				inspected = inspected || one.Link == "legs" && one.Fit && one.Every >= lift.EveryMonth && !one.At.Before(next)
			}
			if !inspected && legs.IdleOwes == lift.EveryUnknown {
				t.Fatalf("idle from %s to %s, not inspected, and nothing is owed", from, next)
			}
		}
	})
}
