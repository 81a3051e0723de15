package checklists_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

var underWay = at("2025-06-04 09:00")

func kinds(r checklists.Readiness) (all []checklists.HoldKind) {
	for _, h := range r.Holds {
		all = append(all, h.Kind)
	}
	return all
}

func TestCheckedMillMayRun(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	all := readiness(t, f, underWay)
	require.Len(t, all, len(f.Plant)-1)
	for id, r := range all {
		require.Equal(t, checklists.MayRun, r.Status, "%s: %v", id, r.Holds)
		require.Empty(t, r.Holds)
	}
}

func TestWhatIsNotKnownIsHeldAndNeverMayRun(t *testing.T) {
	good := checkedFacts(t, beforeShift)
	for name, tc := range map[string]struct {
		change func(*checklists.Facts)
		kind   checklists.HoldKind
		now    time.Time
	}{
		"no list":        {func(f *checklists.Facts) { f.Lists = nil }, checklists.HeldUnread, underWay},
		"draft only":     {func(f *checklists.Facts) { f.Lists[0].Version = 0 }, checklists.HeldUnread, underWay},
		"list to come":   {func(f *checklists.Facts) { f.Lists[0].InForce = underWay.Add(1) }, checklists.HeldUnread, underWay},
		"holds nothing":  {func(f *checklists.Facts) { f.Lists[0].Schedule.Holds = false }, checklists.HeldUnread, underWay},
		"no zone":        {func(f *checklists.Facts) { f.Mill.Zone = "" }, checklists.HeldUnread, underWay},
		"unknown zone":   {func(f *checklists.Facts) { f.Mill.Zone = "Here" }, checklists.HeldUnread, underWay},
		"no shifts":      {func(f *checklists.Facts) { f.Mill.Shifts, f.Inspections = nil, nil }, checklists.HeldByDue, underWay},
		"no inspection":  {func(f *checklists.Facts) { f.Inspections = nil }, checklists.HeldByDue, underWay},
		"shift is over":  {func(*checklists.Facts) {}, checklists.HeldByDue, at("2025-06-04 14:30")},
		"next day":       {func(*checklists.Facts) {}, checklists.HeldByDue, at("2025-06-05 07:00")},
		"clock behind":   {func(f *checklists.Facts) { f.LastEntry = underWay.Add(checklists.ClockTolerance + 1) }, checklists.HeldByClock, underWay},
		"plant in parts": {func(f *checklists.Facts) { f.Plant[0].Kind = procedures.Supply }, checklists.HeldUnread, underWay},
		"two of one id":  {func(f *checklists.Facts) { f.Plant = append(f.Plant, f.Plant[1]) }, checklists.HeldUnread, underWay},
	} {
		f := good
		f.Lists, f.Plant = slices.Clone(good.Lists), slices.Clone(good.Plant)
		tc.change(&f)
		for _, r := range checklists.Ready(f, tc.now) {
			require.Equal(t, checklists.Held, r.Status, "%s %s", name, r.Equipment)
			require.Contains(t, kinds(r), tc.kind, "%s %s", name, r.Equipment)
			for _, h := range r.Holds {
				require.False(t, h.Reason.Empty() || h.Clears.Empty(), "%s: every hold says why and what clears it", name)
			}
		}
	}
	require.Empty(t, checklists.Ready(checklists.Facts{}, underWay))
	require.Equal(t, checklists.NotKnown, checklists.Readiness{}.Status)
}

func TestMachineNoListCoversIsHeldBesideOthersThatMayRun(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Plant = append(slices.Clone(f.Plant), procedures.Equipment{ID: "air", PartOf: "site", Kind: procedures.Supply, Name: "Compressor"})
	all := readiness(t, f, underWay)
	require.Equal(t, []checklists.HoldKind{checklists.HeldUnread}, kinds(all["air"]))
	require.Equal(t, checklists.MayRun, all["head-saw"].Status)
}

