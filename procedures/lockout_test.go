package procedures_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

var (
	ada  = procedures.Person{ID: "ada", Name: "Ada", Role: procedures.Operator, Authorized: true}
	ben  = procedures.Person{ID: "ben", Name: "Ben", Role: procedures.Operator, Authorized: true}
	cleo = procedures.Person{ID: "cleo", Name: "Cleo", Role: procedures.Supervisor}
	six  = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
)

// starter returns a published starter procedure.
func starter(t require.TestingT, id procedures.ProcedureID, a procedures.Answers) procedures.Procedure {
	for _, p := range procedures.StarterProcedures(procedures.StarterPlant(a), a) {
		if p.ID == id {
			published, err := p.Publish(1)
			require.NoError(t, err)
			return published
		}
	}
	require.Fail(t, "no starter", "%s", id)
	return procedures.Procedure{}
}

// shop walks a lockout, ten seconds an act.
type shop struct {
	t   require.TestingT
	l   procedures.Lockout
	now time.Time
}

func begun(t require.TestingT, id procedures.ProcedureID) *shop {
	l, _, err := procedures.Begin("lockout-1", starter(t, id, answers("electric", "mandrel")), "change teeth", ada, six.Add(4*time.Hour), six)
	require.NoError(t, err)
	return &shop{t: t, l: l, now: six}
}

func (s *shop) try(by procedures.Person, e procedures.Event) error {
	e.Person = by.ID
	e = s.held(e)
	if e.At.IsZero() {
		s.now = s.now.Add(10 * time.Second)
		e.At = s.now
	}
	return s.l.Apply(e, by)
}

// held is e with the lock, when one goes on a device, holding it as it should,
// the keys seen when it goes on the box, and nobody in when it is called off.
func (s *shop) held(e procedures.Event) procedures.Event {
	e.KeysInBox = e.KeysInBox || e.Kind == procedures.Joined && e.Device == ""
	e.Clear = e.Clear || e.Kind == procedures.WorkEnded && s.l.Stage < procedures.Work
	for _, d := range s.l.Procedure.Devices {
		if e.Position == "" && d.ID == e.Device && (e.Kind == procedures.LockApplied || e.Kind == procedures.Joined) {
			e.Position = d.Kind.Position()
		}
	}
	return e
}

func (s *shop) do(by procedures.Person, e procedures.Event) {
	require.NoError(s.t, s.try(by, e))
}

// refused asks for a refusal with that clause that leaves everything as it was.
func (s *shop) refused(by procedures.Person, e procedures.Event, clause, why string) {
	before, err := json.Marshal(s.l)
	require.NoError(s.t, err)
	err = s.try(by, e)
	var refusal *plain.Refusal
	require.ErrorAs(s.t, err, &refusal)
	require.Equal(s.t, clause, refusal.Clause, refusal.Error())
	require.Contains(s.t, refusal.Why.String(), why)
	after, err := json.Marshal(s.l)
	require.NoError(s.t, err)
	require.Equal(s.t, string(before), string(after), "a refused act changes nothing")
}

// event is what a careful person enters for a step.
func (s *shop) event(step procedures.Step) procedures.Event {
	e := procedures.Event{Kind: procedures.StepDone, Step: step.ID, Proof: step.Proof, OffBack: true, Told: "the crew, by voice", Tools: true}
	if step.Device != "" {
		for _, d := range s.l.Procedure.Devices {
			if d.ID == step.Device && d.Lockable && step.Stage == procedures.Apply {
				e = procedures.Event{Kind: procedures.LockApplied, Device: d.ID, Lock: "A-" + string(d.ID)}
			}
			if d.ID == step.Device && d.Lockable && step.Stage == procedures.RemoveLocks {
				e = procedures.Event{Kind: procedures.LockRemoved, Device: d.ID, Lock: "A-" + string(d.ID)}
			}
		}
	}
	return e
}

