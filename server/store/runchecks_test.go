package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// answeredTurning answers the running item of the walk.
func answeredTurning(t *testing.T, m *Mill, walk checklists.InspectionID, at time.Time) error {
	t.Helper()
	return m.TakeAnswers(t.Context(), walk, []checklists.Answer{{Item: "C4", Result: checklists.OK}}, ada, at)
}

func statusOf(f checklists.Facts, id procedures.EquipmentID, now time.Time) checklists.Status {
	for _, r := range checklists.Ready(f, now) {
		if r.Equipment == id {
			return r.Status
		}
	}
	return checklists.NotKnown
}

// Seen to fail with the facts loaded without what was over meanwhile.
func TestRunCheckDoesNotComeBackOnceALockoutOrStopIsOver(t *testing.T) {
	for name, between := range map[string]func(m *Mill, at time.Time) time.Time{
		"stop": func(m *Mill, at time.Time) time.Time {
			id, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "carriage", What: "creeps"}, ben, at)
			require.NoError(t, err)
			require.NoError(t, m.MendDefect(t.Context(), NewID(), id, "valve shut", "", ben, at.Add(time.Minute)))
			require.NoError(t, m.ReturnDefect(t.Context(), NewID(), id, checklists.Recheck{}, ada, at.Add(2*time.Minute)))
			return at.Add(3 * time.Minute)
		},
		"lockout": func(m *Mill, at time.Time) time.Time {
			_, after := lockedAndBack(t, m, ben, at) // of the hoist, which could drop something on the carriage
			return after
		},
	} {
		t.Run(name, func(t *testing.T) {
			m, what := newMill(t), map[string]procedures.EquipmentID{"stop": "carriage", "lockout": "hoist"}[name]
			walk, err := m.BeginWalk(t.Context(), NewID(), "short", ada, six)
			require.NoError(t, err)
			require.NoError(t, m.TakeAnswers(t.Context(), walk, []checklists.Answer{{Item: "C1", Result: checklists.OK}}, ada, six))
			machine := []procedures.EquipmentID{"carriage", "hoist"}
			require.NoError(t, m.AllowRunCheck(t.Context(), NewID(), walk, machine, ada, six))
			require.NoError(t, answeredTurning(t, m, walk, six.Add(time.Second)))
			granted, err := m.Facts(t.Context(), six.Add(time.Second))
			require.NoError(t, err)
			require.Equal(t, checklists.RunCheckOnly, statusOf(granted, what, six.Add(time.Second)))
			after := between(m, six.Add(time.Minute))
			facts, err := m.Facts(t.Context(), after)
			require.NoError(t, err)
			require.NotEmpty(t, facts.RunChecks, "not run out yet")
			require.Equal(t, checklists.Held, statusOf(facts, what, after))
			if name == "lockout" {
				return // the carriage may be turned on, whatever the hoist's lockout did
			}
			var refused plain.Problems
			require.ErrorAs(t, answeredTurning(t, m, walk, after), &refused)
			require.Contains(t, refused.Error(), "ended")
			require.NoError(t, m.AllowRunCheck(t.Context(), NewID(), walk, machine, ada, after))
			require.NoError(t, answeredTurning(t, m, walk, after))
		})
	}
}

func TestMendedMachineIsNotTurnedOnAListThatMerelyCoversIt(t *testing.T) {
	m := newMill(t)
	yard := shortList()
	yard.ID, yard.Title, yard.Items = "a-yard", "Yard", yard.Items[6:]
	yard.Items[0].Equipment = "carriage"
	d, err := DraftOf(Lists, "a-yard", "Yard", yard)
	require.NoError(t, err)
	require.NoError(t, m.KeepDraft(t.Context(), d, six))
	require.NoError(t, m.Publish(t.Context(), NewID(), Lists, "a-yard", 1, sam, six, nil))
	id, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "carriage", What: "creeps"}, ben, six)
	require.NoError(t, err)
	require.NoError(t, m.MendDefect(t.Context(), NewID(), id, "valve shut", "", ben, six))
	var refusal *plain.Refusal
	require.ErrorAs(t, m.AllowRunCheckOf(t.Context(), NewID(), id, ada, six), &refusal)
	require.Contains(t, refusal.Error(), "C1 (Short list, 1)")
	signed(t, m, NewID(), ada, six)
	require.NoError(t, m.AllowRunCheckOf(t.Context(), NewID(), id, ada, six.Add(2*time.Minute)))
}

func TestSigningAWalkEndsTheRunCheckGivenForIt(t *testing.T) {
	m := newMill(t)
	walk, err := m.BeginWalk(t.Context(), NewID(), "short", ada, six)
	require.NoError(t, err)
	require.NoError(t, m.TakeAnswers(t.Context(), walk, answers(six), ada, six))
	require.NoError(t, m.AllowRunCheck(t.Context(), NewID(), walk, []procedures.EquipmentID{"hoist"}, ada, six))
	at := six.Add(time.Minute)
	facts, err := m.Facts(t.Context(), at)
	require.NoError(t, err)
	require.Equal(t, checklists.RunCheckOnly, statusOf(facts, "hoist", at))
	_, err = m.SignInspection(t.Context(), NewID(), walk, ada, at, time.Time{})
	require.NoError(t, err)
	facts, err = m.Facts(t.Context(), at)
	require.NoError(t, err)
	require.Len(t, facts.RunChecks, 1)
	facts.Lists[0].Version++ // a version to come asks for more
	facts.Lists[0].Items = append(facts.Lists[0].Items, checklists.Item{ID: "N1", Prompt: "New guard on", Equipment: "hoist", Severity: checklists.Stop, State: checklists.Stopped, Kind: checklists.Choice})
	require.Equal(t, checklists.Held, statusOf(facts, "hoist", at))
}
