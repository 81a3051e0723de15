package store

import (
	"fmt"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
)

// counting runs each after every query of the reading pool and counts them.
func counting(t *testing.T, s *Store, each func(n int64)) *atomic.Int64 {
	t.Helper()
	var queries atomic.Int64
	count := func(*gorm.DB) {
		n := queries.Add(1)
		if each != nil {
			each(n)
		}
	}
	require.NoError(t, s.reads.Callback().Query().After("gorm:query").Register("test:count", count))
	require.NoError(t, s.reads.Callback().Row().After("gorm:row").Register("test:count", count))
	require.NoError(t, s.reads.Callback().Raw().After("gorm:raw").Register("test:count", count))
	return &queries
}

func TestFactsTakeAsManyQueriesForTwoDefectsAsForTwoHundred(t *testing.T) {
	m := newMill(t)
	queries := counting(t, m.s, nil)
	cost := func() int64 {
		before := queries.Load()
		_, err := m.Facts(t.Context(), six)
		require.NoError(t, err)
		return queries.Load() - before
	}
	more := func(n int) {
		for i := range n {
			_, err := stop(t.Context(), m, NewID(), fmt.Sprint("stop ", i))
			require.NoError(t, err)
			_, err = m.EnterDeparture(t.Context(), NewID(), checklists.Departure{Equipment: "hoist", What: "x", Happened: six}, ada, six)
			require.NoError(t, err)
		}
	}
	more(2)
	signed(t, m, NewID(), ada, six)
	few := cost()
	require.Positive(t, few)
	more(198)
	signed(t, m, NewID(), ben, six)
	facts, err := m.Facts(t.Context(), six)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(facts.Defects), 200)
	require.Equal(t, few, cost())
}

func TestFactsShowNoHalfOfWhatIsCommittedMeanwhile(t *testing.T) {
	m := newMill(t)
	var once atomic.Bool
	counting(t, m.s, func(int64) {
		if once.CompareAndSwap(false, true) { // right after the first query of the facts
			if err := m.s.writer.do(t.Context(), func(tx *Tx) error {
				d := checklists.Defect{ID: "late-defect", Equipment: "head-saw", Severity: checklists.Stop, At: six}
				if _, err := tx.append(m.id, act{Actor: ada.ID, At: six, Subject: "late-defect"}, &defectBody{newDefectPart(d)}); err != nil {
					return err
				}
				return (&plantBody{Plant: plantOf()[:1]}).project(tx, entry{Mill: string(m.id)})
			}); err != nil {
				t.Error(err)
			}
		}
	})
	facts, err := m.Facts(t.Context(), six)
	require.NoError(t, err)
	require.True(t, once.Load())
	require.Empty(t, facts.Defects, "as of the moment it began")
	require.Equal(t, plantOf(), facts.Plant)
	facts, err = m.Facts(t.Context(), six)
	require.NoError(t, err)
	require.Len(t, facts.Defects, 1)
	require.Len(t, facts.Plant, 1)
}

// Seen to fail while nothing older than eight days was loaded of a list of each shift.
func TestFactsBringTheLastInspectionHoweverLongAgo(t *testing.T) {
	m := newMill(t)
	signed(t, m, NewID(), ada, six)
	facts, err := m.Facts(t.Context(), six.AddDate(0, 2, 0))
	require.NoError(t, err)
	require.Len(t, facts.Inspections, 1)
}
