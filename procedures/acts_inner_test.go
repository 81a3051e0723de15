package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// What each act leaves behind it: who is away, whose proof counts, whether it is
// night and whether somebody works.
func TestEachActLeavesTheLockoutAsItSays(t *testing.T) {
	at := shiftDay.Add(time.Hour)
	busy := func(stage Stage) Lockout {
		l := twoStep(stage)
		l.Working, l.Overnight = true, true
		for i := range l.Members {
			l.Members[i].Verified, l.Members[i].Away = shiftDay, true
		}
		return l
	}
	l := busy(Work)
	l.reverified(Event{Person: annOp.ID, At: at})
	require.Equal(t, []Member{{Person: annOp.ID, Joined: shiftDay, Verified: at}, {Person: benOp.ID, Joined: shiftDay, Verified: shiftDay, Away: true}}, l.Members)
	require.False(t, l.Overnight)
	require.True(t, l.Working)
	l = busy(Work)
	l.workEnded(Event{Person: annOp.ID, At: at})
	require.Equal(t, []any{false, false, InspectArea, false, true}, []any{l.Working, l.Overnight, l.Stage, l.Members[0].Away, l.Members[1].Away})
	l = busy(Work)
	l.testAsked(Event{})
	require.Equal(t, []any{TestPrepared, false, false}, []any{l.Test, l.Working, l.Overnight})
	for _, m := range l.Members {
		require.True(t, m.Verified.IsZero() && !m.Away)
	}
	l = busy(Work)
	l.Overnight = false
	l.leftJob(Event{Person: benOp.ID, At: at})
	require.Equal(t, Member{Person: benOp.ID, Joined: shiftDay, Left: at, Verified: shiftDay}, l.Members[1])
	require.Equal(t, []any{true, false, at, true}, []any{l.Overnight, l.Working, l.Locks[1].Off, l.Locks[0].Off.IsZero()}, "who is left is away")
	l = busy(Work)
	l.Overnight, l.Members[0].Away = false, false
	l.leftJob(Event{Person: benOp.ID, At: at})
	require.Equal(t, []bool{false, true}, []bool{l.Overnight, l.Working})
	l = busy(Verify)
	l.Overnight = false
	l.leftJob(Event{Person: benOp.ID, At: at})
	require.False(t, l.Overnight, "only while work may be done")
	l = busy(Work)
	l.Overnight, l.Members[0].Away, l.Members[1].Away = false, false, false
	l.leftOvernight(Event{Person: annOp.ID, At: at, Until: at.Add(time.Hour)})
	require.Equal(t, []any{false, true, shiftDay.Add(4 * time.Hour), true}, []any{l.Overnight, l.Working, l.Expected, l.Members[0].Away}, "Ben is still at work")
	l.leftOvernight(Event{Person: benOp.ID, At: at, Until: at.Add(time.Hour)})
	require.Equal(t, []any{true, false, at.Add(time.Hour), true}, []any{l.Overnight, l.Working, l.Expected, l.Members[1].Verified.IsZero()})
	l = busy(Apply)
	l.Procedure.Steps = []Step{{ID: "lock", Stage: Apply, Device: "switch"}, {ID: "off", Stage: RemoveLocks, Device: "switch"}}
	l.lockApplied(Event{Kind: LockApplied, Person: benOp.ID, Device: "switch", Lock: " B-9 ", At: at, Position: PositionOff})
	require.Empty(t, l.Done, "only the primary's is the step")
	require.True(t, l.Members[1].Verified.IsZero(), "(d)(6)")
	require.Equal(t, Lock{Number: "B-9", Owner: benOp.ID, Device: "switch", On: at, Position: PositionOff}, l.Locks[2])
	l.lockApplied(Event{Kind: LockApplied, Person: annOp.ID, Device: "switch", Lock: "A-9", At: at})
	require.Contains(t, l.Done, StepID("lock"))
	require.NotContains(t, l.Done, StepID("off"))
	for stage, done := range map[Stage]bool{ControlsOff: false, RemoveLocks: true, Restore: true} {
		l := busy(stage)
		l.Procedure.Steps = []Step{{ID: "off", Stage: RemoveLocks, Device: "switch"}}
		l.lockRemoved(Event{Person: annOp.ID, Lock: "a-1", At: at})
		require.Equal(t, at, l.Locks[0].Off)
		require.Equal(t, done, len(l.Done) == 1)
		l.lockRemoved(Event{Lock: "none"})
	}
	l = busy(Verify)
	l.joined(Event{Person: calOp.ID, Lock: "C-1", At: at, Craft: "fitter"})
	require.Equal(t, Member{Person: calOp.ID, Joined: at, Craft: "fitter"}, l.Members[2])

	end := func(stage Stage, change func(*Lockout)) Lockout {
		l := busy(stage)
		l.Procedure.Steps = []Step{{ID: "stop", Stage: ShutDown}, {ID: "lock", Stage: Apply, Device: "switch"}, {ID: "told", Stage: Notify}, {ID: "area", Stage: InspectArea}}
		for _, s := range l.Procedure.Steps {
			l.Done[s.ID] = Event{}
		}
		change(&l)
		l.handedOver(Event{Kind: HandedOver, Person: samSup.ID, ToEnd: true, At: at})
		return l
	}
	l = end(Work, func(l *Lockout) { l.Test = TestPrepared })
	require.Equal(t, []any{InspectArea, TestState(""), false, false, samSup.ID}, []any{l.Stage, l.Test, l.Working, l.Overnight, l.Primary})
	require.Equal(t, []Member{{Person: annOp.ID, Joined: shiftDay, Left: at}, {Person: samSup.ID, Joined: at}}, []Member{l.Members[0], l.Members[2]})
	require.Equal(t, RemoveLocks, end(RemoveLocks, func(*Lockout) {}).Stage)
	tested := func(l *Lockout) { l.Events = append(l.Events, Event{Kind: TestAsked}) }
	require.Equal(t, InspectArea, end(Work, tested).Stage, "locked as it was")
	bare := end(Work, func(l *Lockout) { tested(l); l.Locks, l.Test = nil, TestPrepared })
	require.Equal(t, []any{ShutDown, TestState("")}, []any{bare.Stage, bare.Test})
	require.Equal(t, map[StepID]Event{"told": {}, "area": {}}, bare.Done, "all of isolation again")
	power := end(Work, func(l *Lockout) { tested(l); l.Test = TestEnergized })
	require.Equal(t, ShutDown, power.Stage)
	require.Contains(t, power.Done, StepID("lock"), "a lock that never came off need not go on again")
	require.Equal(t, InspectArea, end(InspectArea, func(l *Lockout) { tested(l); l.Locks = nil }).Stage)
	l = busy(Work)
	require.True(t, l.locked())
	l.Procedure.Devices[0].ID = "other"
	require.False(t, l.locked())
	l.Procedure.Devices[0].Lockable = false
	require.True(t, l.locked())

	back := busy(InspectArea)
	back.Procedure.Steps = []Step{{ID: "v", Stage: Verify}, {ID: "area", Stage: InspectArea}, {ID: "last", Stage: NotifyRestored}}
	back.Done = map[StepID]Event{"v": {}, "area": {}}
	may := func(change func(*Lockout)) bool {
		l := back.clone()
		change(&l)
		return l.MayResume()
	}
	require.True(t, may(func(*Lockout) {}))
	require.False(t, may(func(l *Lockout) { l.Stage = Work }))
	require.False(t, may(func(l *Lockout) { l.Closed = true }))
	require.False(t, may(func(l *Lockout) { l.Events = append(l.Events, Event{Kind: HandedOver, ToEnd: true}) }))
	require.False(t, may(func(l *Lockout) { l.Locks[0].Off = at }), "a lock is off")
	require.False(t, may(func(l *Lockout) { l.Stage = Restore }))
	require.True(t, may(func(l *Lockout) { l.Stage = RemoveLocks }))
	require.False(t, may(func(l *Lockout) { l.Done["last"] = Event{} }), "given back")
	require.False(t, may(func(l *Lockout) { delete(l.Done, "v") }), "never at zero")
	require.True(t, may(func(l *Lockout) {
		l.Stage, l.Locks, l.Events = Restore, nil, append(l.Events, Event{Kind: TestEnded, Over: true})
	}))
	back.resumed(Event{})
	require.Equal(t, []any{Work, map[StepID]Event{"v": {}}, true}, []any{back.Stage, back.Done, back.Members[1].Verified.IsZero()})
}