// to walks on until the stage is reached.
func (s *shop) to(stage procedures.Stage) *shop {
	for s.l.Stage < stage {
		if s.l.Stage == procedures.Work {
			s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
			continue
		}
		s.now = s.now.Add(s.l.WaitLeft(s.now))
		s.do(ada, s.event(s.undone()[0]))
	}
	require.Equal(s.t, stage, s.l.Stage)
	return s
}

func (s *shop) undone() []procedures.Step {
	var steps []procedures.Step
	for _, step := range s.l.Present() {
		if _, done := s.l.Done[step.ID]; !done {
			steps = append(steps, step)
		}
	}
	return steps
}

func TestOnePersonGoesThroughTheWholeSequence(t *testing.T) {
	for _, id := range []procedures.ProcedureID{"head-saw", "carriage", "dogs-and-knees", "hoist", "dust-collection", "head-rig"} {
		s := begun(t, id).to(procedures.Work)
		s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
		require.True(t, s.l.VerifiedFor("ada", s.l.Procedure.Equipment[0], s.now))
		require.NotEmpty(t, s.l.LocksOn())
		s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
		s.to(procedures.NotifyRestored)
		require.Empty(t, s.l.LocksOn())
		require.True(t, s.l.Open(), "not back in service before people are told")
		s.do(ada, s.event(s.undone()[0]))
		require.NotEmpty(t, s.l.HoldsEquipment())
		s.do(ada, procedures.Event{Kind: procedures.Restored})
		require.False(t, s.l.Open())
		require.Empty(t, s.l.HoldsEquipment())
		require.True(t, s.l.Missing().Empty())
		s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, "", "over")
	}
}

// 29 CFR 1910.147 (c)(9), (d)(1)–(6), (e)(1)–(3) and Appendix A.
func TestEveryStepNamesItsClause(t *testing.T) {
	clauses := map[procedures.Stage][]string{
		procedures.Prepare:        {"29 CFR 1910.147(d)(1)"},
		procedures.Notify:         {"29 CFR 1910.147(c)(9)"},
		procedures.ShutDown:       {"29 CFR 1910.147(d)(2)"},
		procedures.Isolate:        {"29 CFR 1910.147(d)(3)"},
		procedures.Apply:          {"29 CFR 1910.147(d)(4)(i)", "29 CFR 1910.147(c)(2)(i)"},
		procedures.Relieve:        {"29 CFR 1910.147(d)(5)"},
		procedures.Verify:         {"29 CFR 1910.147(d)(6)"},
		procedures.InspectArea:    {"29 CFR 1910.147(e)(1)"},
		procedures.ClearPeople:    {"29 CFR 1910.147(e)(2)(i)"},
		procedures.ControlsOff:    {"29 CFR 1910.147 Appendix A"},
		procedures.RemoveLocks:    {"29 CFR 1910.147(e)(3)"},
		procedures.Restore:        {"29 CFR 1910.147 Appendix A", "29 CFR 1910.147(e)(2)(i)"},
		procedures.NotifyRestored: {"29 CFR 1910.147(e)(2)(ii)"},
	}
	seen := map[string]bool{}
	everyAnswer(func(a procedures.Answers) {
		for _, p := range procedures.StarterProcedures(procedures.StarterPlant(a), a) {
			for _, s := range p.Steps {
				require.Contains(t, clauses[s.Stage], s.Clause, "%s %s", p.ID, s.ID)
				seen[s.Clause] = true
			}
		}
	})
	for _, all := range clauses {
		for _, clause := range all {
			require.True(t, seen[clause], clause)
		}
	}
}

// From every stage, an act of every later stage is refused, names the first
// step still missing and its clause, and changes nothing.
func TestNoStepOutOfOrder(t *testing.T) {
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		if stage == procedures.Work {
			continue
		}
		s := begun(t, "dogs-and-knees").to(stage)
		first := s.undone()[0]
		why := first.Text
		if stage == procedures.RemoveLocks {
			why = "taken off by its owner"
		}
		for _, step := range s.l.Procedure.Steps {
			if step.Stage > stage {
				e := s.event(step)
				if e.Kind != procedures.LockRemoved || stage >= procedures.Relieve && stage < procedures.RemoveLocks {
					s.refused(ada, e, first.Clause, why)
				}
			}
		}
		if stage < procedures.Work {
			s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, first.Clause, why)
			s.refused(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"}, first.Clause, why)
			s.refused(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: s.now.Add(time.Hour)}, first.Clause, why)
			s.refused(ada, procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true}, first.Clause, why)
		}
		s.refused(ada, procedures.Event{Kind: procedures.Restored}, first.Clause, why)
		if stage > procedures.Prepare {
			s.refused(ada, s.event(s.l.Procedure.Steps[0]), "29 CFR 1910.147(d)(1)", "past")
		}
	}
}

