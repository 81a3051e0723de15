package procedures_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

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
)

// reach is what must be held while a lock of that procedure is on at a mill
// whose saw feeds the carriage, written down by hand.
var reach = map[procedures.ProcedureID][]procedures.EquipmentID{
	"head-saw": {"head-saw", "carriage", "dogs-and-knees", "hoist"},
	"carriage": {"head-saw", "carriage", "dogs-and-knees", "hoist"},
}

// witness follows a history.
type witness struct {
	p       procedures.Procedure
	primary procedures.PersonID
	on      map[string]procedures.Event // lock number → how it went on
	present map[procedures.PersonID]bool
	proven  map[procedures.EnergyID]bool // by steps
	fresh   map[procedures.PersonID]bool // proof that counts for the person
	broken  []int
}

// broken returns which of invariants 1 to 4 a history breaks, given the
// equipment held at its end.
func broken(p procedures.Procedure, history []procedures.Event, held []procedures.EquipmentID) []int {
	w := witness{p: p, on: map[string]procedures.Event{}, present: map[procedures.PersonID]bool{},
		proven: map[procedures.EnergyID]bool{}, fresh: map[procedures.PersonID]bool{}}
	for _, e := range history {
		w.see(e)
	}
	if len(w.on) > 0 {
		for _, id := range reach[p.ID] {
			if !slices.Contains(held, id) {
				w.broken = append(w.broken, heldWhileLocked)
			}
		}
	}
	slices.Sort(w.broken)
	return slices.Compact(w.broken)
}

func (w *witness) see(e procedures.Event) {
	switch e.Kind {
	case procedures.Began:
		w.primary, w.present[e.Person] = e.Person, true
	case procedures.LockApplied:
		w.on[e.Lock] = e
		w.fresh[e.Person] = false
	case procedures.Joined:
		w.on[e.Lock], w.present[e.Person], w.fresh[e.Person] = e, true, false
	case procedures.LeftJob:
		for number, lock := range w.on {
			if lock.Person == e.Person {
				delete(w.on, number)
			}
		}
		delete(w.present, e.Person)
	case procedures.LockRemoved:
		if w.on[e.Lock].Person != e.Person {
			w.broken = append(w.broken, onlyOwnersUnlock)
		}
		delete(w.on, e.Lock)
	case procedures.LeftOvernight:
		clear(w.fresh)
	case procedures.Reverified:
		w.fresh[e.Person] = true
	case procedures.WorkBegan:
		if !w.fresh[e.Person] || !w.locked(e.Person) || !w.locked(w.primary) {
			w.broken = append(w.broken, noWorkBeforeZero)
		}
	case procedures.Restored:
		if len(w.on) > 0 || len(w.present) > 1 {
			w.broken = append(w.broken, noRestoreWithPeople)
		}
	case procedures.StepDone:
		w.step(e)
	}
}