// What is refused among acts of one go stands at its place; an unlocked step is
// named first, with the seconds it still waits, rounded up.
func TestRefusalsNameTheFirstAndTheWholeSecond(t *testing.T) {
	l := twoStep(ShutDown)
	l.Procedure.Steps[0].Proof, l.Procedure.Steps[1].Proof, l.Procedure.Steps[0].Device = Tick, Tick, ""
	err := refusedBy(stepRules(), ask(&l, Event{Kind: StepDone, Person: annOp.ID, Step: "two", At: shiftDay}, annOp))
	require.Equal(t, "clause one", clauseOf(err))
	require.ErrorContains(t, err, "First: First.")
	wait := func(left time.Duration) string {
		l := twoStep(Relieve)
		l.Procedure.Steps = []Step{{ID: "stop", Stage: ShutDown}, {ID: "wait", Stage: Relieve, Wait: time.Minute}}
		l.Done["stop"] = Event{At: shiftDay}
		err := refusedBy(proofRules(), ask(&l, Event{Kind: StepDone, Step: "wait", At: shiftDay.Add(time.Minute - left)}, annOp))
		if err == nil {
			return ""
		}
		return err.Error()
	}
	require.Empty(t, wait(0))
	require.Contains(t, wait(1), "Wait 1s more.")
	require.Contains(t, wait(time.Second), "Wait 1s more.")
	require.Contains(t, wait(time.Second+1), "Wait 2s more.")
	late := func(left time.Duration) string {
		l := twoStep(Relieve)
		l.Procedure.Steps = []Step{{ID: "stop", Stage: ShutDown}, {ID: "wait", Stage: Relieve, Wait: time.Minute}}
		l.Done["stop"] = Event{At: shiftDay, Late: true}
		if err := minuteOver().ask(ask(&l, Event{Kind: StepDone, Step: "wait", At: shiftDay.Add(2*time.Minute - left)}, annOp)); err != nil {
			return err.Error()
		}
		return ""
	}
	require.Empty(t, late(0))
	require.Contains(t, late(1), "Wait 1s more.")
	require.Contains(t, late(time.Second+1), "Wait 2s more.")
	on := twoStep(Work)
	on.Test = TestPrepared
	require.ErrorContains(t, refusedBy(energizedRules(), asked{l: &on}), "Lock A-1 is still on")

	verify := Lockout{Procedure: Procedure{Steps: []Step{{ID: "gauge", Stage: Verify, Proof: GaugeZero}, {ID: "try", Stage: Verify, Proof: TryStart}, {ID: "seen", Stage: Verify, Proof: Tick}, {ID: "off", Stage: Isolate, Proof: BlockIn}}}}
	e, err := verify.Reverification([]StepID{"gauge", "try", "seen"}, []StepID{"try"})
	require.NoError(t, err)
	require.Equal(t, Event{Kind: Reverified, Proof: TryStart, OffBack: true}, e)
	e, err = verify.Reverification([]StepID{"gauge", "seen"}, nil)
	require.Equal(t, []string{"try"}, fields(err))
	require.False(t, e.OffBack)
	verify.Procedure.Steps = verify.Procedure.Steps[:1]
	e, err = verify.Reverification([]StepID{"gauge"}, nil)
	require.NoError(t, err)
	require.Equal(t, Event{Kind: Reverified, Proof: GaugeZero, OffBack: true}, e)

	meter := func(kind EventKind, proof Proof, who Person) bool {
		l := twoStep(Verify)
		l.Procedure.Steps = []Step{{ID: "m", Stage: Verify, Proof: proof}}
		for _, r := range permitRules() {
			if r.name == "(d)(6) meter by a qualified person" {
				return r.ask(ask(&l, Event{Kind: kind, Step: "m", At: shiftDay}, who)) == nil
			}
		}
		return false
	}
	qualified := annOp
	qualified.QualifiedElectrical = true
	for _, kind := range []EventKind{StepDone, Rechecked, Reverified} {
		require.False(t, meter(kind, MeterDead, annOp), kind)
		require.True(t, meter(kind, MeterDead, qualified), kind)
		require.True(t, meter(kind, Tick, annOp), kind)
	}
	require.True(t, meter(LeftJob, MeterDead, annOp))

	tries := func(kind EventKind, try Try) bool {
		l := twoStep(Work)
		for _, r := range wordRules() {
			if r.name == "(e)(3)(ii) each try told" {
				return r.ask(ask(&l, Event{Kind: kind, Lock: "A-1", At: shiftDay.Add(time.Hour), Tries: []Try{try}}, samSup)) == nil
			}
		}
		return false
	}
	good := Try{At: shiftDay.Add(time.Minute), Way: "telephone", Result: "none"}
	require.True(t, tries(LockTaken, good))
	for name, change := range map[string]func(*Try){"before the lock": func(x *Try) { x.At = shiftDay.Add(-1) }, "no time": func(x *Try) { x.At = time.Time{} }, "to come": func(x *Try) { x.At = shiftDay.Add(time.Hour + 1) }, "no way": func(x *Try) { x.Way = " " }, "no result": func(x *Try) { x.Result = "" }} {
		bad := good
		change(&bad)
		require.False(t, tries(LockTaken, bad), name)
		require.True(t, tries(LeftJob, bad), name)
	}
	require.True(t, tries(LockTaken, Try{At: shiftDay, Way: "telephone", Result: "none"}), "as it went on")
	box := twoStep(Work)
	box.Locks = append(box.Locks, Lock{Number: "C-1", Owner: calOp.ID})
	box.Events = append(box.Events, Event{Kind: LockApplied, Lock: "C-1"}, Event{Kind: Joined, Device: "switch", Lock: "C-1"})
	require.False(t, box.KeysUnseen())
	box.Events = append(box.Events, Event{Kind: Joined, Lock: "c-1"})
	require.True(t, box.KeysUnseen())
	require.Empty(t, box.unseenOnBox(annOp.ID))
	box.Events = append(box.Events, Event{Kind: Joined, KeysInBox: true, Lock: "D-1"})
	require.False(t, box.KeysUnseen())
}

