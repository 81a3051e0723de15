package procedures

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// 29 CFR 1910.147(b) "authorized employee", (c)(7)(i)(A), (c)(8).
func TestNobodyBeginsWithoutTrainingAndTheSupervisorsWord(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	require.NoError(t, MayBegin(p, s, shiftDay))
	s.Person.Authorized = false
	require.Equal(t, Clause("(c)(8)"), clauseOf(MayBegin(p, s, shiftDay)))
	s = goodStanding(p)
	s.Learned.Trainings = nil
	require.Equal(t, Clause("(c)(7)(i)(A)"), clauseOf(MayBegin(p, s, shiftDay)))
	s.Learned = Learned{}
	require.Error(t, MayBegin(p, s, shiftDay), "knowing nothing lets nobody begin")
	require.Error(t, MayBegin(p, Standing{}, shiftDay))
}

func TestUntilTrainingIsEnteredTheSupervisorsWordCountsAlone(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	s.Learned.Trainings, s.NoneEntered = nil, true
	require.NoError(t, MayBegin(p, s, shiftDay))
	require.Empty(t, Lapses(Lockout{Procedure: p, Members: []Member{{Person: annOp.ID}}}, s, shiftDay))
	s.Person.Authorized = false
	require.Error(t, MayBegin(p, s, shiftDay))
}

// (e)(3)(iii).
func TestNobodyGoesToWorkBeforeBeingToldOfTheOwnLock(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	s.Locks[0].Untold = "l0"
	require.Equal(t, Clause("(e)(3)(iii)"), clauseOf(MayBegin(p, s, shiftDay)))
	on := Lockout{Procedure: p, Members: []Member{{Person: annOp.ID}}}
	for _, kind := range []EventKind{Joined, LockApplied, Reverified, WorkBegan, HandedOver, Energized} {
		require.Equal(t, Clause("(e)(3)(iii)"), clauseOf(MayReport(on, Event{Kind: kind}, s, shiftDay)), kind)
	}
	refused := MayReportTogether(on, []Event{{Kind: LeftJob}, {Kind: WorkBegan}}, s, shiftDay)
	require.Equal(t, []string{"1"}, fields(refused))
	s.Locks[0].Owner = benOp.ID
	require.NoError(t, MayBegin(p, s, shiftDay), "it was Ben's")
}

// (f)(2)(i).
func TestContractorJoinsOnlyAfterTheExchange(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	s.Person.Firm = "Brightwater"
	join := func() error { return MayReport(Lockout{Procedure: p}, Event{Kind: Joined, Lock: "A-1"}, s, shiftDay) }
	require.Equal(t, Clause("(f)(2)(i)"), clauseOf(join()))
	s.Contractors = []Contractor{{ID: "c", Firm: "brightwater ", OursGiven: shiftDay}}
	require.Equal(t, Clause("(f)(2)(i)"), clauseOf(join()))
	s.Contractors = []Contractor{{ID: "c", Firm: "brightwater", TheirsSeen: shiftDay}}
	require.Equal(t, Clause("(f)(2)(i)"), clauseOf(join()))
	s.Contractors[0].OursGiven = shiftDay
	require.NoError(t, join())
	require.NoError(t, MayBegin(p, s, shiftDay))
}

// (f)(2)(ii).
func TestOwnPeopleNotBriefedShowAsAGap(t *testing.T) {
	affected := []Affected{{Equipment: "hoist", People: []PersonID{annOp.ID, calOp.ID}}}
	gaps := Contractor{Firm: "Brightwater", Briefed: []PersonID{annOp.ID}}.BriefingGaps("hoist", affected)
	require.Len(t, gaps, 1)
	require.Equal(t, calOp.ID, gaps[0].Person)
	require.Equal(t, Clause("(f)(2)(ii)"), gaps[0].Clause)
}

func TestFirmIsEnteredOnceByASupervisor(t *testing.T) {
	c := Contractor{ID: "c1", Firm: " Brightwater ", OursGiven: shiftDay}
	kept, err := c.Keep(samSup, nil, shiftDay)
	require.NoError(t, err)
	require.Equal(t, "Brightwater", kept.Firm)
	_, err = Contractor{ID: "c2", Firm: "BRIGHTWATER", TheirsSeen: shiftDay.AddDate(0, 0, 1)}.Keep(samSup, []Contractor{kept}, shiftDay)
	require.Equal(t, []string{"firm", "theirs_seen"}, fields(err))
	_, err = c.Keep(annOp, nil, shiftDay)
	require.Equal(t, Clause("(f)(2)(i)"), clauseOf(err))
}

