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