func TestStepsThatMustFollowOneAnotherDo(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.ShutDown)
	present := s.l.Present()
	s.refused(ada, s.event(present[1]), "29 CFR 1910.147(d)(2)", present[0].Text)
	s.to(procedures.Relieve)
	present = s.l.Present()
	s.refused(ada, s.event(present[1]), "29 CFR 1910.147(d)(5)", present[0].Text)
	s.to(procedures.Restore)
	present = s.l.Present()
	s.refused(ada, s.event(present[len(present)-1]), "29 CFR 1910.147 Appendix A", present[0].Text)
}

// 29 CFR 1910.147(c)(8), (c)(4).
func TestOnlyAuthorizedPeopleBeginAndOnlyOnAPublishedProcedure(t *testing.T) {
	p := starter(t, "head-saw", answers("electric", "mandrel"))
	begin := func(p procedures.Procedure, task string, by procedures.Person, expected time.Time) error {
		_, _, err := procedures.Begin("lockout-1", p, task, by, expected, six)
		return err
	}
	later := six.Add(time.Hour)
	require.NoError(t, begin(p, "teeth", ada, later))
	gone, reader := ada, ada
	gone.Left = true
	reader.Role = procedures.Reader
	for _, by := range []procedures.Person{cleo, gone, reader, {}} {
		require.ErrorContains(t, begin(p, "teeth", by, later), "(c)(8)")
	}
	drafted := p
	drafted.Version = 0
	require.ErrorContains(t, begin(drafted, "teeth", ada, later), "(c)(4)(i)")
	gap := p
	gap.Enforcement = ""
	require.ErrorContains(t, begin(gap, "teeth", ada, later), "enforcement")
	err := begin(p, " ", ada, six)
	require.ErrorContains(t, err, "task: ")
	require.ErrorContains(t, err, "expected: ")
}

func TestNobodyReportsForAnother(t *testing.T) {
	s := begun(t, "head-saw")
	e := s.event(s.undone()[0])
	e.Person, e.At = "ada", six.Add(time.Minute)
	require.ErrorContains(t, s.l.Apply(e, ben), "Sign in as yourself")
	require.ErrorContains(t, s.l.Apply(procedures.Event{Kind: procedures.StepDone, At: e.At}, procedures.Person{}), "Sign in as yourself")
	s.refused(ben, s.event(s.undone()[0]), "29 CFR 1910.147(f)(3)(ii)(A)", "began the lockout")
	s.refused(cleo, s.event(s.undone()[0]), "29 CFR 1910.147(c)(8)", "authorized")
	lapsed := ada
	lapsed.Authorized = false
	s.refused(lapsed, s.event(s.undone()[0]), "29 CFR 1910.147(c)(8)", "authorized")
	s.to(procedures.Work)
	s.do(lapsed, procedures.Event{Kind: procedures.WorkEnded})
	s.do(lapsed, s.event(s.undone()[0])) // a lapsed card keeps nobody's lock on
}

func TestAffectedPeopleAreToldBeforeAndAfter(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Notify)
	untold := s.event(s.undone()[0])
	untold.Told = "  "
	s.refused(ada, untold, "29 CFR 1910.147(c)(9)", "whom you told")
	s.to(procedures.NotifyRestored)
	untold = s.event(s.undone()[0])
	untold.Told = ""
	s.refused(ada, untold, "29 CFR 1910.147(e)(2)(ii)", "whom you told")
}

