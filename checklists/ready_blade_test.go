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
