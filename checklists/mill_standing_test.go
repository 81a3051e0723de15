package checklists_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// A standing counts what Ready answers, whatever is wrong.
func TestAStandingCountsWhatReadyAnswers(t *testing.T) {
	good := checkedFacts(t, beforeShift)
	stopped := good
	stopped.Defects = []checklists.Defect{{ID: "d", Equipment: "head-saw", Severity: checklists.Stop, What: "Ned dropped it", At: beforeShift},
		{ID: "e", Equipment: "head-saw", Severity: checklists.Mend, What: "a bulb", At: beforeShift, MendBy: underWay.AddDate(0, 1, 0)}}
	due := good
	due.Inspections = nil
	behind := good
	behind.LastEntry = underWay.Add(24 * time.Hour)
	for name, c := range map[string]struct {
		facts   checklists.Facts
		status  checklists.Status
		stopped bool
	}{"checked": {good, checklists.MayRun, false}, "stopped": {stopped, checklists.Held, true}, "due": {due, checklists.Held, false},
		"clock": {behind, checklists.Held, true}, "nothing": {checklists.Facts{}, checklists.NotKnown, false}} {
		s := checklists.StandingOf(c.facts, 12, underWay)
		counted := map[checklists.Status]int{}
		for _, r := range checklists.Ready(c.facts, underWay) {
			counted[r.Status]++
		}
		require.Equal(t, counted[checklists.MayRun], s.MayRun, name)
		require.Equal(t, counted[checklists.Held], s.Held, name)
		require.Equal(t, counted[checklists.RunCheckOnly], s.RunCheck, name)
		require.Len(t, s.Holds, s.Held, name)
		require.Equal(t, c.status, s.Status(), name)
		require.Equal(t, c.stopped, s.Stopped(), name)
		require.EqualValues(t, 12, s.Entries)
	}
	s := checklists.StandingOf(stopped, 1, underWay)
	require.Equal(t, [2]int{1, 1}, [2]int{s.Stop, s.Mend})
	require.True(t, slices.ContainsFunc(s.Holds, func(m checklists.MachineHeld) bool {
		return m.Kind == procedures.HeadSaw && slices.Equal(m.By, []checklists.HoldKind{checklists.HeldByDefect})
	}))
	require.Positive(t, checklists.StandingOf(due, 1, underWay).Overdue)
}

// Every kind of hold is told in words of its own.
func TestEveryKindOfHoldHasWords(t *testing.T) {
	said := map[string]bool{}
	for _, kind := range []checklists.HoldKind{checklists.HeldByDue, checklists.HeldUnchecked, checklists.HeldByDefect, checklists.HeldByReturn, checklists.HeldByLockout,
		checklists.HeldByDeparture, checklists.HeldByClock, checklists.HeldUnread, checklists.HeldUnsigned, checklists.HeldByFinding, checklists.HeldByBlade} {
		words := kind.Words().String()
		require.False(t, said[words], words)
		require.NotEqual(t, "not known", words)
		said[words] = true
	}
}
