package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestFittedSawThatMayNotRunHoldsTheHeadSaw(t *testing.T) {
	good := checkedFacts(t, beforeShift)
	good.Mill.SetUp.SpindleSpeed = 600
	good.Blades = []checklists.Blade{sawOf("a", "A-1", 52, 700)}
	good.BladeActs = []checklists.BladeAct{sawAct("a", checklists.BladeLooked, beforeShift.Add(-2*time.Hour), inches(0)), sawAct("a", checklists.BladeFitted, beforeShift.Add(-time.Hour), nil)}
	require.Equal(t, checklists.MayRun, readiness(t, good, underWay)["head-saw"].Status)
	for name, change := range map[string]func(*checklists.Facts){
		"cracked": func(f *checklists.Facts) {
			f.BladeActs = append(f.BladeActs, sawAct("a", checklists.BladeLooked, beforeShift, inches(2.5)))
		},
		"out of use": func(f *checklists.Facts) {
			f.BladeActs = append(f.BladeActs, sawAct("a", checklists.BladeOut, beforeShift, nil))
		},
		"spindle faster":    func(f *checklists.Facts) { f.Mill.SetUp.SpindleSpeed = 710 },
		"spindle not known": func(f *checklists.Facts) { f.Mill.SetUp.SpindleSpeed = 0 },
		"mark gone":         func(f *checklists.Facts) { f.Blades[0].Marked = 0 },
		"none on": func(f *checklists.Facts) {
			f.BladeActs = append(f.BladeActs, sawAct("a", checklists.BladeTakenOff, beforeShift, nil))
		},
		"no saw known": func(f *checklists.Facts) { f.Blades = nil },
	} {
		f := good
		f.Blades = append([]checklists.Blade(nil), good.Blades...)
		f.BladeActs = append([]checklists.BladeAct(nil), good.BladeActs...)
		change(&f)
		all := readiness(t, f, underWay)
		require.Equal(t, checklists.Held, all["head-saw"].Status, name)
		require.Contains(t, kinds(all["head-saw"]), checklists.HeldByBlade, name)
		require.NotContains(t, kinds(all["hoist"]), checklists.HeldByBlade, name)
	}
	never := good
	never.BladeActs = never.BladeActs[:1]
	require.Equal(t, checklists.MayRun, readiness(t, never, underWay)["head-saw"].Status, "a mill that reports no fitting keeps no such register")
}

func TestSawFittedOrFiledOnTheMandrelCallsForTheCheckAfterIt(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Mill.SetUp.SpindleSpeed = 600
	after := aList()
	after.ID, after.Title = "after-saw", "After a saw change"
	after.Schedule = checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.BladeChange, checklists.Filing}, Holds: true}
	f.Lists = append(f.Lists, after)
	f.Blades = []checklists.Blade{sawOf("a", "A-1", 52, 700), sawOf("b", "B-2", 52, 700)}
	early := beforeShift.Add(-time.Hour)
	f.BladeActs = []checklists.BladeAct{sawAct("b", checklists.BladeFiled, early, inches(0)), sawAct("a", checklists.BladeLooked, early, inches(0))}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["head-saw"].Status, "a saw filed on the bench changes nothing")
	f.BladeActs = append(f.BladeActs, sawAct("a", checklists.BladeFitted, early.Add(time.Minute), nil))
	require.Contains(t, kinds(readiness(t, f, underWay)["head-saw"]), checklists.HeldByDue)
	in, _ := signed(t, after, beforeShift, nil)
	f.Inspections = append(f.Inspections, in)
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["head-saw"].Status)
	f.BladeActs = append(f.BladeActs, sawAct("a", checklists.BladeFiled, beforeShift.Add(time.Minute), inches(0)))
	require.Contains(t, kinds(readiness(t, f, underWay)["head-saw"]), checklists.HeldByDue)
}

// readOffSaw is the mill on a good morning with what was read off the saw in the
// check: its serial number, and the longest crack in inches.
func readOffSaw(t *testing.T, serial string, crack float64, when time.Time) checklists.Facts {
	t.Helper()
	f := checkedFacts(t, when)
	f.Mill.SetUp.SpindleSpeed = 600
	for i := range f.Inspections[0].Answers {
		switch a := &f.Inspections[0].Answers[i]; a.Item {
		case "S1":
			a.Text = serial
		case "S3":
			a.Number = number(crack)
		}
	}
	f.Blades = []checklists.Blade{sawOf("small", "A-46", 46, 700), sawOf("large", "B-54", 54, 700)}
	early := beforeShift.Add(-2 * time.Hour)
	f.BladeActs = []checklists.BladeAct{sawAct("small", checklists.BladeLooked, early, inches(0)), sawAct("large", checklists.BladeLooked, early, inches(0)),
		sawAct("small", checklists.BladeFitted, early.Add(time.Minute), nil)}
	return f
}

