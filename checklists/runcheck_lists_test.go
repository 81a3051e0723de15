package checklists_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// yard is a second list in force that holds: one mend item on the site.
func yard() checklists.List {
	return checklists.List{ID: "yard", Version: 1, Title: "Yard", InForce: at("2025-05-01 12:00"),
		Schedule: checklists.Schedule{Every: checklists.EachShift, Holds: true},
		Items: []checklists.Item{{ID: "Y1", Equipment: "site", Prompt: "Roads clear", State: checklists.Stopped,
			Kind: checklists.Choice, Severity: checklists.Mend, Source: "common practice, no source"}}}
}

func TestRunCheckAsksEveryListThatHoldsTheMachine(t *testing.T) {
	f := unchecked(t)
	preShift := f.Lists[0]
	full := draft(t, preShift, beforeShift)
	for _, lists := range [][]checklists.List{{yard(), preShift}, {preShift, yard()}} {
		f.Lists = lists
		ask := func(list checklists.List, answers []checklists.Answer) error {
			_, err := checklists.AllowRunCheck("r", f, list, answers, machines, sawyer(), beforeShift)
			return err
		}
		why := refusal(t, ask(yard(), nil)).Error()
		require.Contains(t, why, "S3 ("+preShift.Title+", 1)", "no pre-shift item is answered")
		require.Contains(t, refusal(t, ask(checklists.List{}, nil)).Error(), "S3", "without a walk at all")
		require.Contains(t, refusal(t, ask(yard(), full)).Error(), "S3", "the answers belong to another list")
		require.NoError(t, ask(preShift, full))
	}
	stop := yard()
	stop.Items[0].Severity = checklists.Stop
	f.Lists = []checklists.List{preShift, stop}
	_, err := checklists.AllowRunCheck("r", f, preShift, full, machines, sawyer(), beforeShift)
	require.Contains(t, refusal(t, err).Error(), "Y1 (Yard, 1)")
	f.Inspections = []checklists.Inspection{{ID: "y", List: "yard", Version: 1, At: beforeShift, Signer: "ann",
		Answers: []checklists.Answer{{Item: "Y1", Result: checklists.OK, By: "ann", At: beforeShift}}}}
	_, err = checklists.AllowRunCheck("r", f, preShift, full, machines, sawyer(), beforeShift)
	require.NoError(t, err, "the other list is signed")
}

func TestWalkOnAnOlderVersionDoesNotCountForTheNewer(t *testing.T) {
	f := unchecked(t)
	older := f.Lists[0]
	full := draft(t, older, beforeShift)
	newer := older
	newer.Version, newer.InForce = 2, beforeShift.Add(-time.Minute)
	for _, holds := range []bool{true, false} {
		older.Schedule.Holds, newer.Schedule.Holds = holds, holds
		f.Lists = []checklists.List{older, newer}
		if !holds { // the site and the machines are held by another list, answered
			other := newer
			other.ID, other.Schedule.Holds = "other", true
			f.Lists = append(f.Lists, other)
			in, _ := signed(t, other, beforeShift, nil)
			f.Inspections = []checklists.Inspection{in}
		}
		_, err := checklists.AllowRunCheck("r", f, older, full, machines, sawyer(), beforeShift)
		require.Contains(t, refusal(t, err).Error(), "S3 ("+newer.Title+", 2)")
		_, err = checklists.AllowRunCheck("r", f, newer, full, machines, sawyer(), beforeShift)
		require.NoError(t, err)
	}
}