func TestStopDefectTravelsToWhatItDrives(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Defects = []checklists.Defect{raised(t, "head-saw")}
	all := readiness(t, f, underWay)
	for _, held := range []procedures.EquipmentID{"head-saw", "carriage", "dogs-and-knees"} {
		require.Equal(t, []checklists.HoldKind{checklists.HeldByDefect}, kinds(all[held]), "%s is fed off the saw", held)
		require.Equal(t, procedures.EquipmentID("head-saw"), all[held].Holds[0].From)
		require.Equal(t, "d1", all[held].Holds[0].Ref)
	}
	require.Equal(t, checklists.MayRun, all["hoist"].Status)

	f.Plant = procedures.StarterPlant(func() procedures.Answers { a := aSetUp().Answers(); a.Feed = "own-motor"; return a }())
	all = readiness(t, f, underWay)
	require.Equal(t, checklists.Held, all["head-saw"].Status)
	require.Equal(t, checklists.MayRun, all["carriage"].Status, "with a feed of its own")

	f.Defects = []checklists.Defect{raised(t, "site")}
	for id, r := range readiness(t, f, underWay) {
		require.Equal(t, checklists.Held, r.Status, "%s", id)
	}
	f.Defects = []checklists.Defect{{ID: "d", Equipment: "boiler"}}
	for id, r := range readiness(t, f, underWay) {
		require.Equal(t, checklists.Held, r.Status, "%s: a defect nobody knows the place of holds everything", id)
	}
}

func TestMendHoldsFromItsDate(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Defects = []checklists.Defect{{ID: "d", Equipment: "hoist", What: "oil", Severity: checklists.Mend, MendBy: underWay.Add(time.Minute), At: beforeShift}}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status)
	require.Equal(t, checklists.Held, readiness(t, f, underWay.Add(time.Minute))["hoist"].Status)
}

func TestLockoutReachesWhatCouldMoveOrDropSomethingOnThePerson(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Lockouts = []procedures.Lockout{lockedOut("ann", underWay.Add(-time.Minute), "carriage")}
	all := readiness(t, f, underWay)
	for _, id := range []procedures.EquipmentID{"carriage", "head-saw", "dogs-and-knees", "hoist"} {
		require.Contains(t, kinds(all[id]), checklists.HeldByLockout, "%s", id)
	}
	require.Contains(t, all["carriage"].Holds[0].Reason.String(), "locks reported on: 1")
	require.Equal(t, checklists.MayRun, all["dust-collection"].Status)

	over := lockedOut("ann", underWay.Add(-time.Minute), "carriage")
	over.Events = []procedures.Event{{Kind: procedures.Began, Person: "ann"}}
	over.Primary = "ben" // took it over
	f.Lockouts = []procedures.Lockout{over}
	h := readiness(t, f, underWay)["carriage"].Holds[0]
	require.Equal(t, procedures.PersonID("ann"), h.By, "who began it is who reported its beginning")
	require.Contains(t, h.Clears.String(), "the one who answers for it")
	over.Locks[0].Off = underWay
	h = readiness(t, f, underWay)["carriage"].Holds[0]
	require.Contains(t, h.Reason.String(), "No lock is reported on now.", "one was on")
	require.Contains(t, h.Clears.String(), "The one who answers for it")

	begun := lockedOut("ann", underWay.Add(-time.Minute), "dust-collection")
	begun.Locks, begun.Stage = nil, procedures.Notify
	f.Lockouts = []procedures.Lockout{begun}
	require.Equal(t, checklists.Held, readiness(t, f, underWay)["dust-collection"].Status, "from its first step")
	begun.Cancelled = true
	f.Lockouts = []procedures.Lockout{begun}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["dust-collection"].Status)

	forgotten := lockedOut("ann", underWay.Add(-time.Minute), "dust-collection")
	forgotten.Closed = true
	f.Lockouts = []procedures.Lockout{forgotten}
	require.Equal(t, checklists.Held, readiness(t, f, underWay)["dust-collection"].Status, "a lock reported on holds whatever else is said")
	forgotten.Procedure.Equipment = nil
	f.Lockouts = []procedures.Lockout{forgotten}
	for id, r := range readiness(t, f, underWay) {
		require.Equal(t, checklists.Held, r.Status, "%s: nobody knows where that lock is", id)
	}
}

