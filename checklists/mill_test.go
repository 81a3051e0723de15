package checklists_test

import (
	"fmt"
	"testing"
	"time"
	_ "time/tzdata" // zones also where the machine has none

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// The mill of these tests: in New York's zone, one shift 06:00 to 14:30 from
// Monday to Friday, fed off the saw's mandrel.

var weekdays = []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}

func aSetUp() checklists.SetUp {
	return checklists.SetUp{
		Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2,
		Hoist: "electric", Collector: "cyclone", SawDiameter: 52 * 0.0254, SpindleSpeed: 600,
	}
}

func aMill() checklists.Mill {
	return checklists.Mill{
		ID: "mill", Name: "Hollow Creek", Zone: "America/New_York", Units: checklists.InchPound, SetUp: aSetUp(),
		Shifts: []checklists.Shift{{Name: "day", Start: 6 * 60, End: 14*60 + 30, Days: weekdays}},
	}
}

func aPlant() procedures.Plant { return procedures.StarterPlant(aSetUp().Answers()) }

// aList is the starter list, published a month before the Wednesday of these tests.
func aList() checklists.List {
	list := checklists.StarterLists(aSetUp(), aPlant())[0]
	list.Version, list.InForce = 1, at("2025-05-01 12:00")
	return list
}

// at is a time on the wall of the mill.
func at(wall string) time.Time { return in("America/New_York", wall) }

func in(zone, wall string) time.Time {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		panic(err)
	}
	t, err := time.ParseInLocation("2006-01-02 15:04", wall, loc)
	if err != nil {
		panic(err)
	}
	return t
}

// Wednesday 4 June 2025.
var beforeShift = at("2025-06-04 05:30")

func sawyer() procedures.Person {
	return procedures.Person{ID: "ann", Name: "Ann", Role: procedures.Operator, Authorized: true}
}

func helper() procedures.Person {
	return procedures.Person{ID: "ben", Name: "Ben", Role: procedures.Operator}
}

func boss() procedures.Person {
	return procedures.Person{ID: "sue", Name: "Sue", Role: procedures.Supervisor}
}

func reader() procedures.Person {
	return procedures.Person{ID: "ray", Name: "Ray", Role: procedures.Reader}
}

func counter() func() string {
	n := 0
	return func() string { n++; return fmt.Sprintf("id-%d", n) }
}

// lockedOut is a lockout the person has verified on that equipment.
func lockedOut(by procedures.PersonID, verified time.Time, equipment ...procedures.EquipmentID) procedures.Lockout {
	return procedures.Lockout{
		ID: "lock-1", Task: "pre-shift check", Begun: verified.Add(-20 * time.Minute), Primary: by, Stage: procedures.Work,
		Procedure: procedures.Procedure{ID: "p", Version: 1, Equipment: equipment, Devices: []procedures.Device{{ID: "d1", Lockable: true}}},
		Locks:     []procedures.Lock{{Number: "7", Owner: by, Device: "d1", On: verified.Add(-10 * time.Minute)}},
		Members:   []procedures.Member{{Person: by, Joined: verified.Add(-20 * time.Minute), Verified: verified}},
	}
}

func allUnderLock(by procedures.PersonID, verified time.Time) []procedures.Lockout {
	return []procedures.Lockout{lockedOut(by, verified, "head-saw", "carriage", "dogs-and-knees")}
}

func runOf(by procedures.PersonID, from time.Time) []checklists.RunCheck {
	run := checklists.RunCheck{ID: "run-1", Person: by, From: from, Until: from.Add(checklists.RunCheckLasts)}
	for _, e := range aPlant() {
		run.Equipment = append(run.Equipment, e.ID)
	}
	return []checklists.RunCheck{run}
}

// under is the mill with these lockouts and run checks and nothing that holds
// otherwise.
func under(locks []procedures.Lockout, runs []checklists.RunCheck) checklists.Facts {
	return checklists.Facts{Mill: aMill(), Plant: aPlant(), Lists: []checklists.List{aList()}, Lockouts: locks, RunChecks: runs}
}

// good is what a person enters at an item that is as it should be.
func good(item checklists.Item) checklists.Answer {
	a := checklists.Answer{Result: checklists.OK, Text: "Ann", Photo: "photo"}
	if item.Kind == checklists.Number {
		number := 0.0
		if item.Limits.Low != nil {
			number = *item.Limits.Low
		}
		a.Number = &number
	}
	return a
}

// wrong is what a person enters at an item with a defect on it.
func wrong(item checklists.Item, now time.Time) checklists.Answer {
	a := checklists.Answer{Result: checklists.Found, Text: "Ann", Note: "bent", Photo: "photo"}
	if item.Severity == checklists.Mend {
		a.StopGap, a.MendBy = "roped off", now.Add(48*time.Hour)
	}
	return a
}

// walked is every item of the list taken as good, save those changed.
func walked(t require.TestingT, list checklists.List, now time.Time, change map[checklists.ItemID]checklists.Answer) []checklists.Answer {
	var answers []checklists.Answer
	before := now.Add(-time.Minute)
	locked, turning := under(allUnderLock("ann", before), nil), under(nil, runOf("ann", before))
	for _, item := range list.Items {
		given, changed := change[item.ID]
		if !changed {
			given = good(item)
		}
		f := locked
		if item.State == checklists.Running {
			f = turning
		}
		kept, err := checklists.Take(list, item.ID, given, sawyer(), f, now)
		require.NoError(t, err, "%s", item.ID)
		answers = append(answers, kept)
	}
	return answers
}

// signed is the list walked and signed at that time.
func signed(t require.TestingT, list checklists.List, now time.Time, change map[checklists.ItemID]checklists.Answer) (checklists.Inspection, []checklists.Defect) {
	in, defects, err := checklists.Complete(list, walked(t, list, now, change), sawyer(), counter(), aMill(), now.Add(-30*time.Minute), now, now, nil)
	require.NoError(t, err)
	return in, defects
}

// checkedFacts is the mill on a good morning: walked, signed, nothing found.
func checkedFacts(t require.TestingT, now time.Time) checklists.Facts {
	list := aList()
	in, _ := signed(t, list, now, nil)
	return checklists.Facts{Mill: aMill(), Plant: aPlant(), Lists: []checklists.List{list},
		Inspections: []checklists.Inspection{in}, LastEntry: now}
}

func readiness(t require.TestingT, f checklists.Facts, now time.Time) map[procedures.EquipmentID]checklists.Readiness {
	all := make(map[procedures.EquipmentID]checklists.Readiness)
	for _, r := range checklists.Ready(f, now) {
		all[r.Equipment] = r
	}
	require.NotContains(t, all, procedures.EquipmentID("site"))
	return all
}

func item(t *testing.T, list checklists.List, id checklists.ItemID) checklists.Item {
	found, ok := list.Item(id)
	require.True(t, ok, "%s", id)
	return found
}

func problems(t require.TestingT, err error) plain.Problems {
	var bad plain.Problems
	require.ErrorAs(t, err, &bad)
	return bad
}

func refusal(t require.TestingT, err error) *plain.Refusal {
	var no *plain.Refusal
	require.ErrorAs(t, err, &no)
	require.False(t, no.Why.Empty())
	return no
}
