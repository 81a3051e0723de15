package store

import (
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
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

func TestFactsTakeAsManyQueriesForTwoDefectsAsForSixty(t *testing.T) {
	m := newMill(t)
	queries := counting(t, m.s, nil)
	ask := func() int64 {
		m.s.kept.forget()
		before := queries.Load()
		_, err := m.Facts(t.Context(), six)
		require.NoError(t, err)
		return queries.Load() - before
	}
	cost := func() int64 { return min(ask(), ask()) } // one of two may be held against the tables
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
	more(58)
	signed(t, m, NewID(), ben, six)
	facts, err := m.Facts(t.Context(), six)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(facts.Defects), 60)
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
				_, err := tx.append(m.id, act{Actor: ada.ID, At: six, Subject: string(m.id)}, &plantBody{Plant: plantOf()[:1]})
				return err
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

// What is kept is held against the tables in every test of this package, see TestMain.
func TestFactsAskedAgainReadWhatChanged(t *testing.T) {
	m := newMill(t)
	m.s.kept.checked = 0
	queries := counting(t, m.s, nil)
	asked := func() (checklists.Facts, int64) {
		before := queries.Load()
		f, err := m.Facts(t.Context(), six)
		require.NoError(t, err)
		return f, queries.Load() - before
	}
	signed(t, m, NewID(), ada, six)
	m.s.kept.forget()
	_, first := asked()
	same, again := asked()
	require.LessOrEqual(t, again, int64(3), "the head of the log and the walks under way")
	require.Greater(t, first, 5*again)
	signed(t, m, NewID(), ben, six)
	more, further := asked()
	require.Less(t, 2*further, first)
	require.Len(t, more.Inspections, len(same.Inspections)+1)
	m.s.kept.forget()
	_, anew := asked()
	require.Equal(t, first, anew)
	_, err := m.Facts(t.Context(), six.Add(-2*factsBehind))
	require.NoError(t, err)
	_, back := asked()
	require.LessOrEqual(t, back, first, "a clock set back costs no more than to begin with")
}

func TestFactsOfACommandTakenBackAreNotKept(t *testing.T) {
	m := newMill(t)
	m.s.kept.checked = 0
	before, err := m.Facts(t.Context(), six)
	require.NoError(t, err)
	stopped := func(tx *Tx) error {
		d := checklists.Defect{ID: "taken-back", Equipment: "head-saw", Severity: checklists.Stop, At: six}
		if _, err := tx.append(m.id, act{Actor: ada.ID, At: six, Subject: "taken-back"}, &defectBody{newDefectPart(d)}); err != nil {
			return err
		}
		f, err := tx.facts(m.id, six)
		require.NoError(t, err)
		require.Len(t, f.Defects, 1)
		return err
	}
	require.ErrorIs(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
		if err := stopped(tx); err != nil {
			return err
		}
		return ErrChanged
	}), ErrChanged)
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
		after, err := tx.facts(m.id, six)
		require.Equal(t, before, after)
		return err
	}))
	// Another entry of the same place in the log is not taken for the one taken back.
	_, err = m.EnterDeparture(t.Context(), NewID(), checklists.Departure{Equipment: "hoist", What: "x", Happened: six}, ada, six)
	require.NoError(t, err)
	after, err := m.Facts(t.Context(), six)
	require.NoError(t, err)
	require.Empty(t, after.Defects)
	require.Len(t, after.Departures, 1)
}

func TestChecksSignedOverAndOverTakeNoMoreRoom(t *testing.T) {
	m := newMill(t)
	for i := range 150 {
		at := six.Add(time.Duration(i) * 10 * time.Second)
		given := answers(at)
		given[2] = checklists.Answer{Item: "C3", Result: checklists.OK, Text: "S-1204"}
		walk, err := m.BeginWalk(t.Context(), NewID(), "short", ada, at)
		require.NoError(t, err)
		require.NoError(t, m.TakeAnswers(t.Context(), walk, given, ada, at))
		_, err = m.SignInspection(t.Context(), NewID(), walk, ada, at, at)
		require.NoError(t, err)
	}
	f, err := m.Facts(t.Context(), six.Add(30*time.Minute))
	require.NoError(t, err)
	require.Less(t, len(f.Inspections), 90)
	m.s.kept.forget()
	f, err = m.Facts(t.Context(), six.Add(30*time.Minute))
	require.NoError(t, err)
	require.Len(t, f.Inspections, 1)
}

// Seen to fail while everything was loaded again.
func TestRunCheckThatRunsOutLoadsOnlyWhatIsUnderWay(t *testing.T) {
	m := newMill(t)
	m.s.kept.checked = 0
	queries := counting(t, m.s, nil)
	asked := func(now time.Time) (checklists.Facts, int64) {
		before := queries.Load()
		f, err := m.Facts(t.Context(), now)
		require.NoError(t, err)
		return f, queries.Load() - before
	}
	walk, err := m.BeginWalk(t.Context(), NewID(), "short", ada, six)
	require.NoError(t, err)
	require.NoError(t, m.TakeAnswers(t.Context(), walk, []checklists.Answer{{Item: "C1", Result: checklists.OK}}, ada, six))
	require.NoError(t, m.AllowRunCheck(t.Context(), NewID(), walk, []procedures.EquipmentID{"carriage"}, ada, six))
	m.s.kept.forget()
	before, whole := asked(six)
	require.Len(t, before.RunChecks, 1)
	after, some := asked(six.Add(checklists.RunCheckLasts))
	require.Empty(t, after.RunChecks)
	require.Less(t, 2*some, whole)
	_, none := asked(six.Add(checklists.RunCheckLasts))
	require.Less(t, none, some)
	m.s.kept.forget()
	anew, _ := asked(six.Add(checklists.RunCheckLasts))
	require.Equal(t, anew, after)
}