func TestDepartureHoldsUntilClosed(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	d, err := checklists.EnterDeparture("x", "hoist", "run while held", beforeShift, "", "ben", f.Plant, beforeShift)
	require.NoError(t, err)
	f.Departures = []checklists.Departure{d}
	all := readiness(t, f, underWay)
	require.Equal(t, []checklists.HoldKind{checklists.HeldByDeparture}, kinds(all["hoist"]))
	require.Equal(t, procedures.PersonID("ben"), all["hoist"].Holds[0].By)
	f.Departures[0], err = checklists.CloseDeparture(d, boss(), "talked", underWay)
	require.NoError(t, err)
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status)
}

func TestStopItemNotCheckedHoldsUntilALaterSignedAnswer(t *testing.T) {
	list := aList()
	skip := map[checklists.ItemID]checklists.Answer{
		"H3": {Result: checklists.NotChecked, Note: "too dark"},
		"X4": {Result: checklists.NotChecked, Note: "snowed in"}, // a mend item
	}
	in, _ := signed(t, list, beforeShift, skip)
	f := checkedFacts(t, beforeShift)
	f.Inspections = []checklists.Inspection{in}
	all := readiness(t, f, underWay)
	require.Equal(t, []checklists.HoldKind{checklists.HeldUnchecked}, kinds(all["hoist"]))
	require.Contains(t, all["hoist"].Holds[0].Reason.String(), "too dark")
	require.Equal(t, checklists.MayRun, all["dust-collection"].Status)

	ok, err := checklists.Take(list, "H3", checklists.Answer{Result: checklists.OK}, helper(), under(nil, nil), underWay)
	require.NoError(t, err)
	amended, _, err := checklists.Amend(in, list, []checklists.Answer{ok}, helper(), counter(), underWay, nil)
	require.NoError(t, err)
	withAmendment := f
	withAmendment.Amendments = []checklists.Amendment{amended}
	require.Equal(t, checklists.MayRun, readiness(t, withAmendment, underWay)["hoist"].Status)
	require.Equal(t, checklists.Held, readiness(t, withAmendment, underWay.Add(-time.Minute))["hoist"].Status, "an amendment to come clears nothing")
	amended.Inspection = "another"
	withAmendment.Amendments = []checklists.Amendment{amended}
	require.Equal(t, checklists.Held, readiness(t, withAmendment, underWay)["hoist"].Status)

	again, _ := signed(t, list, at("2025-06-04 08:00"), nil)
	again.ID = "again"
	f.Inspections = []checklists.Inspection{in, again}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status, "a later inspection answers it")
	f.Inspections = []checklists.Inspection{again, in}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status, "in whatever order they are loaded")
}

func TestStopItemOfANewerVersionNobodyHasSeenHolds(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	next := f.Lists[0]
	next.Version, next.InForce, next.Items = 2, at("2025-06-04 08:00"), slices.Clone(next.Items)
	more := item(t, next, "H1")
	more.ID = "H10"
	next.Items = append(next.Items, more)
	for _, lists := range [][]checklists.List{{f.Lists[0], next}, {next, f.Lists[0]}} {
		f.Lists = lists
		require.Equal(t, []checklists.HoldKind{checklists.HeldUnchecked}, kinds(readiness(t, f, underWay)["hoist"]))
		require.Equal(t, checklists.MayRun, readiness(t, f, at("2025-06-04 07:59"))["hoist"].Status)
	}
}

func TestHoldsAreSaidOnceAndTheMostSeriousFirst(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Inspections = nil
	d, err := checklists.EnterDeparture("x", "head-saw", "run while held", beforeShift, "", "ben", f.Plant, beforeShift)
	require.NoError(t, err)
	f.Departures = []checklists.Departure{d}
	f.Defects = []checklists.Defect{raised(t, "head-saw"), raised(t, "head-saw"), mended(t, "carriage")}
	f.Lockouts = allUnderLock("ann", underWay)
	r := readiness(t, f, underWay)["carriage"]
	require.Equal(t, []checklists.HoldKind{
		checklists.HeldByLockout, // one lockout is one hold, whatever it names
		checklists.HeldByDeparture, checklists.HeldByDefect, checklists.HeldByReturn, checklists.HeldByDue,
	}, kinds(r))
	require.Equal(t, procedures.EquipmentID("carriage"), r.Holds[0].From, "its own place in the lockout, not one that travelled")
	require.Equal(t, procedures.EquipmentID("carriage"), r.Holds[4].From, "a machine's own check, not the one that travelled")
}