// 29 CFR 1910.147(c)(5)(ii), (d)(4)(i).
func TestEachDeviceTakesItsOwnNumberedLock(t *testing.T) {
	s := begun(t, "dogs-and-knees").to(procedures.Apply)
	present := s.l.Present()
	require.GreaterOrEqual(t, len(present), 2)
	lock := func(device procedures.DeviceID, number string) procedures.Event {
		return procedures.Event{Kind: procedures.LockApplied, Device: device, Lock: number}
	}
	s.refused(ada, procedures.Event{Kind: procedures.StepDone, Step: present[0].ID, Proof: procedures.Tick}, present[0].Clause, "lock's number")
	s.refused(ada, lock(present[0].Device, " "), "29 CFR 1910.147(c)(5)(ii)", "number")
	s.refused(ada, lock("elsewhere", "7"), "29 CFR 1910.147(d)(4)(i)", "which")
	s.refused(ada, lock("saw-pin", "7"), "29 CFR 1910.147(c)(2)(i)", "takes no lock")
	s.refused(ben, lock(present[0].Device, "7"), "29 CFR 1910.147(f)(3)(ii)(D)", "Join")
	s.do(ada, lock(present[0].Device, "a7"))
	s.refused(ada, lock(present[1].Device, " A7 "), "29 CFR 1910.147(c)(5)(ii)", "already on")
	s.refused(ada, lock(present[0].Device, "8"), "29 CFR 1910.147(d)(4)(i)", "already on")
	s.refused(ada, procedures.Event{Kind: procedures.Cancelled}, "29 CFR 1910.147(e)", "lock has been on")
}

// 29 CFR 1910.147(d)(5)(i): the saw isn't still before its coast time is over.
func TestTheCoastWaitCountsFromTheLastStepOfShuttingDown(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Relieve)
	var stopped time.Time
	for _, step := range s.l.Procedure.Steps {
		if step.Stage == procedures.ShutDown {
			stopped = s.l.Done[step.ID].At
		}
	}
	e := s.event(s.undone()[0])
	e.At = stopped.Add(procedures.SawWaitUnmeasured - time.Second)
	require.Equal(t, time.Second, s.l.WaitLeft(e.At))
	s.refused(ada, e, "29 CFR 1910.147(d)(5)", "Wait 1s more")
	e.At = e.At.Add(time.Second)
	bare := e
	bare.Proof = procedures.Tick
	s.refused(ada, bare, "29 CFR 1910.147(d)(5)", "mark")
	s.do(ada, e)
	require.Zero(t, s.l.WaitLeft(e.At))
}

// 29 CFR 1910.147(d)(6), Appendix A: the control goes back to off.
func TestTryingTheStartCountsOnlyWithTheControlBackAtOff(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Verify)
	for _, step := range s.l.Present() {
		e := s.event(step)
		e.Proof = ""
		if step.Proof != procedures.Tick {
			s.refused(ada, e, "29 CFR 1910.147(d)(6)", "needs its proof")
		}
		if step.Proof == procedures.TryStart {
			e = s.event(step)
			e.OffBack = false
			s.refused(ada, e, "29 CFR 1910.147 Appendix A", "back to off")
		}
	}
}

func TestAMeterIsReadOnlyByAQualifiedPerson(t *testing.T) {
	p := starter(t, "head-saw", answers("electric", "mandrel"))
	for i := range p.Steps {
		if p.Steps[i].ID == "saw-try" {
			p.Steps[i].Proof = procedures.MeterDead
		}
	}
	l, _, err := procedures.Begin("lockout-1", p, "wiring", ada, six.Add(time.Hour), six)
	require.NoError(t, err)
	s := &shop{t: t, l: l, now: six}
	s.to(procedures.Verify)
	meter := s.event(s.undone()[0])
	s.refused(ada, meter, "29 CFR 1910.147(d)(6)", "qualified")
	electrician := ben
	electrician.QualifiedElectrical = true
	s.do(electrician, meter)
	s.to(procedures.Work)
	s.refused(ada, procedures.Event{Kind: procedures.Reverified, Proof: procedures.MeterDead, OffBack: true}, "29 CFR 1910.147(d)(6)", "qualified")
}