// Who may change what is kept, and in what state.
func TestWhoMayChangeWhatIsKept(t *testing.T) {
	lock := func(change func(item, before *LockItem), by Person, on ...Lock) error {
		item, before := goodLock(), goodLock()
		change(&item, &before)
		return mayKeepLock(item, before, by, on)
	}
	same := func(*LockItem, *LockItem) {}
	toBen := func(item, _ *LockItem) { item.Owner = benOp.ID }
	require.NoError(t, lock(same, annOp))
	require.Error(t, lock(same, benOp))
	require.NoError(t, lock(same, samSup))
	require.NoError(t, lock(func(_, before *LockItem) { *before = LockItem{} }, annOp), "a new one of one's own")
	require.Error(t, lock(func(_, before *LockItem) { *before = LockItem{} }, benOp))
	require.Error(t, lock(func(_, before *LockItem) { before.Owner = benOp.ID }, annOp), "another's made one's own")
	require.Error(t, lock(func(_, before *LockItem) { before.Retired = shiftDay }, samSup))
	require.NoError(t, lock(toBen, samSup))
	require.Error(t, lock(func(item, before *LockItem) { toBen(item, before); before.Untold = "l" }, samSup))
	require.NoError(t, lock(func(_, before *LockItem) { before.Untold = "l" }, samSup))
	require.Error(t, lock(toBen, samSup, Lock{Number: "a-1"}))
	require.NoError(t, lock(toBen, samSup, Lock{Number: "A-2"}))
	require.NoError(t, lock(same, samSup, Lock{Number: "A-1"}))
	reader := Person{ID: annOp.ID, Role: Reader}
	require.Error(t, lock(same, reader))

	removed, err := servicingTask(func(*Task) {}).Remove(samSup)
	require.NoError(t, err)
	require.True(t, removed.Removed)
	require.Error(t, second(removed.Remove(samSup)), "once")
	_, err = servicingTask(func(*Task) {}).Remove(annOp)
	require.Equal(t, Clause("(a)(2)"), clauseOf(err))
	measured := measuredAt(0, "saw-rotation", 96)
	measured.How = " stopwatch "
	plant := StarterPlant(registerAnswers("electric"))
	entered, err := measured.Enter(annOp, plant, crewOfTwo(), shiftDay)
	require.NoError(t, err)
	require.Equal(t, "stopwatch", entered.How)
	for who, ok := range map[*Person]bool{&annOp: true, &calOp: false, &samSup: true, {Role: Reader, Authorized: true}: false} {
		require.Equal(t, ok, second(measured.Enter(*who, plant, crewOfTwo(), shiftDay)) == nil, who.Name)
	}
	require.Equal(t, []string{"at"}, fields(second(measured.Enter(annOp, plant, crewOfTwo(), shiftDay.Add(-1)))))
	measured.Seconds = 0
	require.Equal(t, []string{"seconds"}, fields(second(measured.Enter(annOp, plant, crewOfTwo(), shiftDay))))
	measured.Seconds, measured.By = 1, "nobody"
	require.Equal(t, []string{"by"}, fields(second(measured.Enter(annOp, plant, crewOfTwo(), shiftDay))))
	measured.By = ""
	require.Equal(t, []string{"by"}, fields(second(measured.Enter(annOp, plant, crewOfTwo(), shiftDay))), "said once")
	tiny := plant.Measured([]CoastMeasured{{Energy: "saw-rotation", Seconds: 1e-9}})
	require.Equal(t, time.Duration(1), tiny.energy(Energy{ID: "saw-rotation"}).Coast)
	require.Len(t, tiny.ShortWaits(Procedure{Steps: []Step{{Stage: Relieve, Energy: "saw-rotation"}, {Stage: Verify, Energy: "saw-rotation"}}}), 1, "a step that waits is one that relieves")
	require.Empty(t, plant.ShortWaits(Procedure{Steps: []Step{{Stage: Relieve, Energy: "saw-rotation"}}}), "nothing is measured")

	young := Person{Role: Operator, Minor: true, Authorized: true}
	var bad plain.Problems
	require.ErrorAs(t, MinorRule{Law: LawUSFederal}.MayBe(young, noon), &bad)
	require.Contains(t, bad.Error(), "29 CFR 570.55")
	require.ErrorAs(t, MinorRule{Law: LawUK}.MayBe(young, noon), &bad)
	require.Contains(t, bad.Error(), "until a supervisor has signed")
	require.Empty(t, MinorRule{Law: LawUK}.Clause(Hoist))

	card := Procedure{Devices: []Device{{ID: "c", Number: 3}, {ID: "a", Number: 1}, {ID: "b", Number: 2}}, Steps: []Step{{Stage: Isolate, Device: "b"}, {Stage: Prepare}}}.Placard(shiftDay)
	require.Equal(t, []DeviceID{"a", "b", "c"}, []DeviceID{card.Points[0].Device.ID, card.Points[1].Device.ID, card.Points[2].Device.ID})
	require.Equal(t, PlacardStep{Number: 1, Step: Step{Stage: Prepare}}, card.Stages[0].Steps[0])
	require.Equal(t, 2, card.Stages[3].Steps[0].Point)
	require.Equal(t, 2, card.Stages[3].Steps[0].Number)

	against := func(change func(*Lockout)) error {
		l := twoStep(Work)
		change(&l)
		return Against(l, Standing{Person: Person{ID: annOp.ID, Role: Operator}, Learned: Learned{Editions: []Edition{{Version: 9, Since: shiftDay}}}}, shiftDay)
	}
	require.Error(t, against(func(*Lockout) {}))
	for name, change := range map[string]func(*Lockout){"over": func(l *Lockout) { l.Closed = true }, "before": func(l *Lockout) { l.Stage = Verify }, "test": func(l *Lockout) { l.Test = TestPrepared },
		"to its end": func(l *Lockout) { l.Events = append(l.Events, Event{Kind: HandedOver, ToEnd: true}) }, "gone": func(l *Lockout) { l.Members = l.Members[1:] }} {
		require.NoError(t, against(change), name)
	}
}

