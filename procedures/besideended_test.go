package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// overAt is a lockout by p that was under way an hour around the shift's start, with
// Ann's lock on.
func overAt(p Procedure) Lockout {
	from, to := shiftDay.Add(-30*time.Minute), shiftDay.Add(30*time.Minute)
	return Lockout{ID: "l2", Procedure: p, Primary: benOp.ID, Begun: from, Ended: to, Closed: true, Locks: []Lock{{Number: "a-1", Owner: annOp.ID, On: from, Off: to}}}
}

// 29 CFR 1910.147(c)(5)(ii): one lock hangs in one place, whenever it was entered.
func TestALockEnteredLateIsHeldAgainstLockoutsThatAreOver(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	s.Ended = []Lockout{overAt(p)}
	l := Lockout{ID: "l1", Procedure: Procedure{ID: "elsewhere", Version: 1}}
	s.NoneEntered = true
	broken := func(e Event) []Gap {
		e.Late, e.Person = true, annOp.ID
		require.NoError(t, MayReport(l, e, s, shiftDay.Add(5*time.Hour)), "what happened is taken")
		var found []Gap
		for _, gap := range Broken(l, e, s) {
			if gap.Clause == Clause("(c)(5)(ii)") {
				found = append(found, gap)
			}
		}
		return found
	}
	on := Event{Kind: LockApplied, Lock: "A-1", At: shiftDay}
	require.Len(t, broken(on), 1)
	require.Contains(t, broken(on)[0].Why.String(), "Lock A-1 was reported on in another lockout at the same time")
	for _, free := range []time.Time{shiftDay.Add(30 * time.Minute), shiftDay.Add(-31 * time.Minute)} {
		on.At = free
		require.Empty(t, broken(on), free)
	}
	s.Ended[0].Locks[0].Off = shiftDay.Add(20 * time.Second)
	on.At = shiftDay
	require.Empty(t, broken(on), "entered to the minute it may have been after that")
	s.Ended[0].Locks[0].Off = shiftDay.Add(30 * time.Minute)

	l.Locks = []Lock{{Number: "A-1", Owner: annOp.ID, On: shiftDay.Add(-time.Hour)}}
	for _, off := range []Event{{Kind: LockRemoved, Lock: "A-1"}, {Kind: LeftJob}} {
		off.At = shiftDay.Add(time.Hour)
		require.Len(t, broken(off), 1, "on here all the while: %s", off.Kind)
		off.At = shiftDay.Add(-40 * time.Minute)
		require.Empty(t, broken(off), "off before")
	}
	s.Ended[0].ID = l.ID
	on.At = shiftDay
	require.Empty(t, broken(on), "this one itself")
}

// 29 CFR 1910.147(f)(3)(ii)(C): two lockouts that met had somebody over both.
func TestALockoutEnteredLateIsHeldAgainstLockoutsThatAreOver(t *testing.T) {
	p := hoistProcedure()
	s := goodStanding(p)
	s.Ended, s.NoneEntered = []Lockout{overAt(p)}, true
	l := Lockout{ID: "l1", Procedure: p, Primary: annOp.ID, Begun: shiftDay.Add(-time.Hour)}
	met := func(e Event) int {
		e.Late, e.Person = true, annOp.ID
		n := 0
		for _, gap := range Broken(l, e, s) {
			if gap.Clause == Clause("(f)(3)(ii)(C)") {
				n++
			}
		}
		return n
	}
	began := Event{Kind: Began, At: shiftDay}
	require.Equal(t, 1, met(began))
	began.Coordinator = benOp.ID
	require.Zero(t, met(began), "Ben answers for the other one")
	began = Event{Kind: Began, At: shiftDay.Add(-time.Hour)}
	require.Zero(t, met(began), "the other one came later")
	require.Equal(t, 1, met(Event{Kind: Restored, At: shiftDay.Add(time.Hour)}), "and both were under way then")
	s.Ended[0].Coordinator = annOp.ID
	require.Zero(t, met(Event{Kind: Restored, At: shiftDay.Add(time.Hour)}), "Ann was named over both")
	s.Ended[0].Coordinator, s.Ended[0].Procedure = "", Procedure{Equipment: []EquipmentID{"elsewhere"}}
	require.Zero(t, met(Event{Kind: Restored, At: shiftDay.Add(time.Hour)}), "nothing in common")
	s.Ended[0].Procedure, s.Ended[0].Locks = p, nil
	require.Zero(t, met(Event{Kind: Restored, At: shiftDay.Add(time.Hour)}), "nobody had a lock on")
}