func (w *witness) step(e procedures.Event) {
	for _, s := range w.p.Steps {
		if s.ID != e.Step {
			continue
		}
		if s.Stage == procedures.Verify {
			w.proven[s.Energy] = true
			w.fresh[w.primary] = len(w.proven) == len(w.p.Energies)
		}
		if s.Stage == procedures.Restore && (len(w.on) > 0 || len(w.present) > 1) {
			w.broken = append(w.broken, noRestoreWithPeople)
		}
	}
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

// heldBy is what readiness would hold for l.
func heldBy(plant procedures.Plant, l procedures.Lockout) []procedures.EquipmentID {
	var held []procedures.EquipmentID
	for _, id := range l.HoldsEquipment() {
		held = append(held, plant.ReachedByLockout(id)...)
	}
	return held
}

func asJSON(t require.TestingT, l procedures.Lockout) string {
	b, err := json.Marshal(l)
	require.NoError(t, err)
	return string(b)
}

// Two people on two linked machines, each able to join the other, careful most
// of the time.
func TestNoSequenceOfActsBreaksAnInvariant(t *testing.T) {
	plant := procedures.StarterPlant(answers("electric", "mandrel"))
	saw, carriage := starter(t, "head-saw", answers("electric", "mandrel")), starter(t, "carriage", answers("electric", "mandrel"))
	var runs, worked, closed, late int
	accepted := map[procedures.EventKind]int{}
	rapid.Check(t, func(t *rapid.T) {
		runs++
		shops := []*shop{{t: t, now: six}, {t: t, now: six}}
		entered := make([][]procedures.Event, 2)
		for i, begin := range []struct {
			p  procedures.Procedure
			by procedures.Person
		}{{saw, ada}, {carriage, ben}} {
			l, e, err := procedures.Begin("lockout-1", begin.p, "teeth", begin.by, six.Add(time.Hour), six)
			require.NoError(t, err)
			shops[i].l, entered[i] = l, []procedures.Event{e}
		}
		reached, ended := false, false
		for range rapid.IntRange(80, 240).Draw(t, "acts") {
			i := rapid.IntRange(0, 1).Draw(t, "machine")
			s := shops[i]
			s.now = s.now.Add(time.Duration(rapid.IntRange(0, 120).Draw(t, "seconds")) * time.Second)
			by, e := anyAct(t, s, []procedures.Person{ada, ben}[i])
			was := len(s.l.Events)
			if err := s.try(by, e); err != nil {
				require.Len(t, s.l.Events, was)
				continue
			}
			e.Person = by.ID
			if e.At.IsZero() {
				e.At = s.now
			} else {
				late++
			}
			entered[i] = append(entered[i], e)
			accepted[e.Kind]++
			reached = reached || e.Kind == procedures.WorkBegan
			ended = ended || e.Kind == procedures.Restored
			require.Empty(t, broken(s.l.Procedure, s.l.Events, heldBy(plant, s.l)))
		}
		for i, s := range shops {
			again, err := procedures.Replay(s.l.ID, s.l.Procedure, entered[i])
			require.NoError(t, err, "invariant %d", replayAgrees)
			require.Equal(t, asJSON(t, s.l), asJSON(t, again), "invariant %d", replayAgrees)
		}
		if reached {
			worked++
		}
		if ended {
			closed++
		}
	})
	t.Logf("%d runs, %d reached work, %d were closed, %d late entries, accepted %v", runs, worked, closed, late, accepted)
	require.GreaterOrEqual(t, 5*worked, runs, "at least a fifth reach work")
	for _, kind := range []procedures.EventKind{procedures.StepDone, procedures.LockApplied, procedures.WorkBegan, procedures.Joined, procedures.LeftJob,
		procedures.LeftOvernight, procedures.Reverified, procedures.WorkEnded, procedures.LockRemoved, procedures.Restored, procedures.Cancelled} {
		require.NotZero(t, accepted[kind], "%s was never accepted", kind)
	}
}

// anyAct draws what somebody tries: nearly always the next step, else anything.
func anyAct(t *rapid.T, s *shop, primary procedures.Person) (procedures.Person, procedures.Event) {
	present := s.undone()
	if rapid.IntRange(0, 9).Draw(t, "careful") < 8 && len(present) > 0 {
		s.now = s.now.Add(s.l.WaitLeft(s.now))
		return primary, s.event(present[0])
	}
	by := rapid.SampledFrom([]procedures.Person{ada, ben}).Draw(t, "by")
	e := procedures.Event{
		Kind: rapid.SampledFrom([]procedures.EventKind{procedures.StepDone, procedures.LockApplied, procedures.WorkBegan, procedures.Joined, procedures.LeftJob,
			procedures.LeftOvernight, procedures.Reverified, procedures.WorkEnded, procedures.LockRemoved, procedures.Restored}).Draw(t, "kind"),
		Proof: procedures.TryStart, OffBack: true, Told: "crew", Tools: true, Until: s.now.Add(time.Hour),
		Lock:   rapid.SampledFrom([]string{"B-1", "B-2", "A-saw-disconnect"}).Draw(t, "lock"),
		Device: rapid.SampledFrom([]procedures.DeviceID{"", "saw-disconnect", "saw-pin"}).Draw(t, "device"),
		Step:   rapid.SampledFrom(s.l.Procedure.Steps).Draw(t, "step").ID,
	}
	if e.Kind == procedures.LockRemoved {
		e.Device = ""
	}
	switch rapid.IntRange(0, 11).Draw(t, "odd") {
	case 0:
		e.Late, e.At = true, s.now.Add(-time.Duration(rapid.IntRange(1, 600).Draw(t, "ago"))*time.Second)
	case 1:
		e.Kind = procedures.Cancelled
	}
	return by, e
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
