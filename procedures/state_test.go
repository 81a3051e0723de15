package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// twoStep is a lockout at that stage with two steps of it undone, a device that
// takes a lock and one lock on of each of two people.
func twoStep(stage Stage) Lockout {
	return Lockout{ID: "l", Stage: stage, Primary: annOp.ID, Begun: shiftDay, Expected: shiftDay.Add(4 * time.Hour), Done: map[StepID]Event{},
		Procedure: Procedure{Steps: []Step{{ID: "one", Stage: stage, Text: "First.", Clause: "clause one", Device: "box"}, {ID: "two", Stage: stage, Text: "Second.", Clause: "clause two"}},
			Devices: []Device{{ID: "switch", Lockable: true, Label: "Switch"}, {ID: "box", Label: "Box"}}},
		Locks:   []Lock{{Number: "A-1", Owner: annOp.ID, Device: "switch", On: shiftDay}, {Number: "B-1", Owner: benOp.ID, Device: "switch", On: shiftDay}},
		Members: []Member{{Person: annOp.ID, Joined: shiftDay}, {Person: benOp.ID, Joined: shiftDay}},
		Events:  []Event{{Kind: Began, Person: annOp.ID, At: shiftDay}}}
}

// What is missing names the first of it and how much more, with its clause; and what
// to do next says where the lockout stands.
func TestWhatIsMissingIsTheFirstOfIt(t *testing.T) {
	for name, tc := range map[string]struct {
		stage                 Stage
		change                func(*Lockout)
		missing, clause, next string
	}{
		"two steps": {Isolate, func(*Lockout) {}, "First. (and 1 more at this stage)", "clause one", "First. (and 1 more"},
		"one step":  {Isolate, func(l *Lockout) { l.Done["one"] = Event{} }, "Second.", "clause two", "Second."},
		"none":      {Isolate, func(l *Lockout) { l.Procedure.Steps = nil }, "", Clause("(d)(3)"), ""},
		"three":     {Isolate, func(l *Lockout) { l.Procedure.Steps = append(l.Procedure.Steps, Step{ID: "three", Stage: Isolate}) }, "First. (and 2 more at this stage)", "clause one", ""},
		"locks":     {RemoveLocks, func(*Lockout) {}, "lock A-1 taken off by its owner", Clause("(e)(3)"), "lock A-1 taken off"},
		"locks off": {RemoveLocks, func(l *Lockout) { l.Locks = nil }, "First. (and 1 more at this stage)", "clause one", ""},
		"work":      {Work, func(l *Lockout) { l.Procedure.Steps = nil }, "", Clause("(d)(6)"), "Before anybody reaches in"},
		"proven":    {Work, func(l *Lockout) { l.Procedure.Steps, l.Members[1].Verified = nil, shiftDay }, "", Clause("(d)(6)"), "Report the start of the work"},
		"proven, gone": {Work, func(l *Lockout) {
			l.Procedure.Steps, l.Members[1].Verified, l.Members[1].Left = nil, shiftDay, shiftDay
		}, "", Clause("(d)(6)"), "Before anybody reaches in"},
		"working": {Work, func(l *Lockout) { l.Procedure.Steps, l.Working = nil, true }, "", Clause("(d)(6)"), "Work. When it is done"},
		"night":   {Work, func(l *Lockout) { l.Procedure.Steps, l.Overnight = nil, true }, "the proof at zero, given again after the night", Clause("(d)(6)"), "Left locked."},
		"to its end": {Work, func(l *Lockout) {
			l.Procedure.Steps, l.Overnight = nil, true
			l.Events = append(l.Events, Event{Kind: HandedOver, ToEnd: true})
		}, "the proof at zero", Clause("(d)(6)"), "NOBODY WORKS under it"},
		"test, locked":      {Work, func(l *Lockout) { l.Test = TestPrepared }, "lock A-1 taken off by its owner, for the test", Clause("(f)(1)(iii)"), "take your own locks off"},
		"test, bare":        {Work, func(l *Lockout) { l.Test, l.Locks = TestPrepared, nil }, "the end of the test", Clause("(f)(1)(v)"), "Your locks are off: NOBODY IS PROTECTED"},
		"power":             {Work, func(l *Lockout) { l.Test = TestEnergized }, "the end of the test", Clause("(f)(1)(v)"), "Reported under power"},
		"last notice":       {NotifyRestored, func(*Lockout) {}, "First. (and 1 more at this stage)", "clause one", "First. (and 1"},
		"all told":          {NotifyRestored, func(l *Lockout) { l.Procedure.Steps = nil }, "", Clause("(e)(2)(ii)"), "Report it back in service."},
		"over":              {NotifyRestored, func(l *Lockout) { l.Closed = true }, "", "", "reported back in service"},
		"cancelled":         {Isolate, func(l *Lockout) { l.Cancelled = true }, "", "", "was cancelled"},
		"called off":        {InspectArea, func(l *Lockout) { l.Procedure.Steps[1].Stage = Verify }, "First.", "clause one", "NOBODY REACHES IN. Look it over from outside, then take the locks off in order. Now: First."},
		"called off, locks": {RemoveLocks, func(l *Lockout) { l.Procedure.Steps[1].Stage = Verify }, "lock A-1", Clause("(e)(3)"), "lock A-1 taken off by its owner"},
	} {
		l := twoStep(tc.stage)
		tc.change(&l)
		what, clause := l.missing()
		require.Contains(t, what.String(), tc.missing, name)
		require.Equal(t, tc.missing == "", what.Empty(), name)
		require.Equal(t, tc.clause, clause, name)
		require.Equal(t, what, l.Missing(), name)
		require.Contains(t, l.Next().String(), tc.next, name)
		require.Equal(t, l.Next(), l.NextAt(shiftDay), name)
	}
	for name, tc := range map[string]struct {
		stage       Stage
		change      func(*Lockout)
		clause, why string
	}{
		"undone":   {Isolate, func(*Lockout) {}, "clause one", "Not yet. First: First. (and 1 more"},
		"at work":  {Work, func(l *Lockout) { l.Procedure.Steps = nil }, Clause("(e)(1)"), "the end of the work, reported by the one who answers for"},
		"too late": {InspectArea, func(l *Lockout) { l.Procedure.Steps = nil }, Clause("(e)(1)"), "It is too late for this"},
	} {
		l := twoStep(tc.stage)
		tc.change(&l)
		why := refusal(l.notYet())
		require.Equal(t, tc.clause, why.Clause, name)
		require.Contains(t, why.Why.String(), tc.why, name)
	}
	called := twoStep(InspectArea)
	called.Procedure.Steps = []Step{{ID: "verify", Stage: Verify}, {ID: "work", Stage: Work}}
	require.True(t, called.CalledOff())
	called.Done["verify"] = Event{}
	require.False(t, called.CalledOff(), "the work is no step")
	called = twoStep(Work)
	called.Procedure.Steps[0].Stage = Verify
	require.False(t, called.CalledOff(), "not while work may be done")
}