// (e)(3) Exception: the employer's written procedure.
func TestAbsentPersonsLockStaysWhereNoProcedureIsWritten(t *testing.T) {
	s := goodStanding(hoistProcedure())
	taken := Event{Kind: LockTaken, Lock: "B-1"}
	require.NoError(t, MayReport(Lockout{}, taken, s, shiftDay))
	require.NoError(t, MayTakeAbsentLock(s.Program))
	s.Program.AbsentOwner = "  "
	require.Equal(t, Clause("(e)(3)"), clauseOf(MayReport(Lockout{}, taken, s, shiftDay)))
	require.Equal(t, Clause("(e)(3)"), clauseOf(MayTakeAbsentLock(s.Program)))
}

// Somebody on the job whose training lapses goes on; the lapse is said.
func TestLapseOnTheJobIsSaidAndIsNoWall(t *testing.T) {
	p := hoistProcedure()
	l := Lockout{Procedure: p, Members: []Member{{Person: annOp.ID}}}
	s := goodStanding(p)
	require.Empty(t, Lapses(l, s, shiftDay))
	s.Learned.Inspections = []ProcedureInspection{found(p, Deviation)}
	require.Len(t, Lapses(l, s, shiftDay), 1)
	for _, kind := range []EventKind{LockApplied, Reverified, WorkBegan, StepDone} {
		require.NoError(t, MayReport(l, Event{Kind: kind, Lock: "A-1"}, s, shiftDay), kind)
	}
	require.Error(t, MayReport(l, Event{Kind: Joined, Lock: "A-1"}, s, shiftDay))
	s.Person.ID = "ben"
	require.Empty(t, Lapses(l, s, shiftDay), "not on the job")
}

func TestWhatHappenedIsEnteredLateAndWhatItBrokeIsSaid(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	s.Learned.Trainings = nil
	e := Event{Kind: Joined, Lock: "B-1", KeysInBox: true, Late: true, At: shiftDay}
	require.NoError(t, MayReport(Lockout{Procedure: p}, e, s, shiftDay))
	gaps := Broken(Lockout{Procedure: p}, e, s)
	require.Len(t, gaps, 2)
	require.Equal(t, Clause("(c)(7)(i)(A)"), gaps[0].Clause)
	require.Equal(t, Clause("(c)(5)(ii)(D)"), gaps[1].Clause)
	s.Learned.Trainings = []Training{goodTraining(p)}
	e.At = shiftDay.AddDate(0, 0, -31)
	require.Len(t, Broken(Lockout{Procedure: p}, e, s), 2, "a training given after it doesn't reach back")
	e.Late = false
	require.Empty(t, Broken(Lockout{Procedure: p}, e, s), "it is refused instead")
}

// Whatever is known or not known of a person, taking off the own lock, leaving,
// ending and giving back are never refused by the gate.
func TestNobodyIsEverKeptFromTakingOffTheOwnLock(t *testing.T) {
	p := hoistProcedure()
	rapid.Check(t, func(t *rapid.T) {
		s := goodStanding(p)
		yes := func(name string) bool { return rapid.Bool().Draw(t, name) }
		s.Person.Authorized, s.NoneEntered = yes("authorized"), yes("none entered")
		if yes("untrained") {
			s.Learned.Trainings = nil
		}
		if yes("untold") {
			s.Locks[0].Untold = "l0"
		}
		if yes("from outside") {
			s.Person.Firm = "Brightwater"
		}
		if yes("no register") {
			s.Locks, s.Program = nil, Program{}
		}
		kind := rapid.SampledFrom([]EventKind{LockRemoved, LeftJob, LeftOvernight, ToldOfLock, TestAsked, TestEnded, WorkEnded, Restored, Cancelled}).Draw(t, "kind")
		e := Event{Kind: kind, Lock: rapid.SampledFrom([]string{"A-1", "B-1", "?"}).Draw(t, "lock")}
		require.NoError(t, MayReport(Lockout{Procedure: p}, e, s, shiftDay))
	})
}