// WAC 296-78-610(3): 2 in for a saw over 36 to 48 in. The list's own limit is of
// the 52 in saw of set-up, 2 1/2 in.
func TestCrackIsHeldAgainstTheSawThatIsOn(t *testing.T) {
	require.Equal(t, checklists.MayRun, readiness(t, readOffSaw(t, "A-46", 1.9, beforeShift), underWay)["head-saw"].Status)
	for _, crack := range []float64{2, 2.2} {
		f := readOffSaw(t, "A-46", crack, beforeShift)
		held := readiness(t, f, underWay)["head-saw"]
		require.Contains(t, kinds(held), checklists.HeldByBlade, "%v in", crack)
		f.Amendments = []checklists.Amendment{{Inspection: f.Inspections[0].ID, List: f.Inspections[0].List, Version: 1, At: underWay,
			Answers: []checklists.Answer{{Item: "S3", Result: checklists.OK, Number: number(1), At: underWay}}}}
		require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["head-saw"].Status, "read wrong, and answered again")
	}
	large := readOffSaw(t, "B-54", 2.2, beforeShift)
	large.BladeActs[2] = sawAct("large", checklists.BladeFitted, beforeShift.Add(-time.Hour), nil)
	require.Equal(t, checklists.MayRun, readiness(t, large, underWay)["head-saw"].Status)
	off := readOffSaw(t, "A-46", 2.2, beforeShift)
	off.BladeActs = append(off.BladeActs, sawAct("small", checklists.BladeTakenOff, beforeShift.Add(time.Minute), nil), sawAct("large", checklists.BladeFitted, beforeShift.Add(2*time.Minute), nil))
	require.NotContains(t, kinds(readiness(t, off, underWay)["head-saw"]), checklists.HeldByBlade, "the crack was in the saw taken off")
	unlike := readOffSaw(t, "A-46", 52, beforeShift)
	for i := range unlike.Lists[0].Items {
		if unlike.Lists[0].Items[i].ID == "S3" {
			unlike.Lists[0].Items[i].Limits.Unit = "mm"
		}
	}
	require.Contains(t, kinds(readiness(t, unlike, underWay)["head-saw"]), checklists.HeldByBlade, "52 mm are more than 2 in")
	for i := range unlike.Inspections[0].Answers {
		if a := &unlike.Inspections[0].Answers[i]; a.Item == "S3" {
			a.Number = number(50)
		}
	}
	require.NotContains(t, kinds(readiness(t, unlike, underWay)["head-saw"]), checklists.HeldByBlade)
}

func TestSerialOfAnotherSawHoldsUntilOneOfTheTwoIsPutRight(t *testing.T) {
	require.Equal(t, checklists.MayRun, readiness(t, readOffSaw(t, "a 46", 0, beforeShift), underWay)["head-saw"].Status)
	other := readOffSaw(t, "B 54", 0, beforeShift)
	require.Contains(t, kinds(readiness(t, other, underWay)["head-saw"]), checklists.HeldByBlade)
	other.BladeActs = append(other.BladeActs, sawAct("small", checklists.BladeTakenOff, beforeShift.Add(-time.Hour), nil), sawAct("large", checklists.BladeFitted, beforeShift.Add(-time.Hour), nil))
	require.Equal(t, checklists.MayRun, readiness(t, other, underWay)["head-saw"].Status, "the change was reported late")

	for name, act := range map[string]checklists.BladeAct{
		"cracked":    sawAct("large", checklists.BladeLooked, beforeShift, inches(2.5)),
		"out of use": sawAct("large", checklists.BladeOut, beforeShift, nil),
		"scrapped":   sawAct("large", checklists.BladeScrapped, beforeShift, nil),
	} {
		unreported := readOffSaw(t, "B-54", 0, beforeShift)
		unreported.BladeActs = unreported.BladeActs[:2]
		require.Equal(t, checklists.MayRun, readiness(t, unreported, underWay)["head-saw"].Status, "a mill that reports no fitting")
		unreported.BladeActs = append(unreported.BladeActs, act)
		require.Contains(t, kinds(readiness(t, unreported, underWay)["head-saw"]), checklists.HeldByBlade, name)
	}
	before := readOffSaw(t, "B-54", 0, beforeShift)
	before.BladeActs[2].On = beforeShift.Add(time.Minute)
	require.NotContains(t, kinds(readiness(t, before, underWay)["head-saw"]), checklists.HeldByBlade, "read before the saw was changed")
}
