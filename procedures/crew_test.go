package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// 29 CFR 1910.147(e)(1): each counts what they take in; what came in twice adds
// up, and what somebody left in stays in until the whole is counted.
func TestToolsAreCountedForEachPersonAndAddUp(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 7})
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1", ToolsIn: 3})
	s.do(ben, procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true, ToolsIn: 2})
	require.Equal(t, []procedures.ToolsOf{{Person: "ada", Tools: 7}, {Person: "ben", Tools: 5}}, s.l.ToolsInBy())
	require.Equal(t, 12, s.l.ToolsIn())
	s.refused(ben, procedures.Event{Kind: procedures.LeftJob, ToolsOut: 6}, "29 CFR 1910.147(e)(1)", "You counted 5 tools and parts in, and 6 out")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob, ToolsOut: 4}) // one stays in the machine
	s.refused(ada, procedures.Event{Kind: procedures.TestAsked, Tools: true, ToolsOut: 7}, "29 CFR 1910.147(e)(1)", "8 tools and parts were counted in by 2 people, 7 out")
	s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
	s.now = six.Add(24 * time.Hour)
	s.do(ada, proof)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 2})
	require.Equal(t, 10, s.l.ToolsIn(), "the seven of yesterday are still in")
	s.to(procedures.InspectArea)
	inspected := s.event(s.undone()[0])
	inspected.ToolsOut = 9
	s.refused(ada, inspected, "29 CFR 1910.147(e)(1)", "10 tools")
	inspected.ToolsOut = 10
	s.do(ada, inspected)
	require.Zero(t, s.l.ToolsIn())
}

// An earlier Stillsaw took a second count for the first one anew: its records fold.
func TestACountKeptByAnEarlierStillsawStillFolds(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 7})
	s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
	s.do(ada, proof)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 7})
	s.to(procedures.InspectArea)
	out := s.event(s.undone()[0])
	out.Person, out.ToolsOut, out.At = "ada", 7, s.now.Add(time.Minute)
	require.Error(t, s.l.Apply(out, ada))
	again, err := procedures.Replay(s.l.ID, s.l.Procedure, append(s.l.Events, out))
	require.NoError(t, err)
	require.Zero(t, again.ToolsIn())
}

// 29 CFR 1910.147(d), (e): nothing was proven, so nobody has worked; the one lock
// that is on comes off in the order of the release, and work is never allowed.
func TestALockoutCalledOffHalfLockedLetsNobodyIn(t *testing.T) {
	s := at(t, procedures.Apply)
	s.do(ada, s.event(s.undone()[0]))
	require.Equal(t, procedures.Apply, s.l.Stage, "one device is bare")
	s.refused(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: s.l.LocksOn()[0].Number}, "29 CFR 1910.147(d)(4)(i)", "Not yet")
	e := procedures.Event{Kind: procedures.WorkEnded, Person: "ada", At: s.now.Add(time.Minute)}
	require.ErrorContains(t, s.l.Apply(e, ada), "Say that nobody has reached into the machine")
	require.False(t, s.l.CalledOff())
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded, Clear: true})
	require.True(t, s.l.CalledOff())
	require.Contains(t, s.l.Next().String(), "NOBODY REACHES IN")
	for _, e := range []procedures.Event{{Kind: procedures.WorkBegan}, proof, {Kind: procedures.Joined, Lock: "A-9"}} {
		require.Error(t, s.try(ada, e), e.Kind)
	}
	require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	s.release(ada)
	require.True(t, s.l.Closed)
	require.False(t, s.l.CalledOff())

	whole := at(t, procedures.InspectArea)
	require.False(t, whole.l.CalledOff(), "everything was proven at zero")
	require.NotContains(t, whole.l.Next().String(), "NOBODY REACHES IN")
}