// 29 CFR 1910.147(e)(1), (e)(2)(i), (e)(3).
func TestReleaseCountsToolsAndPeopleAndOnlyOwnersTakeLocksOff(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Work)
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"})
	s.refused(ben, procedures.Event{Kind: procedures.WorkEnded}, "29 CFR 1910.147(f)(3)(ii)(A)", "began the lockout")
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	for range len(s.undone()) - 1 {
		e := s.event(s.undone()[0])
		e.Tools = false
		s.do(ada, e)
	}
	uncounted := s.event(s.undone()[0])
	uncounted.Tools = false
	s.refused(ada, uncounted, "29 CFR 1910.147(e)(1)", "Count the tools")
	s.to(procedures.ClearPeople)
	s.refused(ada, s.event(s.undone()[0]), "29 CFR 1910.147(e)(2)(i)", "signed on")
	s.refused(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: "B-1"}, "29 CFR 1910.147(e)(3)", "isn't your lock")
	s.refused(ben, procedures.Event{Kind: procedures.LockRemoved, Lock: "B-1"}, "29 CFR 1910.147(f)(3)(ii)(D)", "signing off")
	s.refused(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: "none"}, "29 CFR 1910.147(e)(3)", "No such lock")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	s.to(procedures.RemoveLocks)
	require.Empty(t, s.l.SignedOn()[1:])
	s.refused(ben, s.event(s.undone()[0]), "29 CFR 1910.147(e)(3)", "isn't your lock")
	s.to(procedures.Restore)
}

// 29 CFR 1910.147(f)(3)(ii)(D): each person's own lock, own proof.
func TestAJoinerIsProtectedOnlyWithOwnLocksAndOwnProof(t *testing.T) {
	proof := procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true}
	s := begun(t, "dogs-and-knees").to(procedures.Work)
	s.refused(ben, procedures.Event{Kind: procedures.Joined}, "29 CFR 1910.147(c)(5)(ii)", "number")
	s.refused(ben, proof, "29 CFR 1910.147(f)(3)(ii)(D)", "Join")
	s.refused(cleo, procedures.Event{Kind: procedures.Joined, Lock: "C-1"}, "29 CFR 1910.147(c)(8)", "authorized")
	s.do(ben, procedures.Event{Kind: procedures.Joined, Device: "saw-disconnect", Lock: "B-1"})
	s.refused(ben, proof, "29 CFR 1910.147(f)(3)(ii)(D)", "own lock on every device")
	s.do(ben, procedures.Event{Kind: procedures.LockApplied, Device: "dogs-valve", Lock: "B-2"})
	require.False(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now), "locks on, not yet proven by Ben")
	s.refused(ben, procedures.Event{Kind: procedures.Reverified}, "29 CFR 1910.147(d)(6)", "how zero")
	s.refused(ben, procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart}, "29 CFR 1910.147 Appendix A", "back to off")
	s.do(ben, proof)
	require.True(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
	require.False(t, s.l.VerifiedFor("ben", "hoist", s.now), "another machine's lock")
	require.False(t, s.l.VerifiedFor("cleo", "dogs-and-knees", s.now))
	s.refused(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-3"}, "29 CFR 1910.147(f)(3)(ii)(D)", "already")
	s.refused(ada, procedures.Event{Kind: procedures.LeftJob}, "29 CFR 1910.147(f)(3)(ii)(A)", "answer for it")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	require.False(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-4"})
	s.do(ben, proof)
	s.do(ben, procedures.Event{Kind: procedures.LockApplied, Device: "saw-disconnect", Lock: "B-5"})
	require.False(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now), "the proof is older than the last lock")
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	for _, lock := range s.l.LocksOn() {
		require.Equal(t, procedures.PersonID("ada"), lock.Owner)
	}
}

func TestLockedOvernightIsProvenAgainInTheMorning(t *testing.T) {
	overnight := func(t *testing.T) *shop {
		s := begun(t, "head-rig").to(procedures.Work)
		s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
		s.refused(ada, procedures.Event{Kind: procedures.LeftOvernight}, "", "until when")
		s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
		require.True(t, s.l.Overnight)
		require.NotEmpty(t, s.l.LocksOn())
		s.now = six.Add(24 * time.Hour)
		require.False(t, s.l.VerifiedFor("ada", "head-saw", s.now))
		s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, "29 CFR 1910.147(d)(6)", "zero again")
		require.Contains(t, s.l.Missing().String(), "after the night")
		return s
	}
	proof := procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true}
	t.Run("by the owner", func(t *testing.T) {
		s := overnight(t)
		s.do(ada, proof)
		require.True(t, s.l.VerifiedFor("ada", "head-saw", s.now))
		s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
		s.to(procedures.NotifyRestored)
	})
	t.Run("by another with a lock of their own", func(t *testing.T) {
		s := overnight(t)
		s.refused(ben, proof, "29 CFR 1910.147(f)(3)(ii)(D)", "own lock")
		s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"})
		require.False(t, s.l.VerifiedFor("ben", "head-saw", s.now))
		s.do(ben, proof)
		require.True(t, s.l.VerifiedFor("ben", "head-saw", s.now))
		require.False(t, s.l.VerifiedFor("ada", "head-saw", s.now), "Ben's proof isn't Ada's")
		require.True(t, s.l.Members[0].Away, "Ada's lock is still left on purpose")
		s.do(ben, procedures.Event{Kind: procedures.LeftOvernight, Until: s.now.Add(time.Hour)})
		require.False(t, s.l.VerifiedFor("ben", "head-saw", s.now))
	})
	t.Run("not while somebody works on", func(t *testing.T) {
		s := begun(t, "head-rig").to(procedures.Work)
		s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"})
		s.refused(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)}, "29 CFR 1910.147(f)(4)", "Somebody else")
	})
	t.Run("a night nobody reported", func(t *testing.T) {
		s := begun(t, "head-rig").to(procedures.Work)
		require.True(t, s.l.VerifiedFor("ada", "head-saw", s.now.Add(procedures.VerificationLasts)))
		require.False(t, s.l.VerifiedFor("ada", "head-saw", s.now.Add(procedures.VerificationLasts+time.Second)))
		require.False(t, s.l.VerifiedFor("ada", "head-saw", s.now.Add(-time.Hour)), "not before it was proven")
	})
}