// What can build up again comes before all else, from the second after it is due.
func TestWhatBuildsUpComesFirst(t *testing.T) {
	l := twoStep(Work)
	l.Procedure.Steps = []Step{{ID: "gauge", Stage: Verify, Text: "Gauge.", Recheck: time.Hour}, {ID: "wheel", Stage: Verify, Text: "Wheel.", Recheck: 30 * time.Minute}, {ID: "slow", Stage: Verify, Recheck: 2 * time.Hour}}
	for _, s := range l.Procedure.Steps {
		l.Done[s.ID] = Event{At: shiftDay}
	}
	at := func(after time.Duration) StepID { s, _ := l.RecheckDue(shiftDay.Add(after)); return s.ID }
	require.Empty(t, at(30*time.Minute))
	require.Equal(t, StepID("wheel"), at(30*time.Minute+1))
	require.Equal(t, StepID("wheel"), at(3*time.Hour), "the most overdue")
	require.Equal(t, shiftDay.Add(30*time.Minute), l.RecheckNext())
	require.Contains(t, l.NextAt(shiftDay.Add(time.Hour)).String(), "Hands out.")
	l.Done["wheel"] = Event{At: shiftDay.Add(time.Hour)}
	require.Equal(t, StepID("gauge"), at(2*time.Hour))
	require.Equal(t, shiftDay.Add(time.Hour), l.RecheckNext())
	l.Events = append(l.Events, Event{Kind: Reverified, At: shiftDay.Add(90 * time.Minute)}, Event{Kind: Reverified, At: shiftDay.Add(80 * time.Minute)}, Event{Kind: Rechecked, At: shiftDay.Add(9 * time.Hour)})
	require.Empty(t, at(2*time.Hour), "all of it proven again by whoever proved zero")
	require.Equal(t, shiftDay.Add(2*time.Hour), l.RecheckNext())
	l.Overnight = true
	require.True(t, l.RecheckNext().IsZero())
}

