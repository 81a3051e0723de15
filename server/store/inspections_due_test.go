package store

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm/logger"

	"stillsaw/procedures"
)

// statements counts what is asked of the database.
type statements struct {
	logger.Interface
	n int
}

func (s *statements) Trace(context.Context, time.Time, func() (string, int64), error) { s.n++ }

// asked is how many statements act takes on the connections that read.
func asked(t *testing.T, m *Mill, act func()) int {
	t.Helper()
	was, count := m.s.reads.Logger, &statements{Interface: logger.Discard}
	m.s.reads.Logger = count
	act()
	m.s.reads.Logger = was
	return count.n
}

// alike publishes so many procedures that say what the hoist's does.
func alike(t *testing.T, m *Mill, from, to int) {
	t.Helper()
	p, err := m.Procedure(t.Context(), "hoist", 0)
	require.NoError(t, err)
	for i := from; i < to; i++ {
		p.ID, p.Title, p.Version = procedures.ProcedureID(fmt.Sprintf("hoist-%d", i)), fmt.Sprintf("Hoist %d", i), 0
		draft, err := DraftOf(Procedures, string(p.ID), p.Title, p)
		require.NoError(t, err)
		require.NoError(t, m.PublishDraft(t.Context(), NewID(), draft, sam, six.Add(-time.Duration(i)*time.Hour), NumberProcedure))
	}
}

// The front page asks on each load and each change: what it asks for must not
// grow with the procedures.
func TestWhatIsDueTakesAsManyStatementsForManyProceduresAsForOne(t *testing.T) {
	m := newMill(t)
	due := func() {
		_, err := m.InspectionsDue(t.Context(), six)
		require.NoError(t, err)
	}
	state := func() {
		_, err := m.ProgramState(t.Context(), six)
		require.NoError(t, err)
	}
	trainings := func() {
		_, err := m.TrainingState(t.Context())
		require.NoError(t, err)
	}
	one, program, trained := asked(t, m, due), asked(t, m, state), asked(t, m, trainings)
	require.Equal(t, 1, one)
	require.Positive(t, program)
	alike(t, m, 1, 12)
	require.Equal(t, one, asked(t, m, due))
	require.Equal(t, program, asked(t, m, state))
	require.Equal(t, trained, asked(t, m, trainings))
}

// The one query says what the rule says of everything on record: of first
// versions in force long ago or lately, inspected or not, used or not.
func TestWhatIsDueInOneQueryIsWhatTheRuleSays(t *testing.T) {
	m := newMill(t)
	alike(t, m, 1, 4)
	_, last := lockedAndBack(t, m, ada, six)
	for _, later := range []time.Duration{0, time.Hour, 340 * 24 * time.Hour, 400 * 24 * time.Hour} {
		now := six.Add(later)
		if later == time.Hour {
			found(t, m, ada.ID, last.Add(time.Minute))
			now = last.Add(time.Hour)
		}
		due, err := m.InspectionsDue(t.Context(), now)
		require.NoError(t, err)
		require.Len(t, due, 4)
		for _, one := range due {
			first, err := m.Published(t.Context(), Procedures, string(one.ID), 1)
			require.NoError(t, err)
			inspected, err := m.ProcedureInspections(t.Context(), one.ID)
			require.NoError(t, err)
			var used []time.Time
			ended, err := m.EndedLockouts(t.Context(), 100)
			require.NoError(t, err)
			for _, l := range ended {
				if l.Procedure.ID == one.ID {
					used = append(used, l.Begun)
				}
			}
			require.Equal(t, procedures.NextInspection(one.ID, first.At, inspected, used, now), one.Due, "%s at %s", one.ID, now)
		}
	}
}
