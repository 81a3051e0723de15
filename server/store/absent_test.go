package store

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// 29 CFR 1910.147(e)(3): what was done to find the owner is kept word for word,
// and, saying something of a person, not readable in the leaf.
func TestAnAbsenceIsKeptAsPersonal(t *testing.T) {
	m := newMill(t)
	require.NoError(t, m.KeepProgram(t.Context(), NewID(), goodProgram(), sam, six))
	id, at := toWork(t, m, six)
	join := []procedures.Event{{Kind: procedures.Joined, Lock: "B-77", KeysInBox: true}}
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, join, ben, at))
	later := six.Add(6 * time.Hour)
	taken := procedures.Event{Kind: procedures.LockTaken, Lock: "B-77", NotHere: "his truck is gone, says Jo",
		Tries: []procedures.Try{{At: later, Way: "his sister's telephone", Result: "she hasn't seen him"}}}
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{taken}, sam, later))

	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	kept := l.Events[len(l.Events)-1]
	require.Equal(t, taken.NotHere, kept.NotHere)
	require.Equal(t, taken.Tries[0].Result, kept.Tries[0].Result)
	require.Len(t, l.Untold(), 1)

	var row entryRow
	require.NoError(t, m.s.reads.Order("seq DESC").First(&row, "kind = ?", KindLockout).Error)
	for _, said := range []string{"truck", "sister", "seen him"} {
		require.False(t, strings.Contains(string(row.Leaf), said), said)
	}
	b, _ := bodyRead(t, m.s, row)
	require.Equal(t, kept, b.(*lockoutBody).event())

	sameAgain(t, m.s)
}
