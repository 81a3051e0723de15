package checklists_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// returnedOften draws a mill at which much was returned to service, often in the same
// minute, with some of the checks this calls for signed and some excused.
func returnedOften(t *rapid.T) (f checklists.Facts) {
	begins := at("2025-06-02 06:00")
	minute := func(of string) time.Time {
		return begins.Add(time.Duration(rapid.IntRange(0, 40).Draw(t, of)) * 37 * time.Minute)
	}
	f = checklists.Facts{Mill: aMill(), Plant: aPlant(), People: crewOf(), Since: map[checklists.ListID]time.Time{}}
	for _, l := range checklists.StarterLists(aSetUp(), f.Plant) {
		if l.Schedule.Every == checklists.OnEvent {
			l.Version, l.InForce = 1, begins
			if rapid.IntRange(0, 9).Draw(t, "newer") == 0 {
				l.InForce = minute("in force")
			}
			f.Lists = append(f.Lists, l)
		}
	}
	machines := []procedures.EquipmentID{"head-saw", "hoist", "gone", "site"}
	for i := range rapid.IntRange(0, 90).Draw(t, "returned") {
		d := checklists.Defect{ID: checklists.DefectID(fmt.Sprint("d", i)), Equipment: rapid.SampledFrom(machines[:rapid.IntRange(1, 4).Draw(t, "machines")]).Draw(t, "machine"),
			What: "loose", By: "ann", At: minute("raised"), Severity: checklists.Stop, ShockLoad: rapid.IntRange(0, 5).Draw(t, "shock") == 0}
		d.ReturnedAt = d.At.Add(time.Duration(rapid.IntRange(0, 3).Draw(t, "took")) * 37 * time.Minute)
		f.Returned = append(f.Returned, d)
	}
	for i := range rapid.IntRange(0, 4).Draw(t, "checks") {
		l := rapid.SampledFrom(f.Lists).Draw(t, "list")
		one := checklists.Inspection{ID: checklists.InspectionID(fmt.Sprint("w", i)), List: l.ID, Version: 1, Signer: "ann", At: minute("signed")}
		one.Began = one.At.Add(-time.Duration(rapid.IntRange(0, 90).Draw(t, "long")) * time.Minute)
		f.Inspections = append(f.Inspections, one)
	}
	slices.SortStableFunc(f.Inspections, func(a, b checklists.Inspection) int { return b.At.Compare(a.At) })
	if rapid.IntRange(0, 3).Draw(t, "reported") == 0 {
		f.Events = append(f.Events, checklists.Event{ID: "e", Kind: checklists.Repair, Equipment: "head-saw", Happened: minute("happened"), By: "ann"})
		f.Events[0].At = f.Events[0].Happened
	}
	for i := range rapid.SampledFrom([]int{0, 0, 1, 3, 20}).Draw(t, "excuses") {
		e := checklists.Excuse{ID: checklists.ExcuseID(fmt.Sprint("x", i)), List: rapid.SampledFrom(f.Lists).Draw(t, "excused").ID, Starts: minute("starts"), Reason: "idle", By: "sue"}
		e.At = e.Starts.Add(time.Minute)
		f.Excuses = append(f.Excuses, e)
	}
	return f
}

// outline is a state without the calls in the middle: the oldest, the newest, and the
// machines.
func outline(state checklists.DueState) (checklists.DueState, []procedures.EquipmentID) {
	var machines []procedures.EquipmentID
	for _, c := range state.Calls {
		machines = append(machines, c.Equipment)
	}
	slices.Sort(machines)
	if n := len(state.Calls); n > 1 {
		state.Calls = []checklists.Event{state.Calls[0], state.Calls[n-1]}
	}
	return state, slices.Compact(machines)
}

// What the rules say of a mill doesn't change when the returns to service nothing
// rests on are left out, at whatever time it is asked from then on.
func TestRulesSayTheSameOfTheReturnsThatBear(t *testing.T) {
	fewer := 0
	rapid.Check(t, func(t *rapid.T) {
		f := returnedOften(t)
		settled := at("2025-06-02 06:00").Add(time.Duration(rapid.IntRange(0, 45*37).Draw(t, "settled")) * time.Minute)
		less := f
		less.Returned = f.BearingReturned(settled)
		require.Equal(t, less.Returned, less.BearingReturned(settled), "once is enough")
		later := settled.Add(time.Duration(rapid.IntRange(0, 300).Draw(t, "later")) * time.Minute)
		require.Equal(t, f.BearingReturned(later), less.BearingReturned(later), "in two steps as in one")
		fewer += len(f.Returned) - len(less.Returned)
		for range 5 {
			now := settled.Add(time.Duration(rapid.IntRange(0, 2*24*60).Draw(t, "now")) * time.Minute)
			require.Equal(t, checklists.Ready(f, now), checklists.Ready(less, now))
			require.Equal(t, f.Waiting(now), less.Waiting(now))
			for _, l := range f.Lists {
				whole, machines := outline(f.Due(l, now))
				some, same := outline(less.Due(l, now))
				if len(f.Due(l, now).Calls) != len(less.Due(l, now).Calls) {
					require.True(t, less.Due(l, now).Abridged())
				}
				require.Equal(t, whole, some)
				require.Equal(t, machines, same)
			}
		}
	})
	require.Positive(t, fewer, "some are left out")
}

func TestReturnsNobodyChecksAfterDoNotPileUp(t *testing.T) {
	f := eventFacts(t)
	for i := range 400 {
		raised := beforeShift.Add(time.Duration(i) * time.Second)
		f.Returned = append(f.Returned, checklists.Defect{ID: checklists.DefectID(fmt.Sprint("d", i)), Equipment: "head-saw", Severity: checklists.Stop, At: raised, ReturnedAt: raised})
	}
	settled := beforeShift.Add(390 * time.Second)
	stay := f.BearingReturned(settled)
	require.Len(t, stay, 1+checklists.CallsKept+9, "the oldest, the newest, and what came after")
	require.Equal(t, checklists.DefectID("d0"), stay[0].ID)
	list, soon := listed(f.Lists, checklists.AfterRepair), beforeShift.Add(time.Hour)
	require.True(t, f.Due(list, soon).Abridged())
	few := f
	few.Returned = f.Returned[:checklists.CallsKept-1]
	require.False(t, few.Due(list, soon).Abridged())
	in, _ := signed(t, list, soon, nil)
	f.Inspections = []checklists.Inspection{in}
	require.Len(t, f.BearingReturned(settled), 400, "signed after: earlier nothing was answered, later all is")
	require.Len(t, f.BearingReturned(in.At), 1)
	f.Lists = f.Lists[:1]
	require.Empty(t, f.BearingReturned(in.At), "nothing is asked after a repair")
}
