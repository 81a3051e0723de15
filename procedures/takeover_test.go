package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// A primary who fell ill leaves no lockout that nobody can end, at no stage: the
// area is looked over and people cleared before the locks come off,
// 29 CFR 1910.147(e)(1)–(3), and the owner is told, (e)(3)(iii).
func TestASupervisorTakesALockoutToItsEndAtAnyStage(t *testing.T) {
	tested := func(t require.TestingT) *shop {
		s := bareForTest(t)
		s.do(ada, energized)
		return s
	}
	scenes := map[string]func(require.TestingT) *shop{"prepared for a test": prepared, "locks off for a test": bareForTest, "under power": tested}
	for _, stage := range []procedures.Stage{procedures.Relieve, procedures.Verify, procedures.Work, procedures.InspectArea, procedures.ClearPeople,
		procedures.ControlsOff, procedures.RemoveLocks, procedures.Restore, procedures.NotifyRestored} {
		scenes[stage.Words().String()] = func(t require.TestingT) *shop { return at(t, stage) }
	}
	scenes["one lock of two on"] = func(t require.TestingT) *shop {
		s := at(t, procedures.Apply)
		s.do(ada, procedures.Event{Kind: procedures.LockApplied, Device: "saw-disconnect", Lock: "A-1"})
		return s
	}
	for name, scene := range scenes {
		s := scene(t)
		stage, on := s.l.Stage, len(s.l.LocksOn())
		s.now = six.Add(5 * time.Hour)
		unheld := name == "locks off for a test" || name == "under power"
		cleo := cleo
		if unheld { // she does all of isolation again
			s.refused(cleo, toEnd, "29 CFR 1910.147(c)(8)", "recorded as authorized")
			cleo.Authorized = true
		}
		s.do(cleo, toEnd)
		if unheld {
			require.Equal(t, procedures.ShutDown, s.l.Stage, "%s: all of isolation before anybody inspects it", name)
			require.Error(t, s.try(cleo, procedures.Event{Kind: procedures.WorkEnded}), name)
		} else {
			require.Equal(t, max(stage, procedures.InspectArea), s.l.Stage, name)
		}
		require.Equal(t, procedures.PersonID("cleo"), s.l.Primary, name)
		require.Len(t, s.l.LocksOn(), on, "%s: her locks stay on till they come off in their turn", name)
		require.NotEmpty(t, s.l.HoldsEquipment(), name)
		for _, m := range s.l.Members {
			require.False(t, s.l.VerifiedFor(m.Person, "dogs-and-knees", s.now), "%s: nobody works any more", name)
		}
		require.Error(t, s.try(dorian, procedures.Event{Kind: procedures.Joined, Lock: "D-1"}), "%s: nor joins", name)
		require.Error(t, s.try(ada, procedures.Event{Kind: procedures.WorkEnded}), name)
		if unheld {
			continue
		}
		for s.l.Open() {
			undone := s.undone()
			switch {
			case s.l.Stage == procedures.RemoveLocks && len(s.l.LocksOn()) > 0:
				s.do(cleo, procedures.Event{Kind: procedures.LockTaken, Lock: s.l.LocksOn()[0].Number, Program: true, NotHere: "in the hospital",
					Tries: []procedures.Try{{At: s.now, Way: "telephone", Result: "told her sister"}}})
			case len(undone) > 0:
				s.do(cleo, s.event(undone[0]))
			default:
				s.do(cleo, procedures.Event{Kind: procedures.Restored})
			}
		}
		require.Len(t, s.l.Untold(), on, name)
		again, err := procedures.Replay(s.l.ID, s.l.Procedure, s.l.Events)
		require.NoError(t, err)
		require.Equal(t, s.l, again, name)
	}
}

// She comes back while it is being released, and takes her own locks off in
// their turn.
func TestAPrimaryWhoComesBackTakesTheOwnLocksOffInTheirTurn(t *testing.T) {
	s := at(t, procedures.Verify)
	s.now = six.Add(5 * time.Hour)
	s.do(cleo, toEnd)
	off := procedures.Event{Kind: procedures.LockRemoved, Lock: "A-saw-disconnect"}
	s.refused(ada, off, "29 CFR 1910.147(f)(4)", "without a lock")
	for s.l.Stage < procedures.RemoveLocks {
		s.do(cleo, s.event(s.undone()[0]))
	}
	s.do(ada, off)
	s.do(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: "A-dogs-valve"})
	require.Empty(t, s.l.Untold())
	s.release(cleo)
	require.True(t, s.l.Closed)
}

