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

// signedOften draws a mill whose check was signed many times in three days, often
// several times in the same minute, by different people, with different answers.
func signedOften(t *rapid.T) (f checklists.Facts, newest time.Time) {
	list := aList()
	list.Schedule.Every = rapid.SampledFrom([]checklists.Period{checklists.EachShift, checklists.EachDay}).Draw(t, "every")
	f = checklists.Facts{Mill: aMill(), Plant: aPlant(), Lists: []checklists.List{list}, People: crewOf()}
	f.Mill.SetUp.SpindleSpeed = 600
	f.Blades = []checklists.Blade{sawOf("a", "A-1", 52, 700)}
	f.Mill.Zone = rapid.SampledFrom([]string{"America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "Pacific/Apia"}).Draw(t, "zone")
	f.Mill.Shifts = append(f.Mill.Shifts, checklists.Shift{Name: "night", Start: 22*60 + 5, End: 4*60 + 10, Days: weekdays})
	begins := in(f.Mill.Zone, rapid.SampledFrom([]string{"2025-06-03 00:00", "2025-10-04 12:00", "2025-11-01 12:00", "2011-12-28 00:00"}).Draw(t, "begins"))
	minutes := rapid.SliceOfN(rapid.IntRange(0, 3*24*60), 1, 6).Draw(t, "minutes")
	if rapid.Bool().Draw(t, "closes") {
		from := begins.Add(time.Duration(rapid.IntRange(0, 72).Draw(t, "closed")) * time.Hour)
		f.Mill.Closed = []checklists.Closure{{From: from, Until: from.Add(5 * time.Hour), Reason: "stocktaking"}}
	}
	f.BladeActs = []checklists.BladeAct{sawAct("a", checklists.BladeLooked, begins, inches(0)), sawAct("a", checklists.BladeFitted, begins.Add(time.Hour), nil)}
	for i := range rapid.IntRange(1, 30).Draw(t, "often") {
		at := begins.Add(time.Duration(rapid.SampledFrom(minutes).Draw(t, "minute"))*time.Minute + time.Duration(rapid.IntRange(-90_000, 90_000).Draw(t, "ms"))*time.Millisecond)
		one := checklists.Inspection{ID: checklists.InspectionID(fmt.Sprint("w", i)), List: list.ID, At: at,
			Version: list.Version - rapid.SampledFrom([]int{0, 0, 0, 1}).Draw(t, "version"), Signer: rapid.SampledFrom(crewOf()[:3]).Draw(t, "signer").ID}
		odd := make(map[int]string)
		for range rapid.SampledFrom([]int{0, 0, 0, 1, 3}).Draw(t, "odd ones") {
			odd[rapid.IntRange(0, len(list.Items)-1).Draw(t, "item")] = rapid.SampledFrom([]string{"left out", "found", "not checked", "no text", "no number", "earlier", "other"}).Draw(t, "odd")
		}
		for n, item := range list.Items {
			a := good(item)
			a.Item, a.By, a.At = item.ID, one.Signer, at.Add(-time.Minute)
			switch odd[n] {
			case "left out":
				continue
			case "found":
				a.Result, a.Note, a.Severity = checklists.Found, "bent", checklists.Stop
			case "not checked":
				a.Result, a.Note = checklists.NotChecked, "too dark"
			case "no text":
				a.Text = ""
			case "no number":
				a.Number = nil
			case "other":
				a.Text, a.Number = "B-2", new(3.0)
			case "earlier":
				a.At = at.Add(-20 * time.Minute)
			}
			one.Answers = append(one.Answers, a)
		}
		f.Inspections = append(f.Inspections, one)
		if at.After(newest) {
			newest = at
		}
		switch rapid.SampledFrom([]int{9, 8, 7, 6, 5, 4, 3, 2, 1, 0}).Draw(t, "named") {
		case 0:
			f.Amendments = append(f.Amendments, checklists.Amendment{ID: "a", Inspection: one.ID, List: list.ID, Version: 1, Signer: "sue", At: at.Add(time.Minute),
				Answers: []checklists.Answer{{Item: list.Items[3].ID, Result: checklists.NotChecked, Note: "dark", By: "sue", At: at.Add(time.Minute)}}})
		case 1:
			f.RunChecks = append(f.RunChecks, checklists.RunCheck{ID: "r", Equipment: []procedures.EquipmentID{"saw"}, Person: "ann", From: at.Add(-time.Minute), Until: at.Add(9 * time.Minute), Inspection: one.ID})
		case 2:
			f.Unsigned = append(f.Unsigned, checklists.Unsigned{Inspection: "elsewhere", List: list.ID, Version: 1, By: "ann", At: at.Add(-time.Second), Equipment: []procedures.EquipmentID{"saw"}})
		case 3:
			f.FoundUnsigned = append(f.FoundUnsigned, checklists.FoundUnsigned{Inspection: "walk", List: list.ID, Item: list.Items[2].ID, Equipment: "saw", What: "loose", By: "ann", At: at.Add(-time.Minute)})
		}
	}
	slices.SortStableFunc(f.Inspections, func(a, b checklists.Inspection) int { return b.At.Compare(a.At) })
	return f, newest
}

// What the rules say of a mill doesn't change when the inspections nothing rests on
// are left out, at whatever time it is asked from then on.
func TestRulesSayTheSameOfTheInspectionsThatBear(t *testing.T) {
	fewer := 0
	rapid.Check(t, func(t *rapid.T) {
		f, newest := signedOften(t)
		settled := newest.Add(-time.Duration(rapid.SampledFrom([]int{-1, 0, 60, 4000}).Draw(t, "settled")) * time.Minute)
		less := f
		less.Inspections = f.Bearing(f.Inspections, settled)
		require.Equal(t, less.Inspections, less.Bearing(less.Inspections, settled), "once is enough")
		fewer += len(f.Inspections) - len(less.Inspections)
		for range 5 {
			now := settled.Add(time.Duration(rapid.IntRange(0, 2*24*60*60).Draw(t, "now")) * time.Second)
			require.Equal(t, checklists.Ready(f, now), checklists.Ready(less, now))
			require.Equal(t, f.Waiting(now), less.Waiting(now))
			require.Equal(t, f.Due(f.Lists[0], now), less.Due(f.Lists[0], now))
		}
	})
	require.Positive(t, fewer, "some are left out")
}

func TestInspectionsSignedAgainAtOnceDoNotPileUp(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Inspections = nil
	for i := range 90 {
		in, _ := signed(t, f.Lists[0], beforeShift.Add(time.Duration(i)*10*time.Second), nil)
		in.ID = checklists.InspectionID(fmt.Sprint("w", i))
		f.Inspections = slices.Insert(f.Inspections, 0, in)
	}
	settled := beforeShift.Add(10 * time.Minute)
	bear := f.Bearing(f.Inspections, settled)
	require.Len(t, bear, 30, "what is not settled, and the newest before it")
	require.Equal(t, settled, bear[len(bear)-1].At)
	f.Mill.Zone = "Here"
	require.Len(t, f.Bearing(f.Inspections, settled), 90, "without a zone nothing is known to be over")
}