// 29 CFR 1910.147(f)(3)(ii)(B): how each stands, in the order that matters.
func TestStatusSaysTheWorstFirst(t *testing.T) {
	now := shiftDay.Add(time.Hour)
	for said, tc := range map[string]struct {
		stage  Stage
		change func(*Lockout)
	}{
		"signed off since":      {Work, func(l *Lockout) { l.Members[0].Left, l.Test = now, TestPrepared }},
		"not protected: a test": {Work, func(l *Lockout) { l.Test, l.Members[0].Away = TestPrepared, true }},
		"here to end it": {Work, func(l *Lockout) {
			l.Events = append(l.Events, Event{Kind: HandedOver, ToEnd: true})
			l.Members[0].Away = true
		}},
		"away, own lock":  {InspectArea, func(l *Lockout) { l.Members[0].Away = true }},
		"still signed on": {InspectArea, func(l *Lockout) { l.Members[0].Verified = shiftDay }},
		"the keys in it not seen": {Work, func(l *Lockout) {
			l.Locks = []Lock{{Number: "A-9", Owner: annOp.ID}}
			l.Events = append(l.Events, Event{Kind: Joined, Lock: "a-9"})
			l.Members[0].Verified = shiftDay
		}},
		"may be in the machine":              {Work, func(l *Lockout) { l.Members[0].Verified, l.Working = shiftDay, true }},
		"lock reported on, zero proven 2026": {Work, func(l *Lockout) { l.Members[0].Verified = shiftDay }},
		"zero not proven: stays out":         {Work, func(l *Lockout) { l.Members[0].Verified, l.Working = time.Time{}, true }},
		"not all reported on":                {Work, func(l *Lockout) { l.Locks = l.Locks[1:] }},
	} {
		l := twoStep(tc.stage)
		tc.change(&l)
		require.Contains(t, l.StatusOf(l.Members[0], now).String(), said)
	}
	l := twoStep(InspectArea)
	l.Events = append(l.Events, Event{Kind: HandedOver, ToEnd: true})
	require.Equal(t, "still signed on", l.StatusOf(l.Members[0], now).String(), "once it is released")
	require.Equal(t, annOp.ID, l.BegunBy())
	l.Primary = benOp.ID
	require.Equal(t, annOp.ID, l.BegunBy(), "whoever answers for it now")
	l.Events = nil
	require.Equal(t, benOp.ID, l.BegunBy())
	l.Events = []Event{{Person: calOp.ID}}
	require.Equal(t, calOp.ID, l.BegunBy())
	l.Coordinator = samSup.ID
	require.Equal(t, samSup.ID, l.Coordinates())
}

// A proof counts for twelve hours and not a moment longer, only while work may be
// done and own locks are on every device.
func TestAProofCountsUnderOwnLocksForTwelveHours(t *testing.T) {
	l := twoStep(Work)
	l.Members[0].Verified = shiftDay
	require.True(t, l.proven(annOp.ID, shiftDay))
	require.True(t, l.proven(annOp.ID, shiftDay.Add(12*time.Hour)))
	require.False(t, l.proven(annOp.ID, shiftDay.Add(12*time.Hour+1)))
	require.False(t, l.proven(annOp.ID, shiftDay.Add(-1)))
	require.False(t, l.proven(benOp.ID, shiftDay), "who proved nothing")
	require.False(t, l.proven("nobody", shiftDay))
	for name, change := range map[string]func(*Lockout){
		"over": func(l *Lockout) { l.Closed = true }, "before": func(l *Lockout) { l.Stage = Verify }, "release": func(l *Lockout) { l.Stage = InspectArea },
		"lock off": func(l *Lockout) { l.Locks[0].Off = shiftDay }, "one more device": func(l *Lockout) {
			l.Procedure.Devices = append(l.Procedure.Devices, Device{ID: "valve", Lockable: true})
		},
		"nothing takes a lock": func(l *Lockout) { l.Procedure.Devices = l.Procedure.Devices[1:] },
	} {
		other := twoStep(Work)
		other.Members[0].Verified = shiftDay
		change(&other)
		require.False(t, other.proven(annOp.ID, shiftDay), name)
	}
}

