package checklists_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// What may not run while somebody is locked out by a procedure, at a mill whose
// saw feeds the carriage and whose hoist lands on it; by hand.
var reachedBy = map[procedures.ProcedureID][]procedures.EquipmentID{
	"head-saw":        {"head-saw", "carriage", "dogs-and-knees", "hoist"},
	"carriage":        {"head-saw", "carriage", "dogs-and-knees", "hoist"},
	"dogs-and-knees":  {"head-saw", "carriage", "dogs-and-knees", "hoist"},
	"hoist":           {"hoist"},
	"dust-collection": {"dust-collection"},
}

// crewOfLocked are two who lock out and a supervisor.
var crewOfLocked = []procedures.Person{
	{ID: "ann", Name: "Ann", Role: procedures.Operator, Authorized: true},
	{ID: "ben", Name: "Ben", Role: procedures.Operator, Authorized: true},
	{ID: "sue", Name: "Sue", Role: procedures.Supervisor, Authorized: true},
}

// lockedMill is a mill where nothing but lockouts holds anything, and those who
// carry them on.
type lockedMill struct {
	t    *rapid.T
	f    checklists.Facts
	now  time.Time
	seen map[string]int
}

// evenly draws 0 to n-1, each about as likely; rapid's ranges lean to their ends.
func (m *lockedMill) evenly(n int) int {
	drawn := 0
	for range 7 {
		drawn *= 2
		if rapid.Bool().Draw(m.t, "bit") {
			drawn++
		}
	}
	return drawn * n / 128
}

// begin begins a lockout by a starter procedure.
func (m *lockedMill) begin(id procedures.ProcedureID, by procedures.Person) {
	answers := aSetUp().Answers()
	for _, p := range procedures.StarterProcedures(m.f.Plant, answers) {
		if p.ID != id {
			continue
		}
		p, err := p.Publish(1)
		require.NoError(m.t, err)
		l, _, err := procedures.Beginning{ID: procedures.LockoutID("l-" + id), Procedure: p, Task: "teeth", By: by, Expected: m.now.Add(time.Hour), At: m.now}.Begin(nil)
		require.NoError(m.t, err)
		m.f.Lockouts = append(m.f.Lockouts, l)
	}
}

// next is what the crew does at l: mostly the next step, now and then one of the
// acts around the work.
func (m *lockedMill) next(l procedures.Lockout) procedures.Event {
	primary := func(e procedures.Event) procedures.Event { e.Person = l.Primary; return e }
	on := l.LocksOn()
	switch draw := m.evenly(20); {
	case l.Test == procedures.TestPrepared && len(on) > 0 && draw < 12:
		return procedures.Event{Kind: procedures.LockRemoved, Person: on[0].Owner, Lock: on[0].Number}
	case l.Test == procedures.TestPrepared && draw < 15:
		return primary(procedures.Event{Kind: procedures.Energized, Where: "stand", Note: "saw turns", Clear: true})
	case l.Test != "":
		return primary(procedures.Event{Kind: procedures.TestEnded, OffBack: true})
	case len(l.Locks) > 0 && draw == 19 && m.evenly(16) == 0:
		return procedures.Event{Kind: procedures.HandedOver, Person: "sue", ToEnd: true, Told: "as she left it", NotHere: "looked"}
	case l.Stage == procedures.Work && draw < 3:
		return procedures.Event{Kind: procedures.Joined, Person: "ben", Lock: "B-" + string(l.Procedure.ID), KeysInBox: true}
	case l.Stage == procedures.Work && draw < 5:
		return primary(procedures.Event{Kind: procedures.LeftOvernight, Until: m.now.Add(2 * time.Hour)})
	case l.Stage == procedures.Work && draw < 7:
		return primary(procedures.Event{Kind: procedures.TestAsked, Tools: true})
	case l.Stage == procedures.Work && draw < 9:
		return procedures.Event{Kind: procedures.Reverified, Person: "ben", Proof: procedures.TryStart, OffBack: true}
	case l.Stage == procedures.Work && draw < 10:
		return primary(procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true})
	case len(on) > 0 && draw < 12 && (l.Stage != procedures.Work || m.evenly(3) == 0):
		lock := on[len(on)-1]
		return procedures.Event{Kind: procedures.LockTaken, Person: "sue", Lock: lock.Number, Program: true, NotHere: "looked",
			Tries: []procedures.Try{{At: m.now, Way: "telephone", Result: "none"}}}
	case l.Stage >= procedures.InspectArea && draw < 14:
		return procedures.Event{Kind: procedures.LeftJob, Person: "ben"}
	case l.Stage == procedures.Work:
		return primary(procedures.Event{Kind: procedures.WorkEnded})
	case l.Stage == procedures.RemoveLocks && len(on) > 0:
		return procedures.Event{Kind: procedures.LockRemoved, Person: on[0].Owner, Lock: on[0].Number}
	}
	for _, s := range l.Present() {
		if _, done := l.Done[s.ID]; done {
			continue
		}
		e := procedures.Event{Kind: procedures.StepDone, Step: s.ID, Proof: s.Proof, OffBack: true, Told: "the crew", Tools: true}
		for _, d := range l.Procedure.Devices {
			if d.ID == s.Device && d.Lockable && s.Stage == procedures.Apply {
				e = procedures.Event{Kind: procedures.LockApplied, Device: d.ID, Lock: "A-" + string(d.ID), Position: d.Kind.Position()}
			}
		}
		return primary(e)
	}
	return primary(procedures.Event{Kind: procedures.Restored})
}

