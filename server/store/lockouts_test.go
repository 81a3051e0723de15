package store

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// republished puts the hoist's procedure in force once more.
func republished(t *testing.T, m *Mill, at time.Time) {
	t.Helper()
	p, err := m.Procedure(t.Context(), "hoist", 0)
	require.NoError(t, err)
	p.Purpose, p.Version = p.Purpose+" Written anew.", 0
	d, err := DraftOf(Procedures, "hoist", p.Title, p)
	require.NoError(t, err)
	d.Renewal = procedures.Renewal{Said: true, Substance: true, Why: "said better"}
	require.NoError(t, m.PublishDraft(t.Context(), NewID(), d, sam, at, NumberProcedure))
}

// 29 CFR 1910.147(c)(4)(i): the placard on the wall that day was the version in
// force that day.
func TestALateLockoutGoesByTheVersionThatWasInForceThen(t *testing.T) {
	m := newMill(t)
	republished(t, m, six)
	late := func(began time.Time) (procedures.LockoutID, error) {
		return m.BeginLockoutLate(t.Context(), NewID(), "hoist", "new latch", began.Add(time.Hour), began, ada, six.Add(2*time.Hour))
	}
	id, err := late(six.Add(-5 * time.Hour))
	require.NoError(t, err)
	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	require.Equal(t, 1, l.Procedure.Version)
	require.NotContains(t, l.Procedure.Purpose, "Written anew.")
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Cancelled, Late: true, At: six.Add(-4 * time.Hour)}}, ada, six.Add(2*time.Hour)))
	id, err = late(six) // to the minute
	require.NoError(t, err)
	l, err = m.Lockout(t.Context(), id)
	require.NoError(t, err)
	require.Equal(t, 2, l.Procedure.Version)
	_, err = late(six.AddDate(0, 0, -10))
	require.Equal(t, procedures.Clause("(c)(4)(i)"), clauseIn(t, err))
	require.ErrorContains(t, err, "in force at that time")
	clean(t, m.s)
}

// One that was over before another by the same procedure began doesn't wait for it.
func TestALateLockoutThatWasOverIsEnteredBesideOneUnderWay(t *testing.T) {
	m := newMill(t)
	_, err := m.BeginLockout(t.Context(), NewID(), "hoist", "new chain", six.Add(4*time.Hour), ben, six)
	require.NoError(t, err)
	late := func(began, end time.Time) (procedures.LockoutID, error) {
		return m.BeginLockoutLate(t.Context(), NewID(), "hoist", "new latch", end, began, ada, six.Add(time.Hour))
	}
	_, err = late(six.Add(-2*time.Hour), six.Add(time.Minute))
	require.Equal(t, procedures.Clause("(f)(3)"), clauseIn(t, err))
	require.ErrorContains(t, err, "an end before that one began", "it says what to do")
	_, err = m.BeginLockout(t.Context(), NewID(), "hoist", "new latch", six.Add(4*time.Hour), ada, six.Add(time.Hour))
	require.Equal(t, procedures.Clause("(f)(3)"), clauseIn(t, err))
	id, err := late(six.Add(-2*time.Hour), six)
	require.NoError(t, err)
	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	require.True(t, l.Events[0].Late)
	clean(t, m.s)
}

// An act that waited its turn behind another is dated by its turn, not refused as
// older; what says when it happened keeps that.
func TestALockoutsActThatWaitedItsTurnIsNotOlder(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	waited := at.Add(time.Second)
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}}, ben, at.Add(2*time.Second)))
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{{Kind: procedures.WorkBegan, At: waited}}, ada, waited))
	l, err := m.Lockout(t.Context(), id)
	require.NoError(t, err)
	last := l.Events[len(l.Events)-1]
	require.Equal(t, procedures.WorkBegan, last.Kind)
	require.Equal(t, at.Add(2*time.Second), last.At)
	later := procedures.Event{Kind: procedures.LaterEnd, Until: six.Add(9 * time.Hour), Late: true, At: waited}
	require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{later}, ada, at.Add(time.Minute)))
	l, err = m.Lockout(t.Context(), id)
	require.NoError(t, err)
	require.Equal(t, waited, l.Events[len(l.Events)-3].At, "in its place")
	clean(t, m.s)
}

