package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func clauseIn(t *testing.T, err error) string {
	t.Helper()
	var why *plain.Refusal
	require.ErrorAs(t, err, &why)
	return why.Clause
}

// toWork takes a lockout of the hoist by ada to zero proven.
func toWork(t *testing.T, m *Mill, at time.Time) (procedures.LockoutID, time.Time) {
	t.Helper()
	id, err := m.BeginLockout(t.Context(), NewID(), "hoist", "new latch", at.Add(4*time.Hour), ada, at)
	require.NoError(t, err)
	for {
		l, err := m.Lockout(t.Context(), id)
		require.NoError(t, err)
		if l.Stage == procedures.Work {
			return id, at
		}
		at = at.Add(10*time.Second + l.WaitLeft(at))
		require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{nextOf(l)}, ada, at))
	}
}

// found is an inspection that found who to have left the order of steps.
func found(t *testing.T, m *Mill, who procedures.PersonID, at time.Time) {
	t.Helper()
	in := inspectedHoist(at)
	in.Findings = []procedures.Finding{{Said: "tried the start before the locks", Kind: procedures.Deviation, Person: who, Owner: sam.ID, Due: at.Add(time.Hour)}}
	in.ShownBy = ada.ID
	_, err := m.InspectProcedure(t.Context(), NewID(), in, "", ben, at)
	require.NoError(t, err)
}

// 29 CFR 1910.147(c)(7)(i)(A), asked in the command itself.
func TestNobodyUntrainedBeginsOrJoinsALockout(t *testing.T) {
	m := newMill(t)
	cal := procedures.Person{ID: "cal", Name: "Cal", Role: procedures.Operator, Authorized: true}
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), cal, "digest", sam, six))
	begin := func() error {
		_, err := m.BeginLockout(t.Context(), NewID(), "hoist", "new latch", six.Add(time.Hour), cal, six)
		return err
	}
	before := clean(t, m.s)
	require.Equal(t, procedures.Clause("(c)(7)(i)(A)"), clauseIn(t, begin()))
	require.Equal(t, before, clean(t, m.s), "what is refused leaves nothing")
	id, at := toWork(t, m, six)
	err := m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "C-1", KeysInBox: true}}, cal, at)
	require.ErrorContains(t, err, "never trained on this procedure")
	trained(t, m, cal, at)
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "C-1", KeysInBox: true}}, cal, at))
}

func TestOlderRecordWithoutAnyTrainingGoesByTheSupervisorsWord(t *testing.T) {
	m := setUp(t, open(t), fernhollow)
	publishAll(t, m)
	begin := func() error {
		_, err := m.BeginLockout(t.Context(), NewID(), "hoist", "new latch", six.Add(time.Hour), ada, six)
		return err
	}
	s, err := m.Standing(t.Context(), ada, procedures.Procedure{ID: "hoist"})
	require.NoError(t, err)
	require.True(t, s.NoneEntered)
	trained(t, m, ben, six)
	require.Equal(t, procedures.Clause("(c)(7)(i)(A)"), clauseIn(t, begin()), "from the first training on, everybody's counts")
	trained(t, m, ada, six)
	require.NoError(t, begin())
}

// (c)(5)(ii).
func TestLockIsRegisteredByWhoeverReportsItFirst(t *testing.T) {
	m := newMill(t)
	require.NoError(t, m.KeepProgram(t.Context(), NewID(), goodProgram(), sam, six))
	id, at := toWork(t, m, six)
	register, err := m.Locks(t.Context())
	require.NoError(t, err)
	require.Len(t, register, 1)
	require.Equal(t, ada.ID, register[0].Owner)
	require.Equal(t, "red", register[0].Colour)

	err = m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "a-HOIST-disconnect ", KeysInBox: true}}, ben, at)
	require.Error(t, err)
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}}, ben, at))

	bad := register[0]
	bad.Number, bad.Owner, bad.Condition = "B-1", ben.ID, procedures.LockBad
	require.NoError(t, m.KeepLock(t.Context(), NewID(), bad, ben, at))
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.LeftJob}}, ben, at), "it comes off, good or bad")
	var problems plain.Problems
	require.ErrorAs(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}}, ben, at), &problems)
	require.Equal(t, "0", problems[0].Field)
	require.Contains(t, problems[0].Want.String(), "(c)(5)(ii)(A)(1)")
}

// A lapse that comes to light on the job is a departure, once, and no wall.
func TestLapseOnTheJobBecomesOneDeparture(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	found(t, m, ada.ID, at)
	for _, kind := range []procedures.EventKind{procedures.WorkBegan, procedures.WorkEnded} {
		at = at.Add(time.Minute)
		require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: kind}}, ada, at))
	}
	open, err := m.Departures(t.Context(), true, 9)
	require.NoError(t, err)
	require.Len(t, open, 1)
	require.Equal(t, id, open[0].Lockout)
	require.Equal(t, ada.ID, open[0].About)
	require.Equal(t, procedures.EquipmentID("hoist"), open[0].Equipment)
	require.Contains(t, open[0].What, "(c)(7)(iii)(B)")
	clean(t, m.s)
}

