package procedures

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What the gate asks of an act: who comes on, who goes on towards work, who takes a
// lock off, and where energy is given back.
func TestGateAsksWhatAnActIs(t *testing.T) {
	l := twoStep(Work)
	l.Procedure.Steps = []Step{{ID: "off", Stage: Isolate, Device: "switch"}, {ID: "work", Stage: Work}, {ID: "back", Stage: Restore, Device: "switch"}, {ID: "area", Stage: InspectArea}}
	type is struct {
		joins, goes, enters, takes, test, power, gives bool
		device                                         DeviceID
	}
	for _, tc := range []struct {
		e    Event
		who  Person
		want is
	}{
		{Event{Kind: Began}, annOp, is{joins: true, goes: true, enters: true}},
		{Event{Kind: Joined}, calOp, is{joins: true, goes: true, enters: true}},
		{Event{Kind: Reverified}, annOp, is{goes: true, enters: true}},
		{Event{Kind: WorkBegan}, annOp, is{goes: true, enters: true}},
		{Event{Kind: LockApplied}, annOp, is{goes: true}},
		{Event{Kind: Rechecked}, annOp, is{goes: true}},
		{Event{Kind: TestAsked}, annOp, is{goes: true, test: true}},
		{Event{Kind: Energized}, annOp, is{goes: true, power: true}},
		{Event{Kind: HandedOver}, benOp, is{goes: true, enters: true}},
		{Event{Kind: HandedOver, ToEnd: true}, samSup, is{}},
		{Event{Kind: LockTaken}, samSup, is{takes: true}},
		{Event{Kind: StepDone, Step: "off"}, annOp, is{goes: true, device: "switch"}},
		{Event{Kind: StepDone, Step: "off"}, calOp, is{goes: true, joins: true, device: "switch"}},
		{Event{Kind: StepDone, Step: "work"}, calOp, is{}},
		{Event{Kind: StepDone, Step: "area"}, calOp, is{}},
		{Event{Kind: StepDone, Step: "back"}, calOp, is{gives: true, device: "switch"}},
		{Event{Kind: LeftJob}, annOp, is{}}, {Event{Kind: WorkEnded}, annOp, is{}}, {Event{Kind: Restored}, annOp, is{}},
	} {
		a := askedFor(l, tc.e, Standing{Person: tc.who}, shiftDay)
		require.Equal(t, tc.want, is{a.joins, a.goes, a.enters, a.takes, a.test, a.power, a.gives, a.device}, "%s %s", tc.e.Kind, tc.e.Step)
		require.Equal(t, l.ID, a.id)
	}
	for _, kind := range []EventKind{LockApplied, Joined} {
		require.Equal(t, []string{"C-1"}, askedFor(l, Event{Kind: kind, Lock: "C-1"}, Standing{Person: annOp}, shiftDay).locks)
		require.Empty(t, askedFor(l, Event{Kind: kind, Lock: " "}, Standing{Person: annOp}, shiftDay).locks)
	}
	require.Empty(t, askedFor(l, Event{Kind: LockRemoved, Lock: "C-1"}, Standing{Person: annOp}, shiftDay).locks)
	step, known := l.Procedure.step("none")
	require.Equal(t, Step{}, step)
	require.False(t, known)
	_, known = l.Procedure.device("none")
	require.False(t, known)
}