// A device is bare when the last lock on it goes; one that had none, or takes none,
// never is.
func TestADeviceIsBareWhenItsLastLockGoes(t *testing.T) {
	l := twoStep(Verify)
	of := func(who ...PersonID) func(Lock) bool {
		return func(lock Lock) bool { return len(who) == 2 || lock.Owner == who[0] }
	}
	require.Empty(t, l.bare(of(annOp.ID)))
	require.Equal(t, DeviceID("switch"), l.bare(of(annOp.ID, benOp.ID)))
	l.Procedure.Devices = append([]Device{{ID: "never", Lockable: true}}, l.Procedure.Devices...)
	require.Equal(t, DeviceID("switch"), l.bare(of(annOp.ID, benOp.ID)), "where none was on none is laid bare")
	l.Procedure.Devices[1].Lockable = false
	require.Empty(t, l.bare(of(annOp.ID, benOp.ID)))
	for stage, bare := range map[Stage]bool{Isolate: false, Apply: false, Relieve: true, Work: true, ControlsOff: true, RemoveLocks: false, Restore: false} {
		l := twoStep(stage)
		a := asked{l: &l}
		require.Equal(t, bare, a.noneBare(of("a", "b")) != nil, "%d", stage)
		require.NoError(t, a.noneBare(of(annOp.ID)))
		l.Test = TestPrepared
		require.NoError(t, a.noneBare(of("a", "b")), "for a test they come off")
	}
}

// 29 CFR 1910.147(e)(3): the lock of somebody who isn't here comes off; its owner
// is off the job, and when nobody is left at work it is night for the lockout.
func TestALockTakenPutsItsOwnerOffTheJob(t *testing.T) {
	at := shiftDay.Add(5 * time.Hour)
	e := Event{Kind: LockTaken, Person: samSup.ID, Lock: "b-1", At: at}
	l := twoStep(Work)
	l.Working, l.Members[0].Away, l.Members[1].Verified, l.Members[1].Away = true, true, shiftDay, true
	l.lockTaken(e)
	require.Equal(t, Lock{Number: "B-1", Owner: benOp.ID, Device: "switch", On: shiftDay, Off: at, TakenBy: samSup.ID}, l.Locks[1])
	require.Equal(t, Member{Person: benOp.ID, Joined: shiftDay, Left: at}, l.Members[1])
	require.Equal(t, []bool{true, false}, []bool{l.Overnight, l.Working}, "who is left is away")
	require.Equal(t, annOp.ID, l.Primary)

	l = twoStep(Work)
	l.Working = true
	l.lockTaken(e)
	require.Equal(t, []bool{false, true}, []bool{l.Overnight, l.Working}, "Ann is at work")
	l = twoStep(Verify)
	l.Members[0].Away = true
	l.lockTaken(e)
	require.False(t, l.Overnight, "only while work may be done")

	l = twoStep(RemoveLocks)
	l.Procedure.Steps[1].Device = "switch"
	e.Lock = "A-1"
	l.lockTaken(e)
	require.Equal(t, e, l.Done["two"], "done at its device")
	require.NotContains(t, l.Done, StepID("one"))
	require.Equal(t, samSup.ID, l.Primary)
	require.Equal(t, Member{Person: samSup.ID, Joined: at}, l.Members[2])
	l.Locks = append(l.Locks, Lock{Number: "S-1", Owner: samSup.ID, On: at})
	l.lockTaken(Event{Person: samSup.ID, Lock: "S-1", At: at})
	again := twoStep(RemoveLocks)
	again.Members = append(again.Members, Member{Person: samSup.ID, Joined: shiftDay})
	again.lockTaken(e)
	require.Len(t, again.Members, 3, "who is on the job already comes no second time")
	none := twoStep(Work)
	none.lockTaken(Event{Person: samSup.ID, Lock: "none", At: at})
	require.Equal(t, twoStep(Work), none)
	before := twoStep(ControlsOff)
	before.Procedure.Steps = []Step{{ID: "two", Stage: RemoveLocks, Device: "switch"}}
	before.lockTaken(e)
	require.Empty(t, before.Done, "not yet the stage of it")
}