// act does it, late at times.
func (m *lockedMill) act(l *procedures.Lockout) {
	m.now = m.now.Add(max(10*time.Second, l.WaitLeft(m.now)))
	e := m.next(*l)
	if e.Kind == procedures.LockTaken || e.ToEnd {
		m.now = slices.MaxFunc([]time.Time{m.now, l.Expected.Add(time.Second)}, time.Time.Compare)
	}
	e.At = m.now
	if e.Late = m.evenly(10) == 0; e.Late {
		e.At = m.now.Add(-5 * time.Second)
	}
	by := crewOfLocked[slices.IndexFunc(crewOfLocked, func(p procedures.Person) bool { return p.ID == e.Person })]
	if l.Apply(e, by) != nil {
		return
	}
	m.seen[string(e.Kind)]++
	if len(l.LocksOn()) > 0 {
		if e.Late {
			m.seen["late, locks on"]++
		}
		if e.Kind == procedures.LockTaken {
			m.seen["one lock of several taken off"]++
		}
		if l.Test != "" {
			m.seen["a test with locks on"]++
		}
		if l.Overnight {
			m.seen["night"]++
		}
	}
}

// held asks the first invariant: what could reach somebody with a lock on
// doesn't run, and isn't turned for a check either, whatever happened.
func (m *lockedMill) held() {
	all := map[procedures.EquipmentID]checklists.Readiness{}
	for _, r := range checklists.Ready(m.f, m.now) {
		all[r.Equipment] = r
	}
	for _, l := range m.f.Lockouts {
		if len(l.LocksOn()) == 0 && !l.Open() {
			continue
		}
		for _, id := range reachedBy[l.Procedure.ID] {
			r := all[id]
			require.Equal(m.t, checklists.Held, r.Status, "%s while %s is locked out, at stage %d", id, l.Procedure.ID, l.Stage)
			require.Nil(m.t, r.RunCheck)
			require.True(m.t, slices.ContainsFunc(r.Holds, func(h checklists.Hold) bool {
				return h.Kind == checklists.HeldByLockout
			}), "%s is held by the lockout itself, not by chance", id)
		}
	}
}

// From the first lock to the last, through tests, nights, absent people's locks
// and entries made late, one lockout or several. Seen to fail with a test, with a
// lockout past its work, with one left overnight, with one lock of several off
// taken for no hold, and with holds that travel as those of a stop do.
func TestNothingRunsThatCouldReachSomebodyWithALockOn(t *testing.T) {
	checked := checkedFacts(t, beforeShift)
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		m := &lockedMill{t: t, f: checked, now: at("2025-06-04 06:05"), seen: seen}
		m.f.RunChecks = runOf("ann", m.now)
		all := []procedures.ProcedureID{"head-saw", "carriage", "dogs-and-knees", "hoist", "dust-collection"}
		first := rapid.IntRange(0, len(all)-1).Draw(t, "first")
		for n := range rapid.IntRange(1, 3).Draw(t, "lockouts") {
			m.begin(all[(first+n)%len(all)], crewOfLocked[n%3])
		}
		for range 100 + m.evenly(120) {
			at := m.evenly(len(m.f.Lockouts))
			if m.f.Lockouts[at].Open() {
				m.act(&m.f.Lockouts[at])
			}
			m.held()
		}
	})
	t.Log(seen)
	for _, scene := range []string{"late, locks on", "one lock of several taken off", "a test with locks on", "night", "energized", "restored", "handed-over", "joined"} {
		require.NotZero(t, seen[scene], scene)
	}
}