func TestWhatWasBegunByTheUntrainedAndEnteredLateIsADeparture(t *testing.T) {
	m := newMill(t)
	found(t, m, ada.ID, six)
	at := six.Add(2 * time.Hour)
	_, err := m.BeginLockout(t.Context(), NewID(), "hoist", "new latch", at.Add(time.Hour), ada, at)
	require.Equal(t, procedures.Clause("(c)(7)(iii)(B)"), clauseIn(t, err))
	id, err := m.BeginLockoutLate(t.Context(), NewID(), "hoist", "new latch", at.Add(time.Hour), at.Add(-time.Hour), ada, at)
	require.NoError(t, err, "it happened")
	open, err := m.Departures(t.Context(), true, 9)
	require.NoError(t, err)
	require.Len(t, open, 1)
	require.Equal(t, id, open[0].Lockout)
	require.True(t, open[0].Happened.Equal(at.Add(-time.Hour)))
}

// A live beginning that waited for an entry made meanwhile isn't late, which
// would let it past the gate.
func TestBeginningThatWaitedItsTurnIsNotLate(t *testing.T) {
	m := newMill(t)
	require.NoError(t, m.KeepProgram(t.Context(), NewID(), goodProgram(), sam, six.Add(time.Second)))
	id, err := m.BeginLockout(t.Context(), NewID(), "hoist", "new latch", six.Add(time.Hour), ada, six)
	require.NoError(t, err)
	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	require.False(t, l.Events[0].Late)
	cal := procedures.Person{ID: "cal", Name: "Cal", Role: procedures.Operator, Authorized: true}
	_, err = m.BeginLockout(t.Context(), NewID(), "carriage", "x", six.Add(time.Hour), cal, six)
	require.Error(t, err)
}

// (e)(3) and (e)(3)(iii): the mill's written procedure, and the owner told
// before going to work anywhere.
func TestLockOfSomebodyAbsentComesOffByTheProgramAndIsToldOf(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}}, ben, at))
	late := six.Add(5 * time.Hour) // past the end that was expected
	taken := procedures.Event{Kind: procedures.LockTaken, Lock: "B-1", Program: true, NotHere: "looked in every shed, car gone",
		Tries: []procedures.Try{{At: late.Add(-10 * time.Minute), Way: "telephone", Result: "no answer"}}}
	require.ErrorContains(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{taken}, sam, late), "isn't written in this mill's program", "whatever a form says")
	require.NoError(t, m.KeepProgram(t.Context(), NewID(), goodProgram(), sam, late))
	taken.Program = false // nobody types it: the server knows
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{taken}, sam, late))

	register, err := m.Locks(t.Context())
	require.NoError(t, err)
	require.Len(t, procedures.UntoldOf(ben.ID, register), 1)
	join := []procedures.Event{{Kind: procedures.Joined, Lock: "B-2", KeysInBox: true}}
	late = late.Add(time.Minute)
	require.Error(t, m.LockoutEvents(t.Context(), NewID(), id, join, ben, late))
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.ToldOfLock, Lock: "B-1"}}, ben, late))
	register, err = m.Locks(t.Context())
	require.NoError(t, err)
	require.Empty(t, procedures.UntoldOf(ben.ID, register))
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, join, ben, late))

	sameAgain(t, m.s)
	clean(t, m.s)
}

// (c)(1), (c)(6)(ii): the three lights; a certificate stays as it was signed.
func TestProgramStateFollowsFromTheRecord(t *testing.T) {
	m := newMill(t)
	states, err := m.ProgramState(t.Context(), six)
	require.NoError(t, err)
	require.Len(t, states, 1)
	require.True(t, states[0].Lights.Ready())
	later := six.AddDate(1, 0, 1)
	states, err = m.ProgramState(t.Context(), later)
	require.NoError(t, err)
	require.Equal(t, procedures.DueAtNextUse, states[0].Due.State)
	require.False(t, states[0].Lights.Inspected.On)

	found(t, m, ada.ID, later)
	states, err = m.ProgramState(t.Context(), later)
	require.NoError(t, err)
	require.True(t, states[0].Lights.Inspected.On)
	require.False(t, states[0].Lights.Trained.On, "Ada is trained again first")
	all, err := m.ProcedureInspections(t.Context(), "hoist")
	require.NoError(t, err)
	require.Len(t, procedures.OpenActions(all, nil, later), 1)
	require.NoError(t, m.SeeToFinding(t.Context(), NewID(), all[0].ID, 0, "talked over", sam, later))
	require.ErrorContains(t, m.SeeToFinding(t.Context(), NewID(), all[0].ID, 0, "again", sam, later), "already")
}
