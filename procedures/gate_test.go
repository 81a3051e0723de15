package procedures

import (
	"slices"
	"testing"
	"time"

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
	for _, kind := range []EventKind{Joined, LockApplied, Reverified, Rechecked, WorkBegan, HandedOver, TestAsked, Energized} {
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
		kind := rapid.SampledFrom([]EventKind{LockRemoved, LeftJob, LeftOvernight, ToldOfLock, TestEnded, WorkEnded, Restored, Cancelled}).Draw(t, "kind")
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

// What another lockout locks off besides counts as where its people are: the
// hoist isn't run past somebody whose lockout is of the collector and holds the
// carriage the hoist lands on.
func TestNoPowerForATestAtWhatAnotherLockoutHoldsBesides(t *testing.T) {
	plant := StarterPlant(Answers{Drive: "electric", Feed: "mandrel", Dogs: "hand", Hoist: "electric", Collector: "cyclone", Headblocks: 2})
	require.NotContains(t, plant.ReachedByLockout("dust-collection"), EquipmentID("hoist"))
	p := hoistProcedure()
	s, here := goodStanding(p), Lockout{ID: "l1", Procedure: p}
	power := Event{Kind: Energized, Person: annOp.ID, At: shiftDay}
	dust := Procedure{Equipment: []EquipmentID{"dust-collection"}}
	other := Lockout{ID: "l2", Procedure: dust, Locks: []Lock{{Number: "B-1", Owner: benOp.ID, Device: "dust-disconnect"}}}
	s.Others, s.Plant = []Lockout{other}, plant
	require.NoError(t, MayReport(here, power, s, shiftDay))
	s.Others[0].Procedure.Holds = []EquipmentID{"carriage"}
	require.Equal(t, Clause("(f)(1)(ii)"), clauseOf(MayReport(here, power, s, shiftDay)))
}

// hoistTested is a lockout of the hoist with power for a test, at a mill where the
// hoist lands on the carriage; the carriage is the procedure asked about.
func hoistTested() (carriage Procedure, hoist Lockout, plant Plant) {
	plant = StarterPlant(Answers{Drive: "electric", Feed: "mandrel", Dogs: "hand", Hoist: "electric", Collector: "cyclone", Headblocks: 2})
	hoist = Lockout{ID: "l2", Procedure: Procedure{Title: "Hoist", Equipment: []EquipmentID{"hoist"}}, Test: TestEnergized,
		Events: []Event{{Kind: Began, At: shiftDay.Add(-time.Hour)}, {Kind: Energized, At: shiftDay.Add(-time.Minute)}}}
	return Procedure{ID: "p2", Version: 1, Title: "Carriage", Equipment: []EquipmentID{"carriage"}}, hoist, plant
}

// 29 CFR 1910.147(f)(1)(ii): who tests saw the own people out, not those who come
// to another machine meanwhile.
func TestNobodyComesWhereAnotherLockoutHasPowerForATest(t *testing.T) {
	p, hoist, plant := hoistTested()
	s := goodStanding(hoistProcedure())
	s.NoneEntered, s.Plant, s.Others = true, plant, []Lockout{hoist}
	here := Lockout{ID: "l1", Procedure: p, Members: []Member{{Person: annOp.ID}}}
	comes := []EventKind{Began, Joined, Reverified, WorkBegan, HandedOver}
	refused := func(why string, want bool) {
		t.Helper()
		for _, kind := range comes {
			err := MayReport(here, Event{Kind: kind, Person: annOp.ID}, s, shiftDay)
			require.Equal(t, want, err != nil, "%s: %s: %v", why, kind, err)
			if want {
				require.Equal(t, Clause("(f)(1)(ii)"), clauseOf(err))
				require.ErrorContains(t, err, "Hoist")
			}
		}
		require.Equal(t, want, MayBegin(p, s, shiftDay) != nil, why)
		_, powered := PoweredBeside(here, s.Others, s.Plant)
		require.Equal(t, want, powered, why)
		for _, kind := range []EventKind{LockRemoved, LeftJob, LeftOvernight, WorkEnded} {
			require.NoError(t, MayReport(here, Event{Kind: kind, Person: annOp.ID, Lock: "A-1"}, s, shiftDay), "%s: out is never refused: %s", why, kind)
		}
		require.NoError(t, MayReport(here, Event{Kind: HandedOver, ToEnd: true, Person: annOp.ID}, s, shiftDay), why)
	}
	refused("the hoist lands on the carriage", true)
	s.Plant = nil
	refused("nothing in common and no plant known", false)
	s.Others[0].Procedure.Holds = []EquipmentID{"carriage"}
	refused("what it locks off besides", true)
	s.Others[0].Procedure.Holds = nil
	s.Plant, s.Others[0].Procedure = plant, Procedure{Title: "Hoist", Equipment: []EquipmentID{"dust-collection"}, Holds: []EquipmentID{"hoist"}}
	refused("what it locks off besides, as the plant is linked", true)
	s.Plant, s.Others[0].Procedure = nil, hoist.Procedure
	here.Procedure.Devices = []Device{{ID: "panel"}}
	p.Devices = here.Procedure.Devices
	s.Others[0].Procedure.Devices = p.Devices
	refused("a device of both", true)
	s.Plant = plant
	for _, test := range []TestState{"", TestPrepared} {
		s.Others[0].Test = test
		refused("no power", false)
	}
	s.Others[0].Test, s.Others[0].Closed = TestEnergized, true
	refused("over", false)
	s.Others[0].Closed, s.Others[0].ID = false, "l1"
	for _, kind := range []EventKind{Joined, WorkBegan} {
		require.NoError(t, MayReport(here, Event{Kind: kind, Person: annOp.ID}, s, shiftDay), "this one itself has rules of its own")
	}
}

// What happened is entered; that it happened under another's power is a departure,
// by when that power was on.
func TestComingUnderAnothersPowerEnteredLateIsADeparture(t *testing.T) {
	p, hoist, plant := hoistTested()
	s := goodStanding(hoistProcedure())
	s.NoneEntered, s.Plant, s.Others = true, plant, []Lockout{hoist}
	here := Lockout{ID: "l1", Procedure: p, Members: []Member{{Person: annOp.ID}}}
	work := Event{Kind: WorkBegan, Late: true, At: shiftDay.Add(-30 * time.Second)}
	require.NoError(t, MayReport(here, work, s, shiftDay))
	gaps := Broken(here, work, s)
	require.Len(t, gaps, 1)
	require.Equal(t, Clause("(f)(1)(ii)"), gaps[0].Clause)
	work.At = shiftDay.Add(-2 * time.Minute)
	require.Empty(t, Broken(here, work, s), "before the power")
	s.Others[0].Test = ""
	for _, end := range []Event{{Kind: TestEnded, At: shiftDay.Add(-20 * time.Second)}, {Kind: HandedOver, ToEnd: true, At: shiftDay.Add(-20 * time.Second)}} {
		s.Others[0].Events = append(hoist.Events[:2:2], end)
		work.At = shiftDay.Add(-30 * time.Second)
		require.Len(t, Broken(here, work, s), 1, "the test has ended since")
		work.At = shiftDay.Add(-10 * time.Second)
		require.Empty(t, Broken(here, work, s), "after its end")
	}
}

// A lock that went on at another lockout since takes nothing back from what was
// done before and is entered late.
func TestALockThatWentOnSinceIsNoDepartureOfWhatWasBefore(t *testing.T) {
	p := hoistProcedure()
	p.Steps = append(p.Steps, Step{ID: "feed-on", Stage: Restore, Device: p.Devices[0].ID})
	s, here := goodStanding(p), Lockout{ID: "l1", Procedure: p}
	s.Others = []Lockout{{ID: "l2", Procedure: p, Locks: []Lock{{Number: "A-1", Owner: annOp.ID, Device: p.Devices[0].ID, On: shiftDay}}}}
	back := Event{Kind: StepDone, Person: annOp.ID, Step: "feed-on", Late: true}
	on := Event{Kind: LockApplied, Person: annOp.ID, Lock: "A-1", Device: p.Devices[0].ID, Late: true}
	for _, e := range []Event{back, on} {
		e.At = shiftDay.Add(-time.Minute)
		require.Empty(t, Broken(here, e, s), e.Kind)
		e.At = shiftDay
		require.NotEmpty(t, Broken(here, e, s), e.Kind)
	}
}

// (f)(3)(i): a pin, chock or strap carries no lock. It stays in while another
// lockout counts on it; where both give back, the first to come takes it out.
func TestABlockStaysInWhileAnotherLockoutCountsOnIt(t *testing.T) {
	p := hoistProcedure()
	p.Devices = append(p.Devices, Device{ID: "chocks", Kind: Block, Label: "Chocks"}, Device{ID: "rest", Kind: Block, Label: "Yoke rest"})
	p.Steps = append(p.Steps, Step{ID: "chocks-in", Stage: Relieve, Device: "chocks"}, Step{ID: "chocks-out", Stage: Restore, Device: "chocks"}, Step{ID: "rest-out", Stage: Restore, Device: "rest"})
	other := Lockout{ID: "l2", Procedure: Procedure{Title: "Carriage", Equipment: []EquipmentID{"carriage"}, Devices: p.Devices, Steps: p.Steps}, Stage: Work,
		Done: map[StepID]Event{"chocks-in": {At: shiftDay}}}
	s, here := goodStanding(p), Lockout{ID: "l1", Procedure: p}
	out := func(step StepID) error {
		s.Others = []Lockout{other}
		return MayReport(here, Event{Kind: StepDone, Person: annOp.ID, Step: step}, s, shiftDay)
	}
	require.Equal(t, Clause("(f)(3)(i)"), clauseOf(out("chocks-out")))
	require.ErrorContains(t, out("chocks-out"), "Carriage")
	require.NoError(t, out("rest-out"), "another device")
	other.Stage = RemoveLocks
	require.Error(t, out("chocks-out"))
	other.Stage = Restore
	require.NoError(t, out("chocks-out"), "nobody is behind it any more")
	other.Stage, other.Done = Isolate, nil
	require.NoError(t, out("chocks-out"), "not set there yet")
	other.Stage, other.Done, other.Cancelled = Work, map[StepID]Event{"chocks-in": {At: shiftDay}}, true
	require.NoError(t, out("chocks-out"))
	other.Cancelled = false
	s.Others = []Lockout{other}
	late := Event{Kind: StepDone, Person: annOp.ID, Step: "chocks-out", Late: true, At: shiftDay.Add(-time.Minute)}
	require.Empty(t, Broken(here, late, s), "it wasn't set yet then")
	late.At = shiftDay
	require.Len(t, Broken(here, late, s), 1)
}

// Somebody who does a step and isn't on the job, as the electrician with the
// meter, is asked what whoever joins is: (c)(7), (c)(8), (f)(2)(i).
func TestAStepBySomebodyNotOnTheJobAsksWhatJoiningDoes(t *testing.T) {
	p := hoistProcedure()
	p.Steps = append(p.Steps, Step{ID: "measure", Stage: Verify, Proof: MeterDead}, Step{ID: "back", Stage: Restore, Proof: MeterDead})
	l := Lockout{ID: "l1", Procedure: p, Members: []Member{{Person: benOp.ID}}}
	s := goodStanding(p)
	measure := Event{Kind: StepDone, Person: annOp.ID, Step: "measure", Proof: MeterDead}
	require.NoError(t, MayReport(l, measure, s, shiftDay))
	s.Learned.Trainings = nil
	require.Equal(t, Clause("(c)(7)(i)(A)"), clauseOf(MayReport(l, measure, s, shiftDay)))
	s.Person.Firm, s.NoneEntered = "Brightwater", true
	require.Equal(t, Clause("(f)(2)(i)"), clauseOf(MayReport(l, measure, s, shiftDay)))
	require.NoError(t, MayReport(l, Event{Kind: StepDone, Person: annOp.ID, Step: "back"}, s, shiftDay), "the way out is open")
	l.Members[0].Person = annOp.ID
	require.NoError(t, MayReport(l, measure, s, shiftDay), "on the job already")
}

// What is on the page isn't more than what the gate would let begin.
func TestWhoCameLateIsToldWhatTheGateHasAgainstTheWork(t *testing.T) {
	p, hoist, plant := hoistTested()
	l := Lockout{ID: "l1", Procedure: p, Stage: Work, Members: []Member{{Person: annOp.ID, Joined: shiftDay}}, Events: []Event{{Kind: Began, Person: annOp.ID, Late: true}}}
	s := goodStanding(hoistProcedure())
	s.NoneEntered = true
	require.NoError(t, Against(l, s, shiftDay))
	s.Person.Authorized = false
	require.Equal(t, Clause("(c)(8)"), clauseOf(Against(l, s, shiftDay)))
	s.Person.Authorized = true
	s.Others, s.Plant = []Lockout{hoist}, plant
	require.Equal(t, Clause("(f)(1)(ii)"), clauseOf(Against(l, s, shiftDay)))
	l.Members[0].Left = shiftDay
	require.NoError(t, Against(l, s, shiftDay), "not on the job")
}

// 29 CFR 1910.147(c)(4)(i), (c)(7)(iii)(A): whatever time a lockout is said to have
// begun at, what is done now is held against the version in force now.
func TestNobodyGoesToWorkNowByAVersionThatChangedSince(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	l := Lockout{ID: "l1", Procedure: p, Stage: Work, Members: []Member{{Person: annOp.ID, Joined: shiftDay}}}
	second := Edition{Procedure: p.ID, Version: 2, Since: shiftDay}
	s.Learned.Editions = []Edition{{Procedure: p.ID, Version: 1}, second, {Procedure: p.ID, Version: 3, Wording: true, Since: shiftDay}, {Procedure: "other", Version: 4}}
	refused := []EventKind{Began, Joined, Reverified, WorkBegan, HandedOver, TestAsked}
	now := shiftDay.Add(time.Hour)
	for _, kind := range EventKinds() {
		err := MayReport(l, Event{Kind: kind, Person: annOp.ID, Lock: "A-1"}, s, now)
		if !slices.Contains(refused, kind) {
			require.NoError(t, err, "%s: the way back to zero and out is open", kind)
			continue
		}
		require.Equal(t, Clause("(c)(4)(i)"), clauseOf(err), kind)
		require.ErrorContains(t, err, "Version 2 of this procedure is in force since")
		require.ErrorContains(t, err, "this lockout goes by version 1")
		require.NoError(t, MayReport(l, Event{Kind: kind, Person: annOp.ID, Lock: "A-1", Late: true, At: now}, s, now), "what happened is taken")
	}
	require.NoError(t, MayReport(l, Event{Kind: HandedOver, ToEnd: true, Person: annOp.ID}, s, now))
	require.Equal(t, Clause("(c)(4)(i)"), clauseOf(MayBegin(p, s, now)))
	require.Equal(t, Clause("(c)(4)(i)"), clauseOf(Against(l, s, now)), "and the page says so")
	late := Event{Kind: WorkBegan, Person: annOp.ID, Late: true, At: now}
	require.Equal(t, Clause("(c)(4)(i)"), Broken(l, late, s)[0].Clause, "after the new version: a departure")
	late.At = shiftDay.Add(-time.Minute)
	for _, gap := range Broken(l, late, s) {
		require.NotEqual(t, Clause("(c)(4)(i)"), gap.Clause, "before it: by the version of its time")
	}
	newer, outdated := Outdated(p, s.Learned.Editions, now)
	require.True(t, outdated)
	require.Equal(t, second, newer)
	s.Learned.Editions[1].Wording = true
	require.NoError(t, MayReport(l, Event{Kind: WorkBegan, Person: annOp.ID}, s, now), "only words changed")
}