// A rig kept on purpose as the same steel is held against its own versions in force
// alone.
func TestRigIsHeldAgainstItsOwnVersions(t *testing.T) {
	link := func(state lift.State) lift.Rig {
		return lift.Rig{ID: "rig", Links: []lift.Link{{ID: "hook", State: state, Inspected: shiftDay, InspectedBy: "Jo"}}}
	}
	after := link(lift.InService)
	after.ID, after.Begun = "next", "rig"
	refused := func(change func(*RigChange)) []string {
		c := RigChange{After: after, Register: lift.Register{Versions: []lift.Version{{Rig: link(lift.OutOfService), InForce: true}}}}
		c.After.Links = append([]lift.Link{}, after.Links...)
		change(&c)
		return fields(MayPublishRig(c, annOp))
	}
	require.Equal(t, []string{"link-1-state"}, refused(func(*RigChange) {}))
	require.Equal(t, []string{"link-1-state"}, refused(func(c *RigChange) { c.Register.Versions[0].Rig = link(lift.Destroyed) }))
	require.Empty(t, refused(func(c *RigChange) { c.Register.Versions[0].Rig = link(lift.InService) }))
	require.Equal(t, []string{"link-1-inspected"}, refused(func(c *RigChange) { c.Register.Versions[0].InForce = false }), "never in force, so the day is new")
	require.Equal(t, []string{"link-1-inspected"}, refused(func(c *RigChange) { c.After.Begun = "" }))
	require.Equal(t, []string{"link-1-inspected"}, refused(func(c *RigChange) { c.After.Begun, c.Register.Versions[0].Rig.ID = "", "" }))
	require.Equal(t, []string{"link-1-inspected"}, refused(func(c *RigChange) { c.After.Begun = "other" }))
}