// Who came on by an entry made afterwards is asked at the next act towards work; the
// last time they came counts, and nobody else's.
func TestWhoseLastComingWasEnteredLate(t *testing.T) {
	came := func(events ...Event) bool { l := Lockout{Events: events}; return l.cameLate(annOp.ID) }
	for _, kind := range []EventKind{Began, Joined, HandedOver} {
		require.True(t, came(Event{Kind: kind, Person: annOp.ID, Late: true}), kind)
		require.False(t, came(Event{Kind: kind, Person: annOp.ID, Late: true}, Event{Kind: Joined, Person: annOp.ID}), kind)
		require.False(t, came(Event{Kind: kind, Person: benOp.ID, Late: true}), kind)
		require.False(t, came(Event{Kind: kind, Person: annOp.ID}, Event{Kind: Joined, Person: benOp.ID, Late: true}), kind)
	}
	require.False(t, came(Event{Kind: StepDone, Person: annOp.ID, Late: true}, Event{Kind: LockApplied, Person: annOp.ID, Late: true}))
	require.False(t, came())
	l := twoStep(Work)
	l.Locks = append(l.Locks, Lock{Number: "A-2", Owner: annOp.ID}, Lock{Number: "A-3", Owner: annOp.ID}, Lock{Number: "A-4", Owner: annOp.ID, Off: shiftDay})
	l.Events = append(l.Events, Event{Kind: LockApplied, Lock: "a-1 ", Late: true}, Event{Kind: Joined, Lock: "A-2", Late: true}, Event{Kind: LockApplied, Lock: "A-3", Late: true},
		Event{Kind: LockApplied, Lock: "A-3"}, Event{Kind: LockApplied, Lock: "A-4", Late: true}, Event{Kind: LockApplied, Lock: "B-1", Late: true})
	require.Equal(t, []string{"A-1", "A-2"}, l.onLate(annOp.ID))
	require.Equal(t, []string{"B-1"}, l.onLate(benOp.ID))
	goes := Event{Kind: WorkBegan}
	require.Equal(t, []string{"B-1"}, askedFor(l, goes, Standing{Person: benOp}, shiftDay).locks)
	goes.Late = true
	require.Empty(t, askedFor(l, goes, Standing{Person: benOp}, shiftDay).locks)
	l.Events = append(l.Events, Event{Kind: Joined, Person: benOp.ID, Late: true})
	require.False(t, askedFor(l, goes, Standing{Person: benOp}, shiftDay).joins)
	goes.Late = false
	require.True(t, askedFor(l, goes, Standing{Person: benOp}, shiftDay).joins)
	require.False(t, askedFor(l, Event{Kind: LeftJob}, Standing{Person: benOp}, shiftDay).joins)
}