// 29 CFR 1910.147(e)(3)(i): who is recorded as having left the mill is absent,
// whatever end was expected.
func TestWhoLeftTheMillIsntHere(t *testing.T) {
	s := at(t, procedures.Work).onBox(ben, "B-1")
	taken := procedures.Event{Kind: procedures.LockTaken, Lock: "B-1", Program: true, NotHere: "he gave notice and drove off",
		Tries: []procedures.Try{{At: s.now, Way: "telephone", Result: "no answer"}}}
	s.refused(cleo, taken, "29 CFR 1910.147(e)(3)(i)", "counts as here")
	require.Equal(t, procedures.PersonID("ben"), s.l.ActedFor(taken))
	gone := ben
	gone.Left = true
	require.Empty(t, s.l.LeftBehind(ben))
	left := s.l.LeftBehind(gone)
	require.Len(t, left, 1)
	require.Contains(t, left[0].Why.String(), "Ben was entered as having left the mill with lock B-1 reported on")
	taken.LeftMill = true
	s.do(cleo, taken)
	require.Empty(t, s.l.LeftBehind(gone))

	end := toEnd
	s.refused(cleo, end, "29 CFR 1910.147(e)(3)(i)", "counts as here")
	require.Equal(t, procedures.PersonID("ada"), s.l.ActedFor(end))
	end.LeftMill = true
	s.do(cleo, end)
	require.Equal(t, procedures.PersonID("cleo"), s.l.Primary)

	none, away := at(t, procedures.Isolate), ada
	away.Left = true
	require.Contains(t, none.l.LeftBehind(away)[0].Why.String(), "answers for this lockout")
}

// A job that takes longer is put off by who answers for it, and its locks are
// raised past the new end only.
func TestAJobThatTakesLongerIsntForgotten(t *testing.T) {
	s := at(t, procedures.Work).onBox(ben, "B-1")
	shift := six.Add(3 * time.Hour)
	later := procedures.Event{Kind: procedures.LaterEnd, Until: six.Add(6 * time.Hour), Note: "a tooth broke off"}
	s.refused(ben, later, "29 CFR 1910.147(f)(3)(ii)(A)", "answers for it")
	require.NotEmpty(t, s.l.Forgotten(shift, six.Add(5*time.Hour)))
	s.now = six.Add(5 * time.Hour)
	past := later
	past.Until = s.now.Add(-time.Minute)
	s.refused(ada, past, "", "a time to come")
	s.do(ada, later)
	require.Equal(t, six.Add(6*time.Hour), s.l.Expected)
	require.Empty(t, s.l.Forgotten(shift, six.Add(6*time.Hour)), "said to go on past the end of the shift")
	require.Len(t, s.l.Forgotten(shift, six.Add(6*time.Hour+time.Second)), 3)
	again, err := procedures.Replay(s.l.ID, s.l.Procedure, s.l.Events)
	require.NoError(t, err)
	require.Equal(t, s.l, again)
	s.do(ada, procedures.Event{Kind: procedures.LaterEnd, Until: shift.Add(30 * time.Hour)})
	require.NotEmpty(t, s.l.Forgotten(shift, six.Add(7*time.Hour)), "over the night it is left locked on purpose, or raised")
}

// What was done by the placard happened; what it should have shown is entered as
// a departure, and whose lock it is is asked before anything goes on.
func TestWhatALateEntryLacksIsADeparture(t *testing.T) {
	s := with(t, procedures.Work, func(p *procedures.Procedure) {})
	join := procedures.Event{Kind: procedures.Joined, Person: "ben", Lock: "D-1", Late: true, At: s.now.Add(time.Second)}
	standing := procedures.Standing{Person: ben, NoneEntered: true, Locks: []procedures.LockItem{{Number: "D-1", Owner: "dora", Condition: procedures.LockBad, OnlyHere: true, Kind: procedures.KeyedPadlock}}}
	gaps := procedures.Broken(s.l, join, standing)
	require.Len(t, gaps, 2)
	require.Contains(t, gaps[0].Why.String(), "Lock D-1 belongs to somebody else")
	require.Contains(t, gaps[1].Why.String(), "Look into the box")
	require.NoError(t, procedures.MayReport(s.l, join, standing, s.now))
	require.NoError(t, s.l.Apply(join, ben))
	s.now = s.now.Add(time.Minute)
	again := proof
	again.Person = "ben"
	require.ErrorContains(t, procedures.MayReport(s.l, again, standing, s.now), "Lock D-1 belongs to somebody else")
	require.NoError(t, procedures.MayReport(s.l, procedures.Event{Kind: procedures.LeftJob, Person: "ben"}, standing, s.now), "off it may come")
	standing.Locks[0].Owner, standing.Locks[0].Condition = "ben", procedures.LockGood
	require.NoError(t, procedures.MayReport(s.l, again, standing, s.now))

	s = with(t, procedures.Isolate, func(p *procedures.Procedure) {
		change(p, "isolate-saw-disconnect", func(step *procedures.Step) { step.AsksPhoto = true })
	})
	e := s.event(s.undone()[0])
	e.Person, e.At, e.Late = "ada", s.now.Add(time.Second), true
	gaps = procedures.Broken(s.l, e, procedures.Standing{Person: ada, NoneEntered: true})
	require.Len(t, gaps, 1)
	require.Contains(t, gaps[0].Why.String(), "asks for a picture")
	e.Photo = "digest"
	require.Empty(t, procedures.Broken(s.l, e, procedures.Standing{Person: ada, NoneEntered: true}))
}

