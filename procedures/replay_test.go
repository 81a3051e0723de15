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

// Each five bytes of the input are an act: kind, which step, device or lock,
// who, when, and how complete. The first byte leaves a step out of the procedure.
func FuzzReplayNeverPanics(f *testing.F) {
	kinds := []procedures.EventKind{procedures.Began, procedures.StepDone, procedures.LockApplied, procedures.WorkBegan, procedures.Joined, procedures.LeftJob,
		procedures.LeftOvernight, procedures.Reverified, procedures.WorkEnded, procedures.LockRemoved, procedures.Restored, procedures.Cancelled, "guessed"}
	people := []procedures.PersonID{"ada", "ben", ""}
	locks := []string{"A-1", "B-1", " "}
	whole := starter(f, "hoist", answers("electric", "hand"))

	orderly := []byte{255, 0, 0, 0, 0, 0}
	for i, step := range whole.Steps {
		kind := byte(1)
		if step.Stage == procedures.Apply {
			kind = 2
		}
		if step.Stage == procedures.InspectArea && whole.Steps[i-1].Stage == procedures.Verify {
			orderly = append(orderly, 3, 0, 0, 10, 3, 4, 0, 5, 10, 3, 5, 0, 5, 10, 3, 8, 0, 0, 10, 3)
		}
		if step.Stage == procedures.RemoveLocks {
			kind = 9
		}
		orderly = append(orderly, kind, byte(i), 0, 10, 3)
	}
	f.Add(append(orderly, 10, 0, 0, 10, 3))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, input []byte) {
		if len(input) == 0 {
			return
		}
		p := whole
		if drop := int(input[0]); drop < len(p.Steps) {
			p.Steps = slices.Delete(slices.Clone(p.Steps), drop, drop+1)
		}
		var events []procedures.Event
		at := six
		for act := range slices.Chunk(input[1:], 5) {
			if len(act) < 5 {
				break
			}
			step := p.Steps[int(act[1])%len(p.Steps)]
			at = at.Add(time.Duration(int8(act[3])) * time.Second)
			events = append(events, procedures.Event{
				Kind: kinds[int(act[0])%len(kinds)], Person: people[int(act[2]&3)%len(people)], At: at, Late: act[4]&4 != 0,
				Step: step.ID, Device: step.Device, Lock: locks[int(act[2]>>2)%len(locks)], Proof: step.Proof,
				OffBack: act[4]&1 != 0, Tools: act[4]&1 != 0, Told: "crew"[:2*(act[4]>>1&1)], Until: at.Add(time.Hour),
			})
		}
		l, err := procedures.Replay("fuzz", p, events)
		if err != nil {
			require.Empty(t, l.Events)
			return
		}
		_, _, _ = l.Next(), l.Missing(), l.WaitLeft(at)
		if p.Validate() == nil { // else Begin refuses it
			require.Empty(t, broken(p, l.Events, l.Procedure.Equipment))
		}
		again, err := procedures.Replay("fuzz", p, l.Events)
		require.NoError(t, err)
		require.Equal(t, l, again)
	})
}