func TestHoldsSpeakOnTheScreen(t *testing.T) {
	for status, want := range map[checklists.Status]string{checklists.NotKnown: "NOT KNOWN", checklists.Held: "HELD",
		checklists.RunCheckOnly: "RUN CHECK ONLY", checklists.MayRun: "MAY RUN"} {
		require.Equal(t, want, status.String())
	}
	f := checkedFacts(t, beforeShift)
	f.Mill.SingleHanded = true
	f.Defects = []checklists.Defect{mended(t, "head-saw"), {ID: "n", Equipment: "hoist"}}
	all := readiness(t, f, underWay)
	require.Contains(t, all["head-saw"].Holds[0].Clears.String(), "working alone")
	require.Contains(t, all["hoist"].Holds[0].Reason.String(), "nothing more said")
	require.Contains(t, all["hoist"].Holds[0].Clears.String(), "working alone", "not yet mended either")
	f.Mill.SingleHanded = false
	require.NotContains(t, readiness(t, f, underWay)["hoist"].Holds[0].Clears.String(), "working alone")
}

func TestNothingIsLiftedUnderAHoldOrOntoSomebodysLockout(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	require.Empty(t, checklists.LiftHolds(f, "hoist", "carriage", underWay))
	require.Len(t, checklists.LiftHolds(f, "carriage", "carriage", underWay), 1, "a carriage is no hoist")
	require.Len(t, checklists.LiftHolds(f, "hoist", "", underWay), 1, "set down where?")

	f.Lockouts = []procedures.Lockout{lockedOut("ann", underWay, "carriage")}
	require.Len(t, checklists.LiftHolds(f, "hoist", "carriage", underWay), 1, "one lockout is said once")
	f.Lockouts = []procedures.Lockout{lockedOut("ann", underWay, "dust-collection")}
	require.Empty(t, checklists.LiftHolds(f, "hoist", "carriage", underWay))
	require.Contains(t, checklists.LiftHolds(f, "hoist", "dust-collection", underWay)[0].String(), "Nothing is set down on Dust collection")

	f.Lockouts, f.Defects = nil, []checklists.Defect{raised(t, "hoist")}
	require.Contains(t, checklists.LiftHolds(f, "hoist", "carriage", underWay)[0].String(), "Hoist is held")
	f.Defects = []checklists.Defect{raised(t, "head-saw")}
	require.Empty(t, checklists.LiftHolds(f, "hoist", "carriage", underWay))
}

// facts draws a mill anywhere between a good morning and chaos.
func facts(t *rapid.T, now time.Time) checklists.Facts {
	s := aSetUp()
	s.Feed = rapid.SampledFrom([]string{"mandrel", "own-motor", "hydraulic", "hand"}).Draw(t, "feed")
	s.Drive = rapid.SampledFrom([]string{"electric", "engine", "tractor-shaft"}).Draw(t, "drive")
	plant := procedures.StarterPlant(s.Answers())
	list := checklists.StarterLists(s, plant)[0]
	list.Version, list.InForce = 1, at("2025-05-01 12:00")
	in := checklists.Inspection{ID: "in", List: list.ID, Version: 1, At: beforeShift, Signer: "ann"}
	for _, item := range list.Items {
		result := checklists.OK
		if rapid.IntRange(0, 60).Draw(t, "skip") == 0 {
			result = checklists.NotChecked
		}
		in.Answers = append(in.Answers, checklists.Answer{Item: item.ID, Result: result, By: "ann", At: beforeShift})
	}
	f := checklists.Facts{Mill: aMill(), Plant: plant, Lists: []checklists.List{list}, LastEntry: beforeShift}
	if rapid.IntRange(0, 5).Draw(t, "signed") > 0 {
		f.Inspections = []checklists.Inspection{in}
	}
	for range rapid.IntRange(0, 2).Draw(t, "defects") {
		f.Defects = append(f.Defects, anyDefect(t, plant, now))
	}
	for range rapid.IntRange(0, 2).Draw(t, "departures") {
		f.Departures = append(f.Departures, checklists.Departure{ID: "x", Equipment: anyMachine(t, plant), At: now})
	}
	for range rapid.IntRange(0, 2).Draw(t, "lockouts") {
		f.Lockouts = append(f.Lockouts, anyLockout(t, plant, now))
	}
	if rapid.Bool().Draw(t, "run") {
		f.RunChecks = []checklists.RunCheck{{ID: "r", Person: "ann", Equipment: []procedures.EquipmentID{anyMachine(t, plant)}, From: now, Until: now.Add(time.Minute)}}
	}
	return f
}