// Whoever leaves the mill leaves locks or the lockout behind, or nothing.
func TestWhatIsLeftBehindIsSaid(t *testing.T) {
	gone := benOp
	gone.Left = true
	l := twoStep(Work)
	require.Contains(t, l.LeftBehind(gone)[0].Why.String(), "with lock B-1 reported on")
	l.Locks = append(l.Locks, Lock{Number: "B-2", Owner: benOp.ID})
	require.Contains(t, l.LeftBehind(gone)[0].Why.String(), "with lock B-1, B-2 reported on")
	require.Empty(t, l.LeftBehind(benOp), "who hasn't left")
	l.Locks = nil
	require.Empty(t, l.LeftBehind(gone))
	l.Primary = benOp.ID
	require.Equal(t, Clause("(f)(3)(ii)(A)"), l.LeftBehind(gone)[0].Clause)
	l.Closed = true
	require.Empty(t, l.LeftBehind(gone))
	l = twoStep(Work)
	l.Locks[0].TakenBy, l.Locks[1].TakenBy = samSup.ID, samSup.ID
	told := func(who PersonID, number string) bool {
		l := l
		return refusedBy(toldRules(), asked{l: &l, e: Event{Person: who, Lock: number}}) == nil
	}
	require.True(t, told(annOp.ID, ""))
	require.True(t, told(annOp.ID, " a-1 "))
	require.False(t, told(annOp.ID, "B-1"), "another's")
	require.False(t, told(calOp.ID, ""))
	l.toldOfLock(Event{Person: benOp.ID, Lock: "B-1", At: shiftDay})
	require.Equal(t, []Lock{l.Locks[0]}, l.Untold())
	require.Equal(t, shiftDay, l.Locks[1].OwnerTold)
}

// Nobody reaches in while the area is looked over unless the primary proved zero
// since; each reason has its own words, and outside of that part nothing is said.
func TestNobodyReachesInUnprovenWhileItIsLookedOver(t *testing.T) {
	say := func(stage Stage, change func(*Lockout)) plain.Sentence {
		l := twoStep(stage)
		l.Procedure.Steps = nil
		change(&l)
		return l.Outside()
	}
	none := func(*Lockout) {}
	for _, stage := range []Stage{InspectArea, ClearPeople, ControlsOff} {
		require.Contains(t, say(stage, none).String(), "Not proven at zero again since a night")
		require.Contains(t, say(stage, func(l *Lockout) { l.Locks = nil }).String(), "No lock is on since the test")
		require.Contains(t, say(stage, func(l *Lockout) { l.Locks = l.Locks[1:] }).String(), "Not proven at zero")
		require.Contains(t, say(stage, func(l *Lockout) { l.Procedure.Steps = []Step{{ID: "v", Stage: Verify}} }).String(), "Called off before everything was locked")
		require.True(t, say(stage, func(l *Lockout) { l.Members[0].Verified = shiftDay }).Empty())
		require.False(t, say(stage, func(l *Lockout) { l.Members[1].Verified = shiftDay }).Empty(), "another's proof isn't the primary's")
		require.False(t, say(stage, func(l *Lockout) { l.Members = nil }).Empty())
		require.True(t, say(stage, func(l *Lockout) { l.Closed = true }).Empty())
	}
	for _, stage := range []Stage{Verify, Work, RemoveLocks, Restore} {
		require.True(t, say(stage, none).Empty(), "%d", stage)
	}
	over := func(events ...Event) bool { return Lockout{Events: events}.overByTest() }
	ended := Event{Kind: TestEnded, Over: true}
	require.False(t, over())
	require.True(t, over(ended, Event{Kind: StepDone}))
	require.False(t, over(ended, Event{Kind: Resumed}))
	require.False(t, over(ended, Event{Kind: TestAsked}))
	require.False(t, over(ended, Event{Kind: TestEnded}))
	require.True(t, over(Event{Kind: Resumed}, ended))
}
