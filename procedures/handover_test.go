package procedures_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// 29 CFR 1910.147(f)(4): protection has no gap, and there is one primary at any time.
func TestAHandOverLeavesNoDeviceWithoutALock(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
	s.onBox(dora, "D-1").onDevices(ben)
	s.do(ben, procedures.Event{Kind: procedures.HandedOver, From: "ada", Told: "two teeth left", KeysInBox: true})
	require.Equal(t, procedures.PersonID("ben"), s.l.Primary)
	s.refused(ada, procedures.Event{Kind: procedures.WorkEnded}, "29 CFR 1910.147(f)(3)(ii)(A)", "answers for it")
	s.do(ada, procedures.Event{Kind: procedures.LeftJob})
	require.True(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
	require.True(t, s.l.VerifiedFor("dora", "dogs-and-knees", s.now), "the box still holds keys that count")
	for _, d := range s.l.Procedure.Devices {
		if d.Lockable {
			require.True(t, slices.ContainsFunc(s.l.LocksOn(), func(lock procedures.Lock) bool { return lock.Device == d.ID }))
		}
	}
	s.refused(ben, procedures.Event{Kind: procedures.LeftJob}, "29 CFR 1910.147(f)(3)(ii)(A)", "take it over")
	s.do(dora, procedures.Event{Kind: procedures.LeftJob})
	s.release(ben)
	require.True(t, s.l.Closed)
	require.Empty(t, s.l.LocksOn())
}

// release goes from the end of the work to back in service.
func (s *shop) release(by procedures.Person) {
	if s.l.Stage == procedures.Work {
		s.do(by, procedures.Event{Kind: procedures.WorkEnded})
	}
	for s.l.Open() {
		undone := s.undone()
		switch {
		case s.l.Stage == procedures.RemoveLocks && len(s.l.LocksOn()) > 0:
			s.do(by, procedures.Event{Kind: procedures.LockRemoved, Lock: s.l.LocksOn()[0].Number})
		case len(undone) > 0:
			s.do(by, s.event(undone[0]))
		default:
			s.do(by, procedures.Event{Kind: procedures.Restored})
		}
	}
}

// Who comes on in the morning takes over from somebody who is away.
func TestAnAwayPrimaryIsReplacedBeforeTheirLocksComeOff(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
	s.now = six.Add(25 * time.Hour)
	s.onDevices(ben)
	s.do(ben, procedures.Event{Kind: procedures.HandedOver, From: "ada", Told: "by telephone: she is ill; nothing was touched"})
	taken := procedures.Event{Kind: procedures.LockTaken, Program: true, NotHere: "at home, her brother says", Tries: []procedures.Try{{At: s.now, Way: "telephone", Result: "spoke to her brother"}}}
	for _, lock := range s.l.LocksOn() {
		if lock.Owner == "ada" {
			taken.Lock = lock.Number
			s.do(cleo, taken)
		}
	}
	require.Len(t, s.l.Untold(), 2)
	require.Len(t, s.l.SignedOn(), 1)
	s.refused(ada, procedures.Event{Kind: procedures.Joined, Lock: "A-9"}, "29 CFR 1910.147(e)(3)(iii)", "Say first that you were told")
	s.release(ben)
	s.do(ada, procedures.Event{Kind: procedures.ToldOfLock}) // also when it is over
	require.Empty(t, s.l.Untold())
	require.False(t, s.l.Open())
	again, err := procedures.Replay(s.l.ID, s.l.Procedure, s.l.Events)
	require.NoError(t, err)
	require.Equal(t, s.l, again)
}

// The owner of several locks who comes back takes the rest off alone.
func TestAnOwnerOffTheJobTakesTheRestOfTheirLocksOff(t *testing.T) {
	s := at(t, procedures.Work).onDevices(ben)
	s.now = six.Add(5 * time.Hour)
	s.do(cleo, procedures.Event{Kind: procedures.LockTaken, Lock: "Ben-saw-disconnect", Program: true, NotHere: "looked everywhere", Tries: []procedures.Try{{At: s.now, Way: "telephone", Result: "no answer"}}})
	require.Len(t, s.l.SignedOn(), 1)
	require.False(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
	s.do(ben, procedures.Event{Kind: procedures.ToldOfLock, Lock: "ben-SAW-disconnect"})
	s.do(ben, procedures.Event{Kind: procedures.LockRemoved, Lock: "Ben-dogs-valve"})
	require.Len(t, s.l.LocksOn(), 2)
	s.onBox(ben, "B-9")
	require.True(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
}

// When only the primary's locks are left at the very end, who takes them answers
// for the rest.
func TestASupervisorGivesBackWhatAnAbsentPrimaryLeft(t *testing.T) {
	s := at(t, procedures.RemoveLocks)
	s.now = six.Add(5 * time.Hour)
	for _, lock := range s.l.LocksOn() {
		s.do(cleo, procedures.Event{Kind: procedures.LockTaken, Lock: lock.Number, Program: true, NotHere: "looked everywhere", Tries: []procedures.Try{{At: s.now, Way: "telephone", Result: "no answer"}}})
	}
	require.Equal(t, procedures.PersonID("cleo"), s.l.Primary)
	s.release(cleo)
	require.True(t, s.l.Closed)
	require.Len(t, s.l.Untold(), 2)
}

// (f)(3)(ii)(B), (C).
func TestASecondCraftMakesThePrimaryCoordinator(t *testing.T) {
	s := at(t, procedures.Work)
	require.Empty(t, s.l.Coordinates())
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1", Craft: "electricians"})
	require.Equal(t, procedures.PersonID("ada"), s.l.Coordinates())
	require.Equal(t, []string{"", "electricians"}, s.l.Crafts())
	status := func(i int) string { return s.l.StatusOf(s.l.Members[i], s.now).String() }
	require.Contains(t, status(1), "zero not proven: stays out")
	s.do(ben, proof)
	require.Contains(t, status(1), "zero proven")
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
	require.Contains(t, status(0), "may be in the machine")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	require.Contains(t, status(1), "signed off")
	require.Empty(t, s.l.Coordinates())
	s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
	require.Contains(t, status(0), "away")
}

// (f)(3)(ii)(C): two lockouts of one piece of equipment have somebody over both.
func TestTwoLockoutsOfTheSameEquipmentAreCoordinated(t *testing.T) {
	rig := begun(t, "head-rig").l
	dogs := starter(t, "dogs-and-knees", answers("electric", "mandrel"))
	require.Equal(t, []procedures.LockoutID{"lockout-1"}, procedures.Overlaps([]procedures.Lockout{rig}, dogs))
	require.Empty(t, procedures.Overlaps([]procedures.Lockout{rig}, starter(t, "hoist", answers("electric", "mandrel"))))
	b := procedures.Beginning{ID: "lockout-2", Procedure: dogs, Task: "teeth", By: ben, Expected: six.Add(time.Hour), At: six, Craft: "fitters", Coordinator: "ben"}
	_, _, err := b.Begin([]procedures.Lockout{rig})
	require.ErrorContains(t, err, "(f)(3)(ii)(C)")
	b.Coordinator = "ada"
	l, e, err := b.Begin([]procedures.Lockout{rig})
	require.NoError(t, err)
	require.Equal(t, procedures.PersonID("ada"), l.Coordinates())
	again, err := procedures.Replay(l.ID, l.Procedure, []procedures.Event{e})
	require.NoError(t, err)
	require.Equal(t, l, again)
	rig.Cancelled = true
	require.Empty(t, procedures.Overlaps([]procedures.Lockout{rig}, dogs))
}

// A lock left on by mistake is raised; one left on purpose isn't.
func TestAForgottenLockIsRaisedAndOneLeftOvernightIsnt(t *testing.T) {
	s := at(t, procedures.Work).onBox(ben, "B-1")
	end := six.Add(10 * time.Hour)
	require.Empty(t, s.l.Forgotten(end, six.Add(4*time.Hour)))
	raised := s.l.Forgotten(end, six.Add(4*time.Hour+time.Second))
	require.Len(t, raised, 3)
	require.Contains(t, raised[2].Words().String(), "Lock B-1 is reported on")
	require.Len(t, s.l.Forgotten(six.Add(time.Hour), six.Add(time.Hour+time.Second)), 3, "the shift's end, before the end expected")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
	require.Empty(t, s.l.Forgotten(end, six.Add(24*time.Hour)))
	require.NotEmpty(t, s.l.Forgotten(end, six.Add(24*time.Hour+time.Second)), "nobody came in the morning")
}
