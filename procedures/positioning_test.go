package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// 29 CFR 1910.147(f)(1): locks off in order, power, test, then all of (d) again.
func TestATestTakesEverythingBackAndAllOfIsolationIsDoneAgain(t *testing.T) {
	s := at(t, procedures.Work).onBox(ben, "B-1")
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 4})
	asked := procedures.Event{Kind: procedures.TestAsked, Tools: true, ToolsOut: 4}
	s.refused(ada, asked, "29 CFR 1910.147(f)(1)(ii)", "lock B-1")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	s.do(ada, asked)
	inTest := func() {
		require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
		require.NotEmpty(t, s.l.HoldsEquipment(), "a test is no end of the lockout")
		require.Equal(t, procedures.Work, s.l.Stage)
		require.Contains(t, s.l.StatusOf(s.l.Members[0], s.now).String(), "not protected")
	}
	inTest()
	require.Contains(t, s.l.Missing().String(), "for the test")
	require.Contains(t, s.l.Next().String(), "take your own locks off")
	for _, lock := range s.l.LocksOn() {
		s.refused(ben, procedures.Event{Kind: procedures.LockRemoved, Lock: lock.Number}, "29 CFR 1910.147(e)(3)", "isn't your lock")
		s.do(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: lock.Number})
		inTest()
	}
	require.Contains(t, s.l.Next().String(), "NOBODY IS PROTECTED")
	s.do(ada, energized)
	inTest()
	require.Contains(t, s.l.Next().String(), "under power")
	s.do(ada, procedures.Event{Kind: procedures.TestEnded, OffBack: true})

	require.Equal(t, procedures.ShutDown, s.l.Stage)
	for _, step := range s.l.Procedure.Steps {
		_, done := s.l.Done[step.ID]
		require.Equal(t, step.Stage < procedures.ShutDown, done, step.ID)
	}
	s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, "29 CFR 1910.147(d)(2)", "Not yet")
	s.refused(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"}, "29 CFR 1910.147(d)(2)", "Not yet")
	s.to(procedures.Work)
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	s.onBox(ben, "B-1")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
	again, err := procedures.Replay(s.l.ID, s.l.Procedure, s.l.Events)
	require.NoError(t, err)
	require.Equal(t, s.l, again)
	s.release(ada)
}

// Given up before power: a lock that never came off stays, all else is done again.
func TestATestGivenUpBeforePowerStillMeansAllOfIsolation(t *testing.T) {
	for taken := range 3 {
		s := prepared(t)
		for _, lock := range s.l.LocksOn()[:taken] {
			s.do(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: lock.Number})
		}
		s.do(ada, procedures.Event{Kind: procedures.TestEnded})
		require.Equal(t, procedures.ShutDown, s.l.Stage)
		require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
		s.to(procedures.Work)
		require.Len(t, s.l.LocksOn(), 2)
		require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
		s.release(ada)
	}
}

// (d)(5)(ii): what can build up is proven again at its interval.
func TestWhatBuildsUpAgainIsProvenAgainInTime(t *testing.T) {
	s := buildsUp(t)
	proven := s.l.Done["dogs-gauge"].At
	late := proven.Add(30*time.Minute + time.Second)
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", late.Add(-time.Second)))
	step, _ := s.l.RecheckDue(late.Add(-time.Second))
	require.Empty(t, step.ID)
	require.Equal(t, proven.Add(30*time.Minute), s.l.RecheckNext())
	step, since := s.l.RecheckDue(late)
	require.Equal(t, procedures.StepID("dogs-gauge"), step.ID)
	require.Equal(t, proven.Add(30*time.Minute), since)
	require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", late))
	require.Contains(t, s.l.NextAt(late).String(), "Hands out.")

	s.now = late
	again := procedures.Event{Kind: procedures.Rechecked, Step: "dogs-gauge", Proof: procedures.Tick}
	s.refused(ada, again, "29 CFR 1910.147(d)(6)", "needs its proof")
	again.Proof = procedures.GaugeZero
	s.do(ada, again)
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	require.Equal(t, s.l.Next(), s.l.NextAt(s.now))
	s.now = s.now.Add(40 * time.Minute)
	require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	s.do(ada, proof)
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now), "every verify step was done again")
	s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
	step, _ = s.l.RecheckDue(six.Add(20 * time.Hour))
	require.Empty(t, step.ID, "nobody is at work at night")
}

// (c)(2)(i), (c)(3)(ii): where no lock fits.
func TestATagWithItsExtraMeansStandsWhereNoLockFits(t *testing.T) {
	s := hung(t, procedures.Apply)
	for len(s.undone()) > 0 && s.l.Stage == procedures.Apply {
		e := s.event(s.undone()[0])
		if e.Kind == procedures.StepDone {
			e = goodTag
		}
		s.do(ada, e)
	}
	require.Equal(t, procedures.Relieve, s.l.Stage)
	require.Equal(t, procedures.HandleOff, s.l.Done["lock-dogs-valve"].Means[0])

	var old []procedures.Event
	for _, e := range s.l.Events {
		e.Tag, e.Means = procedures.Tag{}, nil
		old = append(old, e)
	}
	_, err := procedures.Replay(s.l.ID, s.l.Procedure, old)
	require.NoError(t, err, "what was kept before tags were described stands")
}

// (d)(4)(ii).
func TestALockSaysWhereItHoldsTheDevice(t *testing.T) {
	s := at(t, procedures.Apply)
	s.do(ada, procedures.Event{Kind: procedures.LockApplied, Device: "dogs-valve", Lock: "7", Position: procedures.PositionClosed})
	require.Equal(t, procedures.PositionClosed, s.l.LocksOn()[0].Position)
	for _, kind := range procedures.DeviceKinds() {
		require.NotContains(t, kind.Position().Words().String(), "not known")
	}
	require.Empty(t, procedures.DeviceKind("button").Position())
}

func TestEveryActIsSignedButTicksAndTheBeginning(t *testing.T) {
	s := at(t, procedures.Work)
	for _, kind := range procedures.EventKinds() {
		if kind != procedures.Began && kind != procedures.StepDone {
			require.True(t, s.l.Signed(procedures.Event{Kind: kind}), kind)
		}
		require.NotContains(t, kind.Words().String(), "not known")
	}
	for _, means := range procedures.ExtraMeansKnown() {
		require.NotContains(t, means.Words().String(), "not known")
	}
}