// Locked overnight by a crew, 29 CFR 1910.147(f)(4): whoever goes leaves the own
// lock on, who answers for it last, and nobody's proof lasts over the night.
func TestACrewLeavesItLockedOvernightAndWhoAnswersForItGoesLast(t *testing.T) {
	s := at(t, procedures.Work).onBox(ben, "B-1")
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
	night := procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)}
	s.refused(ada, night, "29 CFR 1910.147(f)(4)", "still at work")
	s.do(ben, night)
	require.False(t, s.l.Overnight, "she still works")
	require.True(t, s.l.Working)
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	require.False(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
	require.Equal(t, six.Add(4*time.Hour), s.l.Expected)
	s.do(ada, night)
	require.True(t, s.l.Overnight)
	require.False(t, s.l.Working)
	require.Equal(t, six.Add(24*time.Hour), s.l.Expected)
	require.Empty(t, s.l.Forgotten(six.Add(10*time.Hour), six.Add(20*time.Hour)))

	s.now = six.Add(24 * time.Hour)
	s.do(ben, proof) // first in the morning
	require.True(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
	require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	s.do(ben, procedures.Event{Kind: procedures.WorkBegan})
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	require.True(t, s.l.Overnight, "only who is away is left")
	require.False(t, s.l.Working)
	require.Contains(t, s.l.Next().String(), "Left locked.")
	s.do(ada, proof)
	s.release(ada)
}

// After a test the locks are off and the disconnect is on: nobody is sent to the
// machine for the release before it is isolated, locked and proven again.
func TestNoReleaseBeginsAtAMachineATestLeftUnlocked(t *testing.T) {
	s := bareForTest(t)
	s.do(ada, energized)
	s.do(ada, procedures.Event{Kind: procedures.TestEnded, OffBack: true})
	require.Empty(t, s.l.LocksOn())
	s.refused(ada, procedures.Event{Kind: procedures.WorkEnded}, "29 CFR 1910.147(f)(1)(v)", "nobody is protected")
	require.Equal(t, procedures.ShutDown, s.l.Stage)
	s.to(procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	require.Equal(t, procedures.InspectArea, s.l.Stage)
	require.NotEmpty(t, s.l.LocksOn())
}

// One lock hangs in one place, whatever two lockouts say of it.
func TestALockThatHangsElsewhereIsNotPutOn(t *testing.T) {
	s := at(t, procedures.Apply)
	other := begun(t, "hoist").to(procedures.Work).l
	other.ID = "another"
	number := other.LocksOn()[0].Number
	e := procedures.Event{Kind: procedures.LockApplied, Device: "saw-disconnect", Lock: " " + number}
	standing := procedures.Standing{Person: ada, NoneEntered: true}
	require.NoError(t, procedures.MayReport(s.l, e, standing, s.now))
	standing.Others = []procedures.Lockout{other}
	require.ErrorContains(t, procedures.MayReport(s.l, e, standing, s.now), "another lockout")
}

// Coming on by an entry made afterwards asks nothing, since it happened; going on
// from there towards work asks what joining does.
func TestWhoCameOnLateIsAskedBeforeGoingOn(t *testing.T) {
	p := starter(t, "hoist", answers("electric", "hand"))
	l, _, err := procedures.BeginLate("lockout-1", p, "chain", ada, six.Add(time.Hour), six)
	require.NoError(t, err)
	untrained := procedures.Standing{Person: ada}
	step := procedures.Event{Kind: procedures.StepDone, Person: ada.ID, Step: p.Steps[0].ID}
	require.ErrorContains(t, procedures.MayReport(l, step, untrained, six.Add(time.Minute)), "(c)(7)")
	step.Late = true
	require.NoError(t, procedures.MayReport(l, step, untrained, six.Add(time.Minute)), "what happened may be entered")
	require.NoError(t, procedures.MayReport(l, procedures.Event{Kind: procedures.Cancelled, Person: ada.ID}, untrained, six), "nor is anybody kept from ending it")
}

// From under power to the end: proven again, and still nobody works.
func TestALockoutTakenToItsEndFromUnderPowerComesToNoWork(t *testing.T) {
	s := bareForTest(t)
	s.do(ada, energized)
	s.now = six.Add(5 * time.Hour)
	cleo := cleo
	cleo.Authorized = true
	s.do(cleo, toEnd)
	for s.l.Stage < procedures.Work {
		s.now = s.now.Add(s.l.WaitLeft(s.now))
		e := s.event(s.undone()[0])
		s.do(cleo, e)
	}
	require.True(t, s.l.TakenToEnd())
	require.False(t, s.l.VerifiedFor("cleo", "dogs-and-knees", s.now))
	require.Contains(t, s.l.Next().String(), "NOBODY WORKS")
	require.Contains(t, s.l.StatusOf(s.l.SignedOn()[0], s.now).String(), "nobody works")
	s.refused(cleo, procedures.Event{Kind: procedures.WorkBegan}, "29 CFR 1910.147(f)(3)(ii)(A)", "Take it to its end")
	s.do(cleo, procedures.Event{Kind: procedures.WorkEnded})
	require.NotContains(t, s.l.StatusOf(s.l.SignedOn()[0], s.now).String(), "nobody works")
}
