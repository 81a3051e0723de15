package procedures_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

func TestReplayGivesTheSameStateAtEveryStage(t *testing.T) {
	s := begun(t, "dogs-and-knees")
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		s.to(stage)
		again, err := procedures.Replay(s.l.ID, s.l.Procedure, s.l.Events)
		require.NoError(t, err)
		require.Equal(t, s.l, again)
		var read procedures.Lockout
		require.NoError(t, json.Unmarshal([]byte(asJSON(t, s.l)), &read))
		require.Equal(t, asJSON(t, s.l), asJSON(t, read), "kept as JSON and read again")
	}
}

// An act entered afterwards takes the place of the time it happened.
func TestLateEntriesFoldAtTheTimeTheyHappened(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Work)
	proven := s.now
	s.now = s.now.Add(time.Hour)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
	joined := procedures.Event{Kind: procedures.Joined, Lock: "B-1", At: proven.Add(10 * time.Minute)}
	require.ErrorContains(t, s.try(ben, joined), "enter it as late")
	joined.Late = true
	s.do(ben, joined)
	last := len(s.l.Events) - 1
	require.Equal(t, procedures.WorkBegan, s.l.Events[last].Kind)
	require.True(t, s.l.Events[last-1].Late, "shown as late")

	early := procedures.Event{Kind: procedures.WorkBegan, At: proven.Add(-time.Second), Late: true}
	s.refused(ada, early, "29 CFR 1910.147(d)(6)", "Not yet")
	night := procedures.Event{Kind: procedures.LeftOvernight, At: proven.Add(time.Minute), Late: true, Until: s.now}
	s.refused(ada, night, "29 CFR 1910.147(d)(6)", "zero again") // it would leave the later start of work without a proof
	ago := procedures.Event{Kind: procedures.WorkBegan, At: six.Add(-time.Hour), Late: true}
	s.refused(ada, ago, "29 CFR 1910.147(d)", "begins with")

	order := slices.Clone(s.l.Events)
	slices.SortStableFunc(order, func(a, b procedures.Event) int { // as entered: the late one last
		if a.Late == b.Late {
			return 0
		}
		if a.Late {
			return 1
		}
		return -1
	})
	again, err := procedures.Replay(s.l.ID, s.l.Procedure, order)
	require.NoError(t, err)
	require.Equal(t, s.l, again)
}

func TestALockoutDoneFromThePlacardIsEnteredAfterwards(t *testing.T) {
	l, e, err := procedures.BeginLate("lockout-1", starter(t, "hoist", answers("electric", "hand")), "chain", ada, six.Add(time.Hour), six)
	require.NoError(t, err)
	require.True(t, e.Late)
	s := &shop{t: t, l: l, now: six}
	for len(s.undone()) > 0 {
		next := s.event(s.undone()[0])
		next.Late, next.At = true, s.now.Add(time.Minute)
		s.now = next.At
		s.do(ada, next)
	}
	require.Equal(t, procedures.Work, s.l.Stage)
	require.Equal(t, six, s.l.Begun)
}

func TestReplayRefusesWhatIsNoHistory(t *testing.T) {
	p := starter(t, "hoist", answers("electric", "hand"))
	for _, events := range [][]procedures.Event{
		nil,
		{{Kind: procedures.WorkBegan, Person: "ada", At: six}},
		{{Kind: procedures.Began, At: six}},
		{{Kind: procedures.Began, Person: "ada"}},
		{{Kind: procedures.Began, Person: "ada", At: six}, {Kind: procedures.Began, Person: "ada", At: six}},
		{{Kind: procedures.Began, Person: "ada", At: six}, {Kind: "guessed", Person: "ada", At: six}},
		{{Kind: procedures.Began, Person: "ada", At: six}, {Kind: procedures.Cancelled, Person: "ada", At: six.Add(-1)}},
		{{Kind: procedures.Began, Person: "ada", At: six}, {Kind: procedures.StepDone, Step: "none", Person: "ada", At: six}},
	} {
		l, err := procedures.Replay("lockout-1", p, events)
		require.Error(t, err)
		require.Empty(t, l.Events)
	}
	var nothing procedures.Lockout
	require.Error(t, nothing.Apply(procedures.Event{Kind: procedures.WorkBegan, Person: "ada", At: six}, ada))
	require.False(t, nothing.VerifiedFor("ada", "hoist", six))
}

func FuzzReplayNeverPanics(f *testing.F) {
	s := begun(f, "hoist").to(procedures.Work)
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"})
	s.do(ben, procedures.Event{Kind: procedures.LeftJob})
	s.to(procedures.NotifyRestored)
	p, err := json.Marshal(s.l.Procedure)
	require.NoError(f, err)
	for _, upTo := range []int{1, 5, len(s.l.Events)} {
		events, err := json.Marshal(s.l.Events[:upTo])
		require.NoError(f, err)
		f.Add(p, events)
	}
	f.Add([]byte(`{"steps":[{"id":"a","stage":3},{"id":"a","stage":1}]}`), []byte(`[{"kind":"began","person":"x","at":"2026-03-02T06:00:00Z"},{"kind":"work-ended","person":"x","at":"2026-03-02T06:00:00Z"}]`))
	f.Fuzz(func(t *testing.T, procedure, history []byte) {
		var p procedures.Procedure
		var events []procedures.Event
		if json.Unmarshal(procedure, &p) != nil || json.Unmarshal(history, &events) != nil {
			return
		}
		_ = p.Validate()
		l, err := procedures.Replay("fuzz", p, events)
		if err != nil {
			return
		}
		_, _, _ = l.Next(), l.Missing(), l.WaitLeft(six)
		again, err := procedures.Replay("fuzz", p, l.Events)
		require.NoError(t, err)
		require.Equal(t, asJSON(t, l), asJSON(t, again))
	})
}