// (f)(3)(ii)(C): two lockouts meet at a device of both, and at what one locks off
// and the other is for.
func TestLockoutsMeetAtDevicesAndAtWhatIsHeld(t *testing.T) {
	p := starter(t, "dogs-and-knees", answers("electric", "mandrel"))
	other := starter(t, "hoist", answers("electric", "mandrel"))
	over := func(p, q procedures.Procedure) int {
		return len(procedures.Overlaps([]procedures.Lockout{{ID: "l", Procedure: p}}, q))
	}
	require.Zero(t, over(other, p))
	held := other
	held.Holds = []procedures.EquipmentID{"dogs-and-knees"}
	require.Equal(t, 1, over(held, p))
	require.Equal(t, 1, over(p, held))
	device := other
	device.Devices = append([]procedures.Device{p.Devices[0]}, other.Devices...)
	require.Equal(t, 1, over(device, p))
	b := procedures.Beginning{ID: "lockout-2", Procedure: p, Task: "teeth", By: ben, Expected: six.Add(time.Hour), At: six}
	_, _, err := b.Begin([]procedures.Lockout{{ID: "l", Procedure: device, Primary: "ada"}})
	require.ErrorContains(t, err, "(f)(3)(ii)(C)")
	b.Coordinator = "ada"
	_, _, err = b.Begin([]procedures.Lockout{{ID: "l", Procedure: device, Primary: "ada"}})
	require.NoError(t, err)
}

// (f)(3)(ii)(C): one lockout met isn't enough where there are two.
func TestACoordinatorIsOverEveryLockoutMet(t *testing.T) {
	p := starter(t, "dogs-and-knees", answers("electric", "mandrel"))
	saw := procedures.Lockout{ID: "saw", Procedure: starter(t, "head-saw", answers("electric", "mandrel")), Primary: "ada"}
	carriage := procedures.Lockout{ID: "carriage", Procedure: starter(t, "carriage", answers("electric", "mandrel")), Primary: "cleo"}
	begin := func(coordinator procedures.PersonID) error {
		b := procedures.Beginning{ID: "dogs", Procedure: p, Task: "teeth", By: ben, Expected: six.Add(time.Hour), At: six, Coordinator: coordinator}
		_, _, err := b.Begin([]procedures.Lockout{saw, carriage})
		return err
	}
	for _, who := range []procedures.PersonID{"", "ada", "cleo", "ben"} {
		why, clause := refusal(t, begin(who))
		require.Equal(t, "(f)(3)(ii)(C)", clause, who)
		require.Contains(t, why.Error(), "nobody answers for", who)
	}
	carriage.Coordinator = "ada"
	require.Equal(t, []procedures.PersonID{"ada"}, procedures.Coordinators([]procedures.Lockout{saw, carriage}, p))
	require.NoError(t, begin("ada"))
	require.ErrorContains(t, begin("cleo"), "(f)(3)(ii)(C)")
	require.ErrorContains(t, begin(""), "name the one who answers")
	require.Empty(t, procedures.Coordinators(nil, p))

	require.True(t, carriage.CoordinatorAway([]procedures.Lockout{saw, carriage}))
	saw.Members = []procedures.Member{{Person: "ada"}}
	require.False(t, carriage.CoordinatorAway([]procedures.Lockout{saw, carriage}))
	saw.Members[0].Left = six
	require.True(t, carriage.CoordinatorAway([]procedures.Lockout{saw, carriage}))
	require.False(t, saw.CoordinatorAway(nil), "none was named")
}