// Where the plant isn't known, what another lockout holds besides keeps power away
// all the same.
func TestWithoutAPlantWhatIsSharedStillHolds(t *testing.T) {
	p := hoistProcedure()
	p.Holds = []EquipmentID{"carriage"}
	s, here := goodStanding(p), Lockout{ID: "l1", Procedure: p}
	power := Event{Kind: Energized, Person: annOp.ID, At: shiftDay}
	other := Lockout{ID: "l2", Procedure: Procedure{Title: "Carriage", Equipment: []EquipmentID{"carriage"}}, Locks: []Lock{{Number: "B-1", Owner: benOp.ID, Device: "x"}}}
	s.Others = []Lockout{other}
	require.Equal(t, Clause("(f)(1)(ii)"), clauseOf(MayReport(here, power, s, shiftDay)))
	s.Others[0].Procedure.Equipment = []EquipmentID{"fan"}
	require.NoError(t, MayReport(here, power, s, shiftDay))
	powered := func(l Lockout) bool { _, on := PoweredBeside(here, []Lockout{l}, nil); return on }
	other.Test = TestEnergized
	require.True(t, powered(other))
	other.Procedure.Equipment = []EquipmentID{"fan"}
	require.False(t, powered(other))
	for _, tc := range []struct {
		events []Event
		at     time.Duration
		on     bool
	}{
		{[]Event{{Kind: Energized, At: shiftDay}}, 0, true}, {[]Event{{Kind: Energized, At: shiftDay}}, -1, false},
		{[]Event{{Kind: Energized, At: shiftDay}, {Kind: TestEnded, At: shiftDay.Add(2)}}, 1, true}, {[]Event{{Kind: Energized, At: shiftDay}, {Kind: TestEnded, At: shiftDay.Add(2)}}, 2, false},
		{[]Event{{Kind: Energized, At: shiftDay}, {Kind: HandedOver, ToEnd: true, At: shiftDay}}, 0, false}, {[]Event{{Kind: Energized, At: shiftDay}, {Kind: HandedOver, At: shiftDay}}, 0, true},
		{[]Event{{Kind: Energized, At: shiftDay}, {Kind: StepDone, At: shiftDay}}, 0, true}, {nil, 0, false},
	} {
		require.Equal(t, tc.on, Lockout{Events: tc.events}.underPower(shiftDay.Add(tc.at)), "%v", tc.events)
	}
	counts := func(change func(*Lockout, *gateAsked)) bool {
		set := Lockout{ID: "l2", Stage: Work, Done: map[StepID]Event{"in": {At: shiftDay}}, Procedure: Procedure{Steps: []Step{{ID: "in", Stage: Relieve, Device: "pin"}}}}
		a := gateAsked{id: "l1", device: "pin", now: shiftDay}
		change(&set, &a)
		a.Others = []Lockout{set}
		_, on := countsOn(a)
		return on
	}
	require.True(t, counts(func(*Lockout, *gateAsked) {}))
	for name, change := range map[string]func(*Lockout, *gateAsked){
		"another device": func(_ *Lockout, a *gateAsked) { a.device = "chock" }, "not done": func(l *Lockout, _ *gateAsked) { l.Done = nil },
		"of the work": func(l *Lockout, _ *gateAsked) { l.Procedure.Steps[0].Stage = Work }, "gives back": func(l *Lockout, _ *gateAsked) { l.Stage = Restore },
		"over": func(l *Lockout, _ *gateAsked) { l.Closed = true }, "no device": func(l *Lockout, a *gateAsked) { a.device, l.Procedure.Steps[0].Device = "", "" },
		"set since": func(_ *Lockout, a *gateAsked) { a.late, a.now = true, shiftDay.Add(-1) },
	} {
		require.False(t, counts(change), name)
	}
	require.True(t, counts(func(l *Lockout, _ *gateAsked) { l.Stage = RemoveLocks }))
	require.True(t, counts(func(_ *Lockout, a *gateAsked) { a.late = true }), "set at that very time")

	coordinators := func(change func(*Lockout)) []PersonID {
		met := Lockout{ID: "l2", Procedure: Procedure{Equipment: []EquipmentID{"saw"}}, Primary: annOp.ID}
		far := Lockout{ID: "l3", Procedure: Procedure{Equipment: []EquipmentID{"fan"}}, Primary: benOp.ID}
		change(&met)
		return Coordinators([]Lockout{far, met}, Procedure{Equipment: []EquipmentID{"saw"}})
	}
	require.Equal(t, []PersonID{annOp.ID}, coordinators(func(*Lockout) {}))
	require.Empty(t, coordinators(func(l *Lockout) { l.Closed = true }))
	require.Equal(t, []PersonID{annOp.ID, calOp.ID}, coordinators(func(l *Lockout) { l.Coordinator = calOp.ID }))
	require.Equal(t, []PersonID{annOp.ID}, coordinators(func(l *Lockout) { l.Coordinator = annOp.ID }))
}