func TestRunningItemIsNotAnsweredWhileTheMachineIsHeld(t *testing.T) {
	list, ok, later := aList(), checklists.Answer{Result: checklists.OK}, beforeShift.Add(time.Minute)
	answer := func(f checklists.Facts, id checklists.ItemID) error {
		_, err := checklists.Take(list, id, ok, sawyer(), f, later)
		return err
	}
	for name, change := range map[string]func(*checklists.Facts){
		"lockout":   func(f *checklists.Facts) { f.Lockouts = []procedures.Lockout{lockedOut("ben", later, "carriage")} },
		"stop":      func(f *checklists.Facts) { f.Defects = []checklists.Defect{raised(t, "head-saw")} },
		"departure": func(f *checklists.Facts) { f.Departures = []checklists.Departure{{ID: "x", Equipment: "head-saw"}} },
		"clock":     func(f *checklists.Facts) { f.LastEntry = later.Add(time.Hour) },
	} {
		f := under(nil, runOf("ann", beforeShift))
		require.NoError(t, answer(f, "S12"))
		change(&f)
		require.Contains(t, refusal(t, answer(f, "S12")).Error(), "it is held", name)
	}
	f := under(nil, runOf("ann", beforeShift))
	f.Defects = []checklists.Defect{raised(t, "head-saw")}
	require.NoError(t, answer(f, "H7"), "the hoist turns by itself")
}

func TestRunCheckEndsForGoodWhenALockoutOrAStopComesBetween(t *testing.T) {
	list, ok := aList(), checklists.Answer{Result: checklists.OK}
	minute := func(n int) time.Time { return beforeShift.Add(time.Duration(n) * time.Minute) }
	lockout := lockedOut("ben", minute(2), "carriage")
	lockout.Begun, lockout.Closed, lockout.Locks = minute(1), true, nil
	late := lockout // entered from the placard, with its beginning before the run check
	late.Begun, late.Events = minute(-5), []procedures.Event{{Kind: procedures.Began, At: minute(-5)}, {Kind: procedures.Restored, At: minute(3)}}
	stop := checklists.Defect{ID: "d", Equipment: "head-saw", Severity: checklists.Stop, At: minute(1), MendedAt: minute(2), ReturnedAt: minute(3), MendedBy: "ben", ReturnedBy: "cal"}
	waiting := stop
	waiting.ReturnedAt, waiting.ReturnedBy = time.Time{}, ""
	mend := stop
	mend.At, mend.Severity, mend.MendBy = minute(-60), checklists.Mend, minute(1)
	for name, change := range map[string]func(*checklists.Facts){
		"lockout begun and over":        func(f *checklists.Facts) { f.LockoutsOver = []procedures.Lockout{lockout} },
		"lockout entered late":          func(f *checklists.Facts) { f.LockoutsOver = []procedures.Lockout{late} },
		"stop mended and returned":      func(f *checklists.Facts) { f.DefectsOver = []checklists.Defect{stop} },
		"stop mended, not yet returned": func(f *checklists.Facts) { f.Defects = []checklists.Defect{waiting} },
		"mend that became stop":         func(f *checklists.Facts) { f.DefectsOver = []checklists.Defect{mend} },
	} {
		f := under(nil, runOf("ann", beforeShift))
		change(&f)
		_, err := checklists.Take(list, "S12", ok, sawyer(), f, minute(5))
		require.Contains(t, refusal(t, err).Error(), "ended", name)
		require.Equal(t, checklists.Held, readiness(t, f, minute(5))["head-saw"].Status, name)
		f.RunChecks = append(f.RunChecks, runOf("ann", minute(4))...)
		f.RunChecks[1].ID = "run-2"
		kept, err := checklists.Take(list, "S12", ok, sawyer(), f, minute(5))
		require.NoError(t, err, name)
		require.Equal(t, checklists.RunCheckID("run-2"), kept.Run, name)
	}
	harmless := mend
	harmless.MendBy = minute(60)
	elsewhere := stop
	elsewhere.Equipment = "hoist"
	before := lockout
	before.Begun = minute(-10)
	f := under(nil, runOf("ann", beforeShift))
	f.DefectsOver, f.LockoutsOver = []checklists.Defect{harmless, elsewhere}, []procedures.Lockout{before}
	_, err := checklists.Take(list, "S12", ok, sawyer(), f, minute(5))
	require.NoError(t, err, "nothing stood on the saw since")
	require.True(t, slices.ContainsFunc(checklists.Ready(f, minute(5)), func(r checklists.Readiness) bool {
		return r.Equipment == "head-saw" && r.Status == checklists.RunCheckOnly
	}))
}