// The first of all counts as every other does: the first step, the site, the first
// part of a rig.
func TestTheFirstCountsAsEveryOther(t *testing.T) {
	p := Procedure{Steps: []Step{{ID: "a", Stage: Prepare, Text: "A.", Proof: Tick, Clause: "c"}, {ID: "b", Stage: Prepare, Text: "B.", Proof: Tick, Clause: "c"}}}
	changed, err := p.KeepStep(Step{ID: "a", Stage: Prepare, Text: "Anew.", Proof: Tick, Clause: "c"})
	require.NoError(t, err)
	require.Equal(t, []string{"Anew.", "B."}, []string{changed.Steps[0].Text, changed.Steps[1].Text})
	plant := StarterPlant(registerAnswers("electric"))
	named, err := plant.Changed("site", Particulars{Name: "Sill Brook"})
	require.NoError(t, err)
	require.Equal(t, "Sill Brook", named[0].Name)

	out := lift.Rig{ID: "rig", Links: []lift.Link{{ID: "hook", Name: "Hook", State: lift.OutOfService, Inspected: shiftDay}}}
	was := lift.Version{Rig: out, InForce: true}
	c := RigChange{Before: out, After: lift.Rig{ID: "rig", Why: "another", Links: []lift.Link{{ID: "hook", Name: "Hook", State: lift.OutOfService, Inspected: shiftDay, Size: 1}}}, Register: lift.Register{Versions: []lift.Version{was}, Looked: []lift.Looked{{Rig: "rig", Link: "hook", Every: lift.EveryShift, At: shiftDay}}}}
	require.NotEmpty(t, out.Links[0].Out(c.Register.Of(&out)))
	require.Equal(t, []string{"link-1-size"}, fields(MayPublishRig(c, annOp)))
	c.After.Links = nil
	require.Equal(t, []string{"links"}, fields(MayPublishRig(c, annOp)))
	qualified := annOp
	qualified.QualifiedLifting = true
	require.NoError(t, MayPublishRig(c, qualified))
	c.After.Why = ""
	require.Equal(t, []string{"why"}, fields(MayPublishRig(c, qualified)))
	task, err := minorTask(func(*Task) {}).Remove(samSup)
	require.NoError(t, err)
	require.Equal(t, []any{PersonID(""), true, true}, []any{task.By, task.Reviewed.IsZero(), task.Removed})
}