// What is entered late: two stays of one lock, to the minute; nobody over two that
// met.
func TestWhatIsEnteredLateMeetsToTheMinute(t *testing.T) {
	require.Equal(t, shiftDay.Add(time.Minute-1), surelyBy(shiftDay))
	require.Equal(t, shiftDay.Add(1), surelyBy(shiftDay.Add(1)))
	stays := func(e Event) []Lock { return besideAsked{l: twoStep(Work), e: e}.stays() }
	at := shiftDay.Add(90 * time.Second)
	require.Equal(t, []Lock{{Number: "X", On: at, Off: at.Add(1)}}, stays(Event{Kind: LockApplied, Lock: "X", At: at}))
	require.Equal(t, []Lock{{Number: "X", On: at, Off: at.Add(1)}}, stays(Event{Kind: Joined, Lock: "X", At: at}))
	require.Empty(t, stays(Event{Kind: Joined, Lock: " ", At: at}))
	off := Lock{Number: "B-1", Owner: benOp.ID, Device: "switch", On: surelyBy(shiftDay), Off: at}
	require.Equal(t, []Lock{off}, stays(Event{Kind: LeftJob, Person: benOp.ID, At: at}))
	require.Equal(t, []Lock{off}, stays(Event{Kind: LockTaken, Lock: "b-1", Person: annOp.ID, At: at}))
	require.Equal(t, []Lock{off}, stays(Event{Kind: LockRemoved, Lock: "B-1", Person: annOp.ID, At: at}))
	require.Empty(t, stays(Event{Kind: WorkBegan, Lock: "B-1", Person: benOp.ID, At: at}))
	for name, tc := range map[string]struct {
		a, b [2]int
		meet bool
	}{"within": {[2]int{1, 9}, [2]int{3, 4}, true}, "touching": {[2]int{1, 3}, [2]int{3, 4}, false}, "touching before": {[2]int{3, 4}, [2]int{1, 3}, false}, "over": {[2]int{1, 3}, [2]int{2, 4}, true}} {
		lock := func(x [2]int) Lock {
			return Lock{On: shiftDay.Add(time.Duration(x[0])), Off: shiftDay.Add(time.Duration(x[1]))}
		}
		require.Equal(t, tc.meet, meet(lock(tc.a), lock(tc.b)), name)
	}
	gaps := func(e Event, change func(l, other *Lockout)) int {
		p := Procedure{Equipment: []EquipmentID{"saw"}}
		l, other := Lockout{Procedure: p, Begun: at, Primary: annOp.ID}, Lockout{Procedure: p, Primary: benOp.ID, Begun: at.Add(-time.Hour), Ended: at.Add(time.Hour), Locks: []Lock{{}}}
		change(&l, &other)
		return len(uncoordinated(besideAsked{l: l, e: e, ended: []Lockout{other}}))
	}
	began, same := Event{Kind: Began, At: at}, func(*Lockout, *Lockout) {}
	require.Equal(t, 1, gaps(began, same))
	require.Equal(t, 1, gaps(Event{Kind: Restored, At: at}, same))
	require.Zero(t, gaps(Event{Kind: WorkBegan, At: at}, same))
	began.Coordinator = benOp.ID
	require.Zero(t, gaps(began, same), "who began the other")
	require.Zero(t, gaps(began, func(_, other *Lockout) { other.Primary, other.Coordinator = calOp.ID, benOp.ID }))
	require.Equal(t, 1, gaps(began, func(_, other *Lockout) { other.Primary = calOp.ID }))
	began.Coordinator = ""
	require.Zero(t, gaps(began, func(l, other *Lockout) { other.Coordinator = l.Primary }))
	require.Equal(t, 1, gaps(began, func(_, other *Lockout) { other.Coordinator = calOp.ID }))
	require.Equal(t, 1, gaps(began, func(_, other *Lockout) { other.Coordinator, other.Primary = "", "" }))
	require.Zero(t, gaps(began, func(_, other *Lockout) { other.Locks = nil }), "nothing was locked")
	require.Zero(t, gaps(began, func(_, other *Lockout) { other.Procedure.Equipment = nil }))
	require.Equal(t, 1, gaps(began, func(_, other *Lockout) { other.Begun, other.Ended = at, at.Add(1) }), "began at that very time")
	require.Zero(t, gaps(began, func(_, other *Lockout) { other.Begun = at.Add(1) }), "began a moment after")
	require.Zero(t, gaps(began, func(_, other *Lockout) { other.Ended = at }))
	restored := Event{Kind: Restored, At: at.Add(time.Hour)}
	require.Zero(t, gaps(restored, func(l, other *Lockout) { other.Begun = at.Add(time.Hour); l.Coordinator = "" }))
	require.Zero(t, gaps(restored, func(l, other *Lockout) { l.Coordinator = benOp.ID }))
}