func anyMachine(t *rapid.T, plant procedures.Plant) procedures.EquipmentID {
	ids := []procedures.EquipmentID{"boiler"} // one the plant doesn't know
	for _, e := range plant {
		ids = append(ids, e.ID)
	}
	return rapid.SampledFrom(ids).Draw(t, "machine")
}

func anyDefect(t *rapid.T, plant procedures.Plant, now time.Time) checklists.Defect {
	d := checklists.Defect{ID: checklists.DefectID(rapid.StringN(1, 3, 3).Draw(t, "id")), Equipment: anyMachine(t, plant), At: now,
		Severity: rapid.SampledFrom([]checklists.Severity{checklists.Stop, checklists.Mend, ""}).Draw(t, "severity"),
		MendBy:   now.Add(time.Duration(rapid.Int64Range(-1e15, 1e15).Draw(t, "mend by")))}
	if rapid.Bool().Draw(t, "mended") {
		d.MendedBy, d.MendedAt = "ben", now
	}
	return d
}

func anyLockout(t *rapid.T, plant procedures.Plant, now time.Time) procedures.Lockout {
	l := lockedOut("ann", now, anyMachine(t, plant))
	l.Stage = rapid.SampledFrom([]procedures.Stage{procedures.Prepare, procedures.Work, procedures.RemoveLocks}).Draw(t, "stage")
	l.Closed = rapid.Bool().Draw(t, "closed")
	return l
}

// Seen to fail with holdByLockouts asking ReachedByStop instead.
func TestLockedMachineNeverMayRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := facts(t, underWay)
		l := anyLockout(t, f.Plant, underWay)
		f.Lockouts = append(f.Lockouts, l)
		reached := f.Plant.ReachedByLockout(l.Procedure.Equipment[0])
		for _, r := range checklists.Ready(f, underWay) {
			if slices.Contains(reached, r.Equipment) {
				require.Equal(t, checklists.Held, r.Status, "%s", r.Equipment)
				require.Nil(t, r.RunCheck)
			}
		}
		require.NotEmpty(t, checklists.LiftHolds(f, "hoist", l.Procedure.Equipment[0], underWay))
	})
}

func TestOneMoreReasonNeverFreesAMachine(t *testing.T) {
	rank := map[checklists.Status]int{checklists.MayRun: 2, checklists.RunCheckOnly: 1}
	rapid.Check(t, func(t *rapid.T) {
		f := facts(t, underWay)
		before := checklists.Ready(f, underWay)
		switch rapid.IntRange(0, 4).Draw(t, "more") {
		case 0:
			f.Defects = append(f.Defects, anyDefect(t, f.Plant, underWay))
		case 1:
			f.Lockouts = append(f.Lockouts, anyLockout(t, f.Plant, underWay))
		case 2:
			f.Departures = append(f.Departures, checklists.Departure{ID: "y", Equipment: anyMachine(t, f.Plant), At: underWay})
		case 3:
			f.LastEntry = underWay.Add(checklists.ClockTolerance + time.Second)
		case 4:
			f.Inspections = nil
		}
		after := checklists.Ready(f, underWay)
		require.Len(t, after, len(before))
		for i := range after {
			require.LessOrEqual(t, rank[after[i].Status], rank[before[i].Status], "%s", after[i].Equipment)
			require.Equal(t, after[i].Status == checklists.MayRun, len(after[i].Holds) == 0)
		}
	})
}