func TestDeputyMakesNobodyOneOfTheMillsOwn(t *testing.T) {
	outside := calOp
	outside.Firm = "Brightwater"
	require.Error(t, depOp.MayKeep(outside, calOp, false))
	require.NoError(t, samSup.MayKeep(outside, calOp, false))
}

// 29 CFR 1910.147(f)(1)(ii), (f)(3)(ii)(C): the saw isn't tried under power while
// somebody else is locked out at it, or has a lock on its disconnect.
func TestNoPowerForATestWhileAnotherLockoutHasALockOn(t *testing.T) {
	p := hoistProcedure()
	s, testing := goodStanding(p), Lockout{ID: "l1", Procedure: p}
	power := Event{Kind: Energized, Person: annOp.ID, At: shiftDay}
	on := []Lock{{Number: "B-1", Owner: benOp.ID, Device: p.Devices[0].ID}}
	other := Procedure{Equipment: []EquipmentID{"carriage"}}
	for _, tc := range []struct {
		why     string
		other   Lockout
		refused bool
	}{
		{"on the same device", Lockout{ID: "l2", Procedure: other, Locks: on}, true},
		{"at the same equipment", Lockout{ID: "l2", Procedure: Procedure{Equipment: p.Equipment}, Locks: []Lock{{Number: "B-1", Device: "elsewhere"}}}, true},
		{"elsewhere", Lockout{ID: "l2", Procedure: other, Locks: []Lock{{Number: "B-1", Device: "elsewhere"}}}, false},
		{"off again", Lockout{ID: "l2", Procedure: other, Locks: []Lock{{Number: "B-1", Device: p.Devices[0].ID, Off: shiftDay}}}, false},
		{"over", Lockout{ID: "l2", Procedure: other, Locks: on, Closed: true}, false},
		{"this one itself", Lockout{ID: "l1", Procedure: p, Locks: on}, false},
	} {
		s.Others = []Lockout{tc.other}
		err := MayReport(testing, power, s, shiftDay)
		require.Equal(t, tc.refused, err != nil, tc.why)
		if tc.refused {
			require.Equal(t, Clause("(f)(1)(ii)"), clauseOf(err))
			require.ErrorContains(t, err, "B-1")
		}
		require.NoError(t, MayReport(testing, Event{Kind: LockRemoved, Lock: "A-1", Person: annOp.ID}, s, shiftDay))
	}
}

// Power for a test of the hoist reaches who stands at the carriage it lands on;
// energy back, and a block out, waits for the lock of another at the same device.
func TestNoPowerOrEnergyBackWhereAnotherStands(t *testing.T) {
	plant := StarterPlant(Answers{Drive: "electric", Feed: "mandrel", Dogs: "hand", Hoist: "electric", Collector: "none", Headblocks: 2})
	p := hoistProcedure()
	p.Steps = append(p.Steps, Step{ID: "feed-on", Stage: Restore, Device: p.Devices[0].ID})
	s, here := goodStanding(p), Lockout{ID: "l1", Procedure: p}
	power := Event{Kind: Energized, Person: annOp.ID, At: shiftDay}
	back := Event{Kind: StepDone, Person: annOp.ID, Step: "feed-on", At: shiftDay}
	carriage := Lockout{ID: "l2", Procedure: Procedure{Equipment: []EquipmentID{"carriage"}}, Locks: []Lock{{Number: "B-1", Owner: benOp.ID, Device: "carriage-disconnect"}}}
	s.Others, s.Plant = []Lockout{carriage}, plant
	require.Equal(t, Clause("(f)(1)(ii)"), clauseOf(MayReport(here, power, s, shiftDay)))
	power.Late = true
	require.Error(t, MayReport(here, power, s, shiftDay), "nor as something that was done before")
	require.NoError(t, MayReport(here, back, s, shiftDay), "the hoist's own feed is nobody else's")
	carriage.Locks[0].Device = p.Devices[0].ID
	require.Equal(t, Clause("(f)(3)(i)"), clauseOf(MayReport(here, back, s, shiftDay)))
	carriage.Locks[0].Off = shiftDay
	require.NoError(t, MayReport(here, back, s, shiftDay))
	require.NoError(t, MayReport(here, Event{Kind: Energized, Person: annOp.ID, At: shiftDay}, s, shiftDay))
}