// A count is wrong where tools were said to be out and were not as many as were in.
func TestACountIsHeldAgainstWhatWasIn(t *testing.T) {
	p := Procedure{Steps: []Step{{ID: "area", Stage: InspectArea}, {ID: "other", Stage: Verify}}}
	in := Event{Kind: WorkBegan, Person: annOp.ID, ToolsIn: 1}
	wrong := func(events ...Event) []miscount { return Lockout{Procedure: p, Events: events}.miscounts() }
	area := Event{Kind: StepDone, Step: "area", Person: annOp.ID, Tools: true}
	require.Equal(t, []miscount{{StepDone, "area", 1, 0}}, wrong(in, area))
	require.Equal(t, []miscount{{TestAsked, "", 1, 2}}, wrong(in, Event{Kind: TestAsked, Tools: true, ToolsOut: 2}))
	require.Equal(t, Clause("(f)(1)(i)"), miscount{kind: TestAsked}.gap().Clause)
	require.Equal(t, Clause("(e)(1)"), miscount{kind: StepDone}.gap().Clause)
	right := area
	right.ToolsOut = 1
	require.Empty(t, wrong(in, right))
	require.Empty(t, wrong(area), "nothing was counted in")
	right.ToolsOut = 5
	require.Empty(t, wrong(right))
	silent := area
	silent.Tools = false
	require.Empty(t, wrong(in, silent), "nothing was said of tools")
	require.Empty(t, wrong(in, Event{Kind: StepDone, Step: "other", Tools: true}))
	require.Len(t, wrong(in, Event{Kind: LeftJob, Person: benOp.ID}, area), 1)
	by := func(events ...Event) []ToolsOf { return Lockout{Procedure: p, Events: events}.ToolsInBy() }
	require.Equal(t, []ToolsOf{{annOp.ID, 1}}, by(in))
	require.Empty(t, by(in, Event{Kind: LeftJob, Person: annOp.ID, ToolsOut: 1}))
	require.Empty(t, by(Event{Kind: LeftJob, Person: annOp.ID, ToolsOut: 1}, Event{Kind: WorkBegan, Person: annOp.ID}))
	require.Equal(t, []ToolsOf{{annOp.ID, 1}}, by(Event{Kind: WorkBegan, Person: annOp.ID}, Event{Kind: LeftJob, Person: annOp.ID, ToolsOut: 1}, in), "what came out before anything was in is not owed")
	require.Equal(t, []ToolsOf{{annOp.ID, 1}}, by(in, silent))
	require.Empty(t, by(in, area))
	require.Empty(t, by(in, Event{Kind: TestAsked}))
	require.True(t, Lockout{Procedure: p}.countsAllOut(area))
	l := Lockout{Procedure: p, Done: map[StepID]Event{"area": {Tools: true}}}
	require.True(t, l.toolsCounted())
	l.Done = map[StepID]Event{"area": {}, "other": {Tools: true}}
	require.False(t, l.toolsCounted())
}

