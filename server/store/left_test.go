package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// 29 CFR 1910.147(e)(3): that somebody left the mill is taken as it is; the lock
// they left on is raised, and comes off by the mill's procedure the same hour.
func TestWhoLeavesTheMillWithALockOnIsRaised(t *testing.T) {
	m := newMill(t)
	require.NoError(t, m.KeepProgram(t.Context(), NewID(), goodProgram(), sam, six))
	id, at := toWork(t, m, six)
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}}, ben, at))
	at = at.Add(time.Minute)
	taken := procedures.Event{Kind: procedures.LockTaken, Lock: "B-1", LeftMill: true, NotHere: "he handed his keys in and drove off",
		Tries: []procedures.Try{{At: at, Way: "telephone", Result: "no answer"}}}
	require.ErrorContains(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{taken}, sam, at), "counts as here", "whatever a form says")

	gone := ben
	gone.Left = true
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), gone, "", sam, at))
	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	raised, err := m.LockoutDepartures(t.Context(), l)
	require.NoError(t, err)
	require.Len(t, raised, 1)
	require.Contains(t, raised[0].What, "left the mill with lock B-1 reported on")
	require.Equal(t, ben.ID, raised[0].About)
	require.True(t, raised[0].Open())
	renamed := gone
	renamed.Name += " Tull"
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), renamed, "", sam, at))
	raised, err = m.LockoutDepartures(t.Context(), l)
	require.NoError(t, err)
	require.Len(t, raised, 1, "raised once")

	taken.LeftMill = false // nobody types it: the mill knows
	at = at.Add(time.Minute)
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{taken}, sam, at))
	l, err = m.Lockout(t.Context(), id)
	require.NoError(t, err)
	require.Len(t, l.LocksOn(), 1, "Ada's own")
	clean(t, m.s)
}

// What is entered late without its proof is a departure: the keys nobody saw. A
// whole job by the placard, ended after work, isn't taken for called off.
func TestWhatALateEntryDidNotShowIsADeparture(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	later := at.Add(time.Hour)
	late := []procedures.Event{{Kind: procedures.Joined, Lock: "B-1", Late: true, At: at}}
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, late, ben, later))
	worked := []procedures.Event{{Kind: procedures.WorkBegan, Late: true, At: at.Add(time.Minute)}, {Kind: procedures.WorkEnded, Late: true, At: at.Add(2 * time.Minute)}}
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, worked, ada, later))
	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	raised, err := m.LockoutDepartures(t.Context(), l)
	require.NoError(t, err)
	require.Len(t, raised, 1)
	require.Contains(t, raised[0].What, "Look into the box")
	require.Equal(t, ben.ID, raised[0].About)
}

// 29 CFR 1910.147(e)(1): tools entered after everything was counted out are raised.
func TestToolsEnteredAfterTheCountAreADeparture(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	tell := func(by procedures.Person, now time.Time, e procedures.Event) {
		require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{e}, by, now))
	}
	tell(ada, at, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 3})
	later := at.Add(time.Hour)
	tell(ada, later, procedures.Event{Kind: procedures.WorkEnded})
	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	counted := nextOf(l)
	counted.Tools, counted.ToolsOut = true, 3
	tell(ada, later, counted)
	later = later.Add(time.Minute)
	tell(ben, later, procedures.Event{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true, ToolsIn: 4, Late: true, At: at.Add(time.Minute)})
	tell(ben, later, procedures.Event{Kind: procedures.LeftJob, Late: true, At: at.Add(2 * time.Minute)})
	l, err = m.Lockout(t.Context(), id)
	require.NoError(t, err)
	raised, err := m.LockoutDepartures(t.Context(), l)
	require.NoError(t, err)
	require.Len(t, raised, 1)
	require.Contains(t, raised[0].What, "Counted in and not out")
	require.Equal(t, ben.ID, raised[0].About)
	clean(t, m.s)
}

// 29 CFR 1910.147(e)(3): who is made a reader with a lock on takes it off.
func TestWhoOnlyReadsByNowTakesTheOwnLockOff(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}}, ben, at))
	reader := ben
	reader.Role, reader.Authorized = procedures.Reader, false
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), reader, "", sam, at))
	require.Error(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.LeftOvernight, Until: at.Add(time.Hour)}}, reader, at))
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.LeftJob}}, reader, at))
	clean(t, m.s)
}