func TestCancellingIsOnlyForBeforeTheFirstLock(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Apply)
	s.refused(ben, procedures.Event{Kind: procedures.Cancelled}, "29 CFR 1910.147(d)", "answers for it")
	s.do(cleo, procedures.Event{Kind: procedures.Cancelled})
	require.False(t, s.l.Open())
	require.Empty(t, s.l.HoldsEquipment())
}

func TestALockoutGivenUpHalfWayGoesThroughTheRelease(t *testing.T) {
	s := begun(t, "dogs-and-knees").to(procedures.Apply)
	s.refused(ada, procedures.Event{Kind: procedures.WorkEnded}, "29 CFR 1910.147(d)", "No lock is on")
	s.do(ada, s.event(s.undone()[0]))
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	require.Equal(t, procedures.InspectArea, s.l.Stage)
	s.to(procedures.RemoveLocks)
	require.Len(t, s.l.LocksOn(), 1)
	s.do(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: s.l.LocksOn()[0].Number})
	require.Equal(t, procedures.Restore, s.l.Stage)
}

func TestEquipmentIsHeldFromTheFirstEventToTheLast(t *testing.T) {
	s := begun(t, "head-saw")
	require.Equal(t, []procedures.EquipmentID{"head-saw", "carriage"}, s.l.HoldsEquipment())
}

func TestAStateWithoutLocksVerifiesNobody(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Work)
	require.True(t, s.l.VerifiedFor("ada", "head-saw", s.now))
	s.l.Locks = nil
	require.False(t, s.l.VerifiedFor("ada", "head-saw", s.now))
}

func TestACopyKeepsItsState(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Work)
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"})
	kept, was := s.l, asJSON(t, s.l)
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	s.to(procedures.NotifyRestored)
	require.Equal(t, was, asJSON(t, kept))
}