// The step an act reports: that of its own, or the one that a lock put on is.
func TestALockOnReportsItsStep(t *testing.T) {
	l := twoStep(Apply)
	l.Procedure.Steps = []Step{{ID: "off", Stage: Isolate, Device: "switch"}, {ID: "lock", Stage: Apply, Device: "switch"}, {ID: "tag", Stage: Apply, Device: "box"}}
	reports := func(e Event) (StepID, bool) {
		s, done := ask(&l, e, Person{}).reportsStep()
		return s.ID, done
	}
	for _, tc := range []struct {
		e    Event
		id   StepID
		done bool
	}{
		{Event{Kind: LockApplied, Person: annOp.ID, Device: "switch"}, "lock", true}, {Event{Kind: LockApplied, Person: annOp.ID, Device: "none"}, "", false},
		{Event{Kind: LockApplied, Person: benOp.ID, Device: "switch"}, "", false}, {Event{Kind: StepDone, Step: "tag"}, "tag", true}, {Event{Kind: Rechecked, Step: "off"}, "off", true}, {Event{Kind: LeftJob, Step: "off"}, "off", false},
	} {
		id, done := reports(tc.e)
		require.Equal(t, []any{tc.id, tc.done}, []any{id, done}, "%v", tc.e)
	}
	for kind, towards := range map[EventKind]bool{LockApplied: true, Joined: true, Reverified: true, Rechecked: true, WorkBegan: true, TestAsked: true, Energized: true, HandedOver: true, LeftJob: false, WorkEnded: false, LockRemoved: false, Restored: false, Cancelled: false, LaterEnd: false} {
		require.Equal(t, towards, asked{e: Event{Kind: kind}}.towardsWork(), kind)
	}
	require.False(t, asked{e: Event{Kind: HandedOver, ToEnd: true}}.towardsWork())
	require.True(t, asked{e: Event{Kind: StepDone}, s: Step{Stage: Verify}}.towardsWork())
	require.False(t, asked{e: Event{Kind: StepDone}, s: Step{Stage: Work}}.towardsWork())
	for kind, ok := range map[EventKind]bool{LockRemoved: true, LeftJob: true, ToldOfLock: true, Joined: false, WorkEnded: false} {
		require.Equal(t, ok, asked{e: Event{Kind: kind}}.offWithTheOwn(), kind)
	}
	events := []Event{{Kind: Began, Person: annOp.ID, At: shiftDay}, {Kind: Cancelled, Person: annOp.ID, At: shiftDay.Add(2), Late: true}, {Kind: LeftJob, At: shiftDay.Add(1), Late: true}}
	before := slices.Clone(events)
	_, _ = Replay("l", l.Procedure, events)
	require.Equal(t, before, events, "what is replayed is left as it was")
	for _, e := range []Event{{Kind: LaterEnd, At: shiftDay}, {Kind: LaterEnd, Person: annOp.ID}} {
		l := twoStep(Work)
		require.ErrorContains(t, l.take(e, law{}, true), "Say who did it and when.")
	}
	none := Lockout{Stage: Work, Primary: annOp.ID}
	require.ErrorContains(t, none.take(Event{Kind: WorkEnded, Person: annOp.ID, At: shiftDay}, law{}, true), "hasn't begun")
	wait := Lockout{Procedure: Procedure{Steps: []Step{{ID: "stop", Stage: ShutDown}, {ID: "later", Stage: ShutDown}, {ID: "no", Stage: Isolate}}}, Done: map[StepID]Event{"stop": {At: shiftDay}, "later": {At: shiftDay.Add(2)}, "no": {At: shiftDay.Add(9)}}}
	require.Equal(t, shiftDay.Add(3), wait.readyAt(Step{Wait: 1}), "from the last of the stops")
	require.True(t, wait.readyAt(Step{}).IsZero())
	wait.Done["later"] = Event{At: shiftDay.Add(time.Minute), Late: true}
	require.Equal(t, shiftDay.Add(2*time.Minute+1), wait.surelyReadyAt(Step{Wait: 1}), "to the end of the minute")
	wait.Done["later"] = Event{At: shiftDay.Add(time.Minute)}
	require.Equal(t, shiftDay.Add(time.Minute+1), wait.surelyReadyAt(Step{Wait: 1}), "seen as it happened")
	wait.Done["later"] = Event{At: shiftDay.Add(time.Minute + 1), Late: true}
	require.Equal(t, shiftDay.Add(time.Minute+2), wait.surelyReadyAt(Step{Wait: 1}), "told to the second")
	put := Lockout{Expected: shiftDay.Add(12 * time.Hour), Events: []Event{{Kind: LaterEnd, Until: shiftDay.Add(12 * time.Hour)}}}
	require.True(t, put.pastShift(shiftDay))
	require.False(t, put.pastShift(shiftDay.Add(-1)))
	put.Events[0].Kind = Began
	require.False(t, put.pastShift(shiftDay))
}

// The exception: whatever lingers, and whatever isn't known, is against it.
func TestWhatLingersIsNamed(t *testing.T) {
	for _, kind := range EnergyKinds() {
		gone := kind == Electrical || kind == Shaft
		require.Equal(t, !gone, Energy{Kind: kind}.lingers(), kind)
	}
	require.True(t, Energy{}.lingers(), "a kind that isn't known")
	for _, e := range []Energy{{Kind: Shaft, Stored: true}, {Kind: Shaft, Coast: 1}, {Kind: Shaft, Recheck: 1}} {
		require.True(t, e.lingers())
	}
	part := func(n int, change func(*exceptionAsked)) bool {
		a := exceptionAsked{uses: []Lockout{{Stage: Apply}}}
		change(&a)
		return exceptionParts()[n].ask(a).Empty()
	}
	require.True(t, part(3, func(*exceptionAsked) {}), "no lock is on yet")
	require.False(t, part(3, func(a *exceptionAsked) { a.uses[0].Stage = Relieve }))
	require.False(t, part(3, func(a *exceptionAsked) { a.uses[0].Closed = true }))
	require.True(t, part(3, func(a *exceptionAsked) { a.uses[0].Closed, a.uses[0].Locks = true, []Lock{{}} }))
	require.False(t, part(3, func(a *exceptionAsked) { a.uses = nil }))
}
