package procedures_test

import (
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// The invariants of a lockout, told from its accepted events alone, with own
// bookkeeping that shares nothing with the code under test.
const (
	heldWhileLocked     = 1
	onlyOwnersUnlock    = 2
	noWorkBeforeZero    = 3
	noRestoreWithPeople = 4
	replayAgrees        = 5
	neverBare           = 6 // of 3: no device without a lock while anybody may be at work, (f)(4), or looks the area over, (e)(1)
	onlyLetIn           = 7 // of 3: nobody comes on, or puts a lock on, whom the mill hasn't let: authority, training, exchange, told of the own lock
	othersSafe          = 8 // of 1 and 4: a lock hangs in one place; no power where people of another lockout could be reached, none come where it is on
	toolsOut            = 9 // no test and no release while a tool that was counted in isn't counted out, whoever brought it
)

// reach is what must be held while a lock of that procedure is on at a mill
// whose saw feeds the carriage, written down by hand.
var reach = map[procedures.ProcedureID][]procedures.EquipmentID{
	"head-saw":       {"head-saw", "carriage", "dogs-and-knees", "hoist"},
	"carriage":       {"head-saw", "carriage", "dogs-and-knees", "hoist"},
	"dogs-and-knees": {"head-saw", "carriage", "dogs-and-knees", "hoist"},
	"hoist":          {"hoist"},
}

// witness follows a history.
type witness struct {
	p          procedures.Procedure
	primary    procedures.PersonID
	expected   time.Time
	on         map[string]procedures.Event // lock number → how it went on
	present    map[procedures.PersonID]bool
	away       map[procedures.PersonID]bool
	proven     map[procedures.EnergyID]bool // by steps
	again      map[procedures.StepID]time.Time
	fresh      map[procedures.PersonID]bool // proof that counts for the person
	protecting bool                         // from every lock on to the release, but for tests
	test       bool
	over       bool                         // the work was done with the test: looked over from outside, no lock on
	powered    bool                         // for a test, not ended
	was        map[procedures.DeviceID]bool // had a lock at some time
	tools      map[procedures.PersonID]int  // counted in and not out
	untold     map[procedures.PersonID]bool // a lock taken off, and no word of knowing it
	broken     []int
}

func watch(p procedures.Procedure, history ...procedures.Event) *witness {
	w := &witness{p: p, on: map[string]procedures.Event{}, present: map[procedures.PersonID]bool{}, away: map[procedures.PersonID]bool{},
		proven: map[procedures.EnergyID]bool{}, again: map[procedures.StepID]time.Time{}, fresh: map[procedures.PersonID]bool{},
		was: map[procedures.DeviceID]bool{}, untold: map[procedures.PersonID]bool{}, tools: map[procedures.PersonID]int{}}
	for _, e := range history {
		w.see(e)
	}
	return w
}

// broken returns which invariants a history breaks, given the equipment held at
// its end.
func broken(p procedures.Procedure, history []procedures.Event, held []procedures.EquipmentID) []int {
	w := watch(p, history...)
	w.held(held)
	return w.found()
}

func (w *witness) breaks(invariant int, when bool) {
	if when {
		w.broken = append(w.broken, invariant)
	}
}

func (w *witness) found() []int {
	slices.Sort(w.broken)
	return slices.Compact(w.broken)
}

// held takes what is held now.
func (w *witness) held(held []procedures.EquipmentID) {
	for _, id := range reach[w.p.ID] {
		w.breaks(heldWhileLocked, len(w.on) > 0 && !slices.Contains(held, id))
	}
}

// mayWork takes whether person is said to be allowed to work.
func (w *witness) mayWork(person procedures.PersonID, now time.Time, said bool) {
	w.breaks(noWorkBeforeZero, said && (w.test || !w.fresh[person] || !w.locked(person) || !w.locked(w.primary) || w.stale(now)))
}

func (w *witness) see(e procedures.Event) {
	w.count(e)
	switch e.Kind {
	case procedures.Began:
		w.primary, w.present[e.Person], w.expected = e.Person, true, e.Until
	case procedures.LockApplied:
		w.on[e.Lock], w.was[e.Device] = e, true
		w.fresh[e.Person] = false
	case procedures.Joined:
		w.was[e.Device] = true
		w.on[e.Lock], w.present[e.Person], w.fresh[e.Person] = e, true, false
	case procedures.LeftJob:
		for number, lock := range w.on {
			if lock.Person == e.Person {
				delete(w.on, number)
			}
		}
		w.gone(e.Person)
	case procedures.LockRemoved:
		w.breaks(onlyOwnersUnlock, w.on[e.Lock].Person != e.Person)
		delete(w.on, e.Lock)
	case procedures.LockTaken:
		owner := w.on[e.Lock].Person
		here := w.present[owner] && !w.away[owner] && !e.LeftMill && !e.At.After(w.expected) && !e.BeforeEnd
		by := person(e.Person)
		w.breaks(onlyOwnersUnlock, here || owner == e.Person || by.Role != procedures.Supervisor || !e.Program || e.NotHere == "" || len(e.Tries) == 0)
		delete(w.on, e.Lock)
		w.untold[owner] = true
		w.gone(owner)
		if owner == w.primary {
			w.primary, w.present[e.Person] = e.Person, true
		}
	case procedures.LaterEnd:
		w.expected = e.Until
	case procedures.ToldOfLock:
		delete(w.untold, e.Person)
	case procedures.HandedOver:
		if e.ToEnd {
			w.toEnd(e)
		}
		w.primary = e.Person
	case procedures.LeftOvernight:
		w.away[e.Person], w.fresh[e.Person] = true, false
		if !slices.ContainsFunc(slices.Collect(maps.Keys(w.present)), func(id procedures.PersonID) bool { return !w.away[id] }) {
			w.expected = e.Until
		}
	case procedures.Reverified:
		w.fresh[e.Person], w.away[e.Person] = true, false
		for _, s := range w.p.Steps {
			w.prove(s, e.At)
		}
	case procedures.Rechecked:
		for _, s := range w.p.Steps {
			if s.ID == e.Step {
				w.prove(s, e.At)
			}
		}
	case procedures.WorkBegan:
		w.breaks(noWorkBeforeZero, w.test || !w.fresh[e.Person] || !w.locked(e.Person) || !w.locked(w.primary) || w.stale(e.At))
	case procedures.TestAsked:
		clear(w.fresh)
		clear(w.away)
		w.test, w.protecting = true, false
	case procedures.Energized:
		w.breaks(noRestoreWithPeople, len(w.on) > 0 || len(w.present) > 1)
		w.powered = true
	case procedures.TestEnded:
		clear(w.proven)
		w.test, w.powered = false, false
		w.over = e.Over
		w.breaks(neverBare, e.Over && (!e.Clear || !e.OffBack))
	case procedures.Resumed:
		w.breaks(noWorkBeforeZero, !w.over && !w.locked(e.Person))
		if w.over {
			clear(w.proven)
		}
		w.over = false
		clear(w.fresh)
	case procedures.WorkEnded:
		w.protecting = false
		w.away[e.Person] = false
		clear(w.fresh)
	case procedures.Restored:
		w.breaks(noRestoreWithPeople, len(w.on) > 0 || len(w.present) > 1)
	case procedures.StepDone:
		w.step(e)
	}
	w.breaks(neverBare, w.protecting && !w.eachLocked())
}

// count keeps whose tools are in the machine.
func (w *witness) count(e procedures.Event) {
	all := e.Kind == procedures.TestAsked
	for _, s := range w.p.Steps {
		all = all || e.Kind == procedures.StepDone && s.ID == e.Step && s.Stage == procedures.InspectArea && e.Tools
	}
	if all {
		clear(w.tools)
		return
	}
	if in, counted := w.tools[e.Person]; counted || e.ToolsIn > 0 {
		w.tools[e.Person] = in + e.ToolsIn - e.ToolsOut
	}
}

func (w *witness) toolsIn() int {
	all := 0
	for _, in := range w.tools {
		all += max(0, in)
	}
	return all
}

// toEnd is the release opened for a primary who isn't here: nobody may be in the
// machine, and only a supervisor says so.
func (w *witness) toEnd(e procedures.Event) {
	by := person(e.Person)
	here := w.present[w.primary] && !w.away[w.primary] && !e.LeftMill && !e.At.After(w.expected) && (!e.BeforeEnd || len(e.Tries) == 0)
	w.breaks(onlyOwnersUnlock, here || by.Role != procedures.Supervisor || e.NotHere == "")
	w.breaks(noRestoreWithPeople, len(w.present) > 1)
	w.gone(w.primary)
	w.present[e.Person], w.protecting, w.test, w.powered = true, false, false, false
	clear(w.fresh)
}

func (w *witness) gone(person procedures.PersonID) {
	delete(w.present, person)
	delete(w.away, person)
	delete(w.fresh, person)
}

func (w *witness) step(e procedures.Event) {
	for _, s := range w.p.Steps {
		if s.ID != e.Step {
			continue
		}
		if s.Stage == procedures.Verify {
			w.proven[s.Energy] = true
			w.prove(s, e.At)
			w.fresh[w.primary] = len(w.proven) == len(w.p.Energies)
			w.protecting = w.fresh[w.primary] && w.eachLocked()
		}
		w.breaks(neverBare, s.Stage == procedures.InspectArea && !w.over && !w.stillLocked())
		w.breaks(noRestoreWithPeople, s.Stage == procedures.Restore && (len(w.on) > 0 || len(w.present) > 1))
	}
}

// prove notes when what builds up again was last shown at zero.
func (w *witness) prove(s procedures.Step, at time.Time) {
	if s.Stage == procedures.Verify && s.Recheck > 0 {
		w.again[s.ID] = at
	}
}

func (w *witness) stale(now time.Time) bool {
	for _, s := range w.p.Steps {
		if s.Recheck > 0 && now.Sub(w.again[s.ID]) > s.Recheck {
			return true
		}
	}
	return false
}

// locked tells whether person has locks on the box or on every device.
func (w *witness) locked(person procedures.PersonID) bool {
	on := map[procedures.DeviceID]bool{}
	for _, lock := range w.on {
		if lock.Person == person {
			on[lock.Device] = true
		}
	}
	for _, d := range w.p.Devices {
		if d.Lockable && !on[d.ID] && !on[""] {
			return false
		}
	}
	return len(on) > 0
}

// stillLocked tells whether every device that ever had a lock has one. A lockout
// given up half way goes to its release with some that never had.
func (w *witness) stillLocked() bool {
	on := map[procedures.DeviceID]bool{"": true}
	for _, lock := range w.on {
		on[lock.Device] = true
	}
	for d := range w.was {
		if !on[d] {
			return false
		}
	}
	return true
}

// eachLocked tells whether every device has a lock of somebody's.
func (w *witness) eachLocked() bool {
	on := map[procedures.DeviceID]bool{}
	for _, lock := range w.on {
		on[lock.Device] = true
	}
	for _, d := range w.p.Devices {
		if d.Lockable && !on[d.ID] {
			return false
		}
	}
	return true
}

// heldBy is what readiness would hold for l.
func heldBy(plant procedures.Plant, l procedures.Lockout) []procedures.EquipmentID {
	var held []procedures.EquipmentID
	for _, id := range l.HoldsEquipment() {
		held = append(held, plant.ReachedByLockout(id)...)
	}
	return held
}

// The witness itself is held against histories made wrong by hand, and replay
// refuses each of them too.
func TestTheWitnessFlagsBadHistories(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"})
	plant := procedures.StarterPlant(answers("electric", "mandrel"))
	require.Empty(t, broken(s.l.Procedure, s.l.Events, heldBy(plant, s.l)))
	for _, unheld := range reach["head-saw"] {
		held := slices.DeleteFunc(heldBy(plant, s.l), func(id procedures.EquipmentID) bool { return id == unheld })
		require.Equal(t, []int{heldWhileLocked}, broken(s.l.Procedure, s.l.Events, held))
	}
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	s.to(procedures.NotifyRestored)
	s.do(ada, s.event(s.undone()[0]))
	s.do(ada, procedures.Event{Kind: procedures.Restored})
	good := s.l.Events
	require.Empty(t, broken(s.l.Procedure, good, nil))

	for name, tc := range map[string]struct {
		invariant int
		spoil     func(e procedures.Event) (procedures.Event, bool)
	}{
		"another takes the lock off": {onlyOwnersUnlock, func(e procedures.Event) (procedures.Event, bool) {
			if e.Kind == procedures.LockRemoved {
				e.Person = "ben"
			}
			return e, true
		}},
		"a lock never went on": {noWorkBeforeZero, func(e procedures.Event) (procedures.Event, bool) { return e, e.Kind != procedures.LockApplied }},
		"an energy not proven": {noWorkBeforeZero, func(e procedures.Event) (procedures.Event, bool) { return e, e.Step != "saw-try" }},
		"a night and no new proof": {noWorkBeforeZero, func(e procedures.Event) (procedures.Event, bool) {
			if e.Step == "saw-try" {
				e.Kind = procedures.LeftOvernight
			}
			return e, true
		}},
		"a lock still on":          {noRestoreWithPeople, func(e procedures.Event) (procedures.Event, bool) { return e, e.Kind != procedures.LockRemoved }},
		"a person still signed on": {noRestoreWithPeople, func(e procedures.Event) (procedures.Event, bool) { return e, e.Kind != procedures.LeftJob }},
	} {
		var bad []procedures.Event
		for _, e := range good {
			if spoilt, kept := tc.spoil(e); kept {
				bad = append(bad, spoilt)
			}
		}
		require.Contains(t, broken(s.l.Procedure, bad, reach["head-saw"]), tc.invariant, name)
		_, err := procedures.Replay("lockout-1", s.l.Procedure, bad)
		require.Error(t, err, name)
	}
}