// Steps that happen to be called the same are told apart.
func TestNoTwoStepsOfADraftAreCalledTheSame(t *testing.T) {
	steps := []Step{{ID: "a"}, {ID: "a"}, {ID: "a-"}, {ID: "b"}}
	ownIDs(steps)
	require.Equal(t, []StepID{"a", "a-", "a--", "b"}, ids(steps, Step.id))
	plant := Plant{{ID: "site", Kind: Site, Name: "Mill"}, {ID: "m", PartOf: "site", Kind: Supply, Name: "M", Energies: []Energy{{ID: "y-z", Kind: Gravity}, {ID: "z", Kind: Gravity}},
		Devices: []Device{{ID: "x", Kind: Block, Label: "X", Cuts: []EnergyID{"y-z"}}, {ID: "x-y", Kind: Block, Label: "X Y", Cuts: []EnergyID{"z"}}}}}
	p, err := plant.DraftProcedure("p", "P", "m")
	require.NoError(t, err)
	seen := map[StepID]bool{}
	for _, s := range p.Steps {
		require.False(t, seen[s.ID], s.ID)
		seen[s.ID] = true
	}
}

// What a supervisor took to its end is worked under no more; and nobody goes on while
// the keys in the box weren't seen.
func TestNobodyGoesOnPastWhatStopsThem(t *testing.T) {
	for _, kind := range EventKinds() {
		l := twoStep(Work)
		work := kind == Joined || kind == WorkBegan || kind == TestAsked || kind == Resumed
		require.NoError(t, onlyToItsEnd().ask(asked{l: &l, e: Event{Kind: kind}}), kind)
		l.Events = append(l.Events, Event{Kind: HandedOver, ToEnd: true})
		require.Equal(t, work, onlyToItsEnd().ask(asked{l: &l, e: Event{Kind: kind}}) != nil, kind)
		l.Events = append(l.Events[:1], Event{Kind: Joined, Lock: "C-1"})
		l.Locks = append(l.Locks, Lock{Number: "C-1", Owner: calOp.ID})
		goes := kind == Reverified || kind == WorkBegan || kind == HandedOver
		require.Equal(t, goes, keysBefore().ask(asked{l: &l, e: Event{Kind: kind}}) != nil, kind)
		require.NoError(t, keysBefore().ask(asked{l: &l, e: Event{Kind: kind, ToEnd: true, Late: kind != HandedOver}}), kind)
		require.NoError(t, keysBefore().ask(asked{l: &l, e: Event{Kind: kind, KeysInBox: true}}), kind)
	}
	l := twoStep(Notify)
	l.Procedure.Steps = []Step{{ID: "one", Stage: Notify, Proof: Tick}}
	err := l.ApplyTogether([]Event{{Kind: StepDone, Person: annOp.ID, Step: "one", At: shiftDay.Add(1)}}, annOp)
	require.Equal(t, []string{"0.told"}, fields(err))
	require.Equal(t, l, l.asOf(shiftDay.Add(-1)), "before it began nothing is known but how it stands")
	done, err := ActionDone{Note: " new hasp "}.SeeTo(ProcedureInspection{Findings: []Finding{{Owner: annOp.ID}}}, nil, annOp, shiftDay)
	require.NoError(t, err)
	require.Equal(t, "new hasp", done.Note)
	worn := goodLock()
	worn.Condition = LockBad
	require.Len(t, worn.OffStandard(redLocks()), 1)
	worn.Retired = shiftDay
	require.Empty(t, worn.OffStandard(redLocks()), "it isn't put on at all")
}