// 29 CFR 1910.147(c)(4)(i), (c)(7)(iii)(A): dated back before version 2, or begun
// before it, no work is done now by version 1; it is ended.
func TestNoWorkNowByAVersionFromBeforeTheOneInForce(t *testing.T) {
	for _, dated := range []bool{true, false} {
		m := newMill(t)
		at := six.Add(2 * time.Hour)
		if dated {
			republished(t, m, six)
			_, err := m.BeginLockoutLate(t.Context(), NewID(), "hoist", "new latch", at.Add(time.Hour), six.Add(-time.Hour), ada, at)
			require.NoError(t, err)
		} else {
			_, err := m.BeginLockout(t.Context(), NewID(), "hoist", "new latch", at.Add(time.Hour), ada, six)
			require.NoError(t, err)
			republished(t, m, at)
		}
		open, err := m.OpenLockouts(t.Context())
		require.NoError(t, err)
		l := open[0]
		require.Equal(t, 1, l.Procedure.Version)
		report := func(who procedures.Person, e procedures.Event) error {
			at = at.Add(10*time.Second + l.WaitLeft(at))
			err := m.LockoutEvents(t.Context(), NewID(), l.ID, []procedures.Event{e}, who, at)
			l, _ = m.Lockout(t.Context(), l.ID)
			return err
		}
		trained(t, m, ada, at)
		for l.Stage < procedures.Work {
			require.NoError(t, report(ada, nextOf(l)), "steps lead back out")
		}
		for _, e := range []procedures.Event{{Kind: procedures.WorkBegan}, {Kind: procedures.TestAsked, Tools: true}} {
			err := report(ada, e)
			require.ErrorContains(t, err, "Version 2 of this procedure is in force since", e.Kind)
		}
		require.ErrorContains(t, report(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}), "Version 2")
		require.NoError(t, report(ada, procedures.Event{Kind: procedures.WorkEnded}))
		require.Greater(t, l.Stage, procedures.Work)
		clean(t, m.s)
	}
}

// 29 CFR 1910.147(c)(5)(ii), (f)(3)(ii)(C): a lockout that is over had ben's lock on
// while one entered late now had it too.
func TestALateLockoutIsHeldAgainstOneThatIsOver(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	report := func(id procedures.LockoutID, who procedures.Person, now time.Time, e procedures.Event) {
		t.Helper()
		require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{e}, who, now))
	}
	report(id, ben, at, procedures.Event{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true})
	was := at.Add(time.Minute)
	report(id, ben, at.Add(time.Hour), procedures.Event{Kind: procedures.LeftJob})
	at = at.Add(2 * time.Hour)
	report(id, ada, at, procedures.Event{Kind: procedures.WorkEnded})
	for {
		l, err := m.Lockout(t.Context(), id)
		require.NoError(t, err)
		if !l.Open() {
			break
		}
		at = at.Add(time.Minute)
		report(id, ada, at, nextOf(l))
	}
	late, err := m.BeginLockoutLate(t.Context(), NewID(), "hoist", "new chain", was.Add(time.Hour), was, ben, at.Add(time.Hour))
	require.NoError(t, err)
	departed := func(what string) {
		t.Helper()
		l, err := m.Lockout(t.Context(), late)
		require.NoError(t, err)
		found, err := m.LockoutDepartures(t.Context(), l)
		require.NoError(t, err)
		require.True(t, slices.ContainsFunc(found, func(d checklists.Departure) bool { return strings.Contains(d.What, what) }), "%s: %v", what, found)
	}
	departed("Nobody was named to coordinate both")
	for {
		l, err := m.Lockout(t.Context(), late)
		require.NoError(t, err)
		next := nextOf(l)
		next.Late, next.At = true, was.Add(30*time.Minute)
		if next.Kind == procedures.LockApplied {
			next.Lock = "B-1"
		}
		report(late, ben, at.Add(time.Hour), next)
		if next.Kind == procedures.LockApplied {
			break
		}
	}
	departed("Lock B-1 was reported on in another lockout at the same time")
	clean(t, m.s)
}
