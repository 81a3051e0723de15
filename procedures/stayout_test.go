package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// 29 CFR 1910.147(f)(3)(ii)(D): nobody works on another's proof. What is said to
// one who may not reach in is never "Work".
func TestNobodyIsToldToWorkOnAnothersProof(t *testing.T) {
	now := shiftDay.Add(time.Hour)
	atWork := func() Lockout {
		l := twoStep(Work)
		l.Procedure.Equipment, l.Procedure.Steps = []EquipmentID{"saw"}, nil
		l.Members[0].Verified, l.Working = shiftDay, true
		return l
	}
	for said, change := range map[string]func(*Lockout){
		"you have not proven zero yourself": func(*Lockout) {},
		"not every lock of your own":        func(l *Lockout) { l.Locks = l.Locks[:1] },
		"having seen the keys": func(l *Lockout) {
			l.Locks[1].Device = ""
			l.Events = append(l.Events, Event{Kind: Joined, Lock: "B-1", Person: benOp.ID})
		},
		"counts no more":             func(l *Lockout) { l.Members[1].Verified = now.Add(-VerificationLasts - 1); l.Members[0].Verified = now },
		"you are not signed on here": func(l *Lockout) { l.Members[1].Left = shiftDay },
	} {
		l := atWork()
		change(&l)
		require.Contains(t, l.StayOut(benOp.ID, now).String(), said)
		require.Equal(t, l.StayOut(benOp.ID, now), l.NextFor(benOp.ID, now), said)
		require.Empty(t, l.StayOut(annOp.ID, now).String(), said)
		require.Equal(t, l.Next(), l.NextFor(annOp.ID, now), said)
		require.Equal(t, l.Next(), l.NextFor("", now), "on paper")
		require.Equal(t, said != "you are not signed on here", l.ProveAgain(benOp.ID, now), said)
		require.False(t, l.ProveAgain(annOp.ID, now), said)
		require.False(t, l.ProveAgain("", now), said)
	}
	l := atWork()
	l.Members[1].Verified = shiftDay
	require.Empty(t, l.StayOut(benOp.ID, now).String())
	require.False(t, l.ProveAgain(benOp.ID, now))
	l.Members[0].Verified, l.Members[1].Verified = time.Time{}, time.Time{}
	require.Empty(t, l.StayOut(benOp.ID, now).String(), "nobody may: that is said to all")
	require.True(t, l.ProveAgain("", now))
	for name, change := range map[string]func(*Lockout){
		"over": func(l *Lockout) { l.Closed = true }, "test": func(l *Lockout) { l.Test = TestPrepared }, "release": func(l *Lockout) { l.Stage = InspectArea },
		"to its end": func(l *Lockout) { l.Events = append(l.Events, Event{Kind: HandedOver, ToEnd: true}) },
	} {
		other := atWork()
		change(&other)
		require.False(t, other.ProveAgain(benOp.ID, now), name)
		require.Empty(t, other.StayOut(benOp.ID, now).String(), name)
	}
	l = atWork()
	l.Procedure.Equipment = nil
	require.False(t, l.ProvenBySome(now), "a lockout of nothing is proven by nobody")
}

// Whoever tries a start or pulls at a dog hears who may be in the machine.
func TestWhoMayBeInTheMachineIsKnown(t *testing.T) {
	for name, tc := range map[string]struct {
		change func(*Lockout)
		in     []PersonID
	}{
		"at work":         {func(*Lockout) {}, []PersonID{annOp.ID}},
		"proof long past": {func(l *Lockout) { l.Members[0].Verified = shiftDay.AddDate(-1, 0, 0) }, []PersonID{annOp.ID}},
		"not begun":       {func(l *Lockout) { l.Working = false }, nil},
		"away":            {func(l *Lockout) { l.Members[0].Away = true }, nil},
		"signed off":      {func(l *Lockout) { l.Members[0].Left = shiftDay }, nil},
		"given back":      {func(l *Lockout) { l.Stage = InspectArea }, nil},
		"over":            {func(l *Lockout) { l.Closed = true }, nil},
	} {
		l := twoStep(Work)
		l.Members[0].Verified, l.Working = shiftDay, true
		tc.change(&l)
		require.Equal(t, tc.in, l.MayBeIn(benOp.ID), name)
		require.Empty(t, l.MayBeIn(annOp.ID), name)
	}
}