// What is done is done once; a change is one of substance whichever of the two
// stages says how; and what is nothing is said as nothing.
func TestEachThingIsSaidOnceAndAsItIs(t *testing.T) {
	l := twoStep(Isolate)
	l.Procedure.Steps[0].Device, l.Procedure.Steps[0].Proof = "", Tick
	l.Done["one"] = Event{}
	require.ErrorContains(t, refusedBy(stepRules(), ask(&l, Event{Kind: StepDone, Person: annOp.ID, Step: "one", At: shiftDay}, annOp)), "can't be reported again")
	require.True(t, lasting(0).Empty())
	require.Equal(t, "1s", lasting(time.Second).String())
	step := func(stage Stage, text string) Procedure {
		return Procedure{Steps: []Step{{ID: "s", Stage: stage, Text: text}}}
	}
	for _, stages := range [][2]Stage{{Notify, Isolate}, {Isolate, Notify}, {Isolate, Verify}} {
		for _, d := range Compare(step(stages[0], "a"), step(stages[1], "b")) {
			require.Equal(t, OfSubstance, d.Kind, "%v %s", stages, d.Field)
		}
	}
	device := func(cuts ...EnergyID) Procedure { return Procedure{Devices: []Device{{ID: "d", Cuts: cuts}}} }
	require.Empty(t, Compare(device("a", "b"), device("b", "a")))
	require.Equal(t, []Gap{{plain.Say("never trained on this procedure"), Clause("(c)(7)(i)(A)")}}, Learned{Person: annOp.ID}.Gaps(tagProcedure(), shiftDay), "said once")
	plant := Plant{{ID: "site", Kind: Site, Name: "Mill"}, {ID: "a", PartOf: "site", Kind: Supply, Name: "A", Energies: []Energy{{ID: "e", Kind: Shaft}}},
		{ID: "b", PartOf: "site", Kind: Supply, Name: "B", Devices: []Device{{ID: "d", Kind: Block, Cuts: []EnergyID{"e"}}}}}
	require.ErrorContains(t, second(plant.Removed("a")), "cut by a device of another piece")
	require.NoError(t, second(plant.Removed("b")))
}
