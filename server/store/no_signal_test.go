package store

import (
	"errors"
	"fmt"
	"net/url"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// withoutContact fills a mill with what phones send after they were without contact.
func withoutContact(t testing.TB, m *Mill, at time.Time) (waits string) {
	t.Helper()
	id, err := m.BeginWalk(t.Context(), NewID(), "short", ada, at)
	require.NoError(t, err)
	another, err := m.BeginWalkAs(t.Context(), NewID(), Beginning{List: "short", Walk: checklists.InspectionID(NewID())}, ada, at)
	require.NoError(t, err)
	require.Equal(t, id, another)
	require.NoError(t, m.TakeSent(t.Context(), id, Sent{Answers: answers(at), Saved: 7, Seen: at.Add(-time.Minute), Submission: NewID()}, ada, at))
	require.NoError(t, m.FinishWalk(t.Context(), NewID(), id, ada, at.Add(-time.Minute), at))
	require.NoError(t, m.SetAside(t.Context(), NewID(), stopWaits(t, m, at), "Jo held the phone, not Al", sam, at))
	require.NoError(t, m.KeepLiftWait(t.Context(), NewID(), url.Values{"length": {"90"}}, ada, at.Add(-time.Minute), at))
	all, err := m.LiftWaits(t.Context(), ada.ID)
	require.NoError(t, err)
	return all[0].ID
}

// stopWaits is a walk of sam's that waits for a signature, with a stop found in it.
func stopWaits(t testing.TB, m *Mill, at time.Time) checklists.InspectionID {
	t.Helper()
	id, err := m.BeginWalk(t.Context(), NewID(), "short", sam, at)
	require.NoError(t, err)
	given := answers(at)
	given[0] = checklists.Answer{Item: "C1", Result: checklists.Found, Note: "dog blunt"}
	require.NoError(t, m.TakeAnswers(t.Context(), id, given, sam, at))
	require.NoError(t, m.FinishWalk(t.Context(), NewID(), id, sam, at, at))
	return id
}

// begun is a walk of ada's on the short list.
func begun(t *testing.T, m *Mill, at time.Time) checklists.InspectionID {
	t.Helper()
	id, err := m.BeginWalk(t.Context(), NewID(), "short", ada, at)
	require.NoError(t, err)
	return id
}

// standing is how each machine stands.
func standingOf(t *testing.T, m *Mill, now time.Time) map[procedures.EquipmentID]checklists.Readiness {
	t.Helper()
	facts, err := m.Facts(t.Context(), now)
	require.NoError(t, err)
	all := map[procedures.EquipmentID]checklists.Readiness{}
	for _, r := range checklists.Ready(facts, now) {
		all[r.Equipment] = r
	}
	return all
}

func holdsOf(r checklists.Readiness, kind checklists.HoldKind) (all []checklists.Hold) {
	for _, h := range r.Holds {
		if h.Kind == kind {
			all = append(all, h)
		}
	}
	return all
}

// allOK answers every item so that nothing holds.
func allOK(m *Mill, t *testing.T, list checklists.ListID) []checklists.Answer {
	t.Helper()
	l, err := m.List(t.Context(), list, 0)
	require.NoError(t, err)
	play := 0.25
	var all []checklists.Answer
	for _, item := range l.Asks() {
		a := checklists.Answer{Item: item.ID, Result: checklists.OK}
		switch {
		case item.State == checklists.Running:
			a = checklists.Answer{Item: item.ID, Result: checklists.NotChecked, Note: "not turned"}
		case item.Kind == checklists.Number:
			a.Number = &play
		case item.Kind == checklists.Text:
			a.Text = "No. 4"
		}
		all = append(all, a)
	}
	return all
}

func TestWhatIsFinishedWithoutContactHoldsUntilItIsSigned(t *testing.T) {
	m := newMill(t)
	signed(t, m, NewID(), sam, six) // the check of before counts
	id := begun(t, m, six.Add(10*time.Minute))
	seen, now := six.Add(20*time.Minute), six.Add(time.Hour)
	require.NoError(t, m.TakeSent(t.Context(), id, Sent{Answers: allOK(m, t, "short"), Seen: seen, Submission: NewID()}, ada, now))
	before := standingOf(t, m, now)
	require.Empty(t, holdsOf(before["hoist"], checklists.HeldUnsigned))
	require.NoError(t, m.FinishWalk(t.Context(), NewID(), id, ada, seen, now))
	for equipment, r := range standingOf(t, m, now) {
		require.Equal(t, checklists.Held, r.Status, equipment)
		held := holdsOf(r, checklists.HeldUnsigned)
		require.Len(t, held, 1, equipment)
		require.Equal(t, "Checked without contact by Ada Rook, not yet signed: Short list", held[0].Reason.String())
		require.Equal(t, string(id), held[0].Ref)
	}
	w, err := m.Walk(t.Context(), id)
	require.NoError(t, err)
	for _, a := range w.Answers {
		require.Equal(t, seen, a.At, "what was seen at six twenty is of six twenty")
	}

	var refusal *plain.Refusal
	_, err = m.SignInspection(t.Context(), NewID(), id, ben, now, time.Time{})
	require.ErrorAs(t, err, &refusal, "another of the crew can't sign it")
	require.ErrorAs(t, m.TakeAnswers(t.Context(), id, allOK(m, t, "short")[:1], ben, now), &refusal, "nor change it")
	require.ErrorAs(t, m.FinishWalk(t.Context(), NewID(), id, ben, seen, now), &refusal)
	require.NotEmpty(t, holdsOf(standingOf(t, m, now)["hoist"], checklists.HeldUnsigned))

	_, err = m.SignInspection(t.Context(), NewID(), id, ada, now, time.Time{})
	require.NoError(t, err)
	for equipment, r := range standingOf(t, m, now) {
		require.Empty(t, holdsOf(r, checklists.HeldUnsigned), equipment)
	}
	require.ErrorIs(t, m.FinishWalk(t.Context(), NewID(), id, ada, seen, now), ErrNotFound, "there is nothing to finish any more")
}

func TestASupervisorSignsInPlaceOfWhoFinished(t *testing.T) {
	m := newMill(t)
	id := begun(t, m, six)
	require.NoError(t, m.TakeAnswers(t.Context(), id, allOK(m, t, "short"), ada, six))
	require.NoError(t, m.FinishWalk(t.Context(), NewID(), id, ada, six, six))
	in, err := m.SignInspection(t.Context(), NewID(), id, sam, six.Add(time.Hour), time.Time{})
	require.NoError(t, err)
	kept, _, err := m.Inspection(t.Context(), in)
	require.NoError(t, err)
	require.Equal(t, sam.ID, kept.Signer)
	require.Equal(t, ada.ID, kept.Answers[0].By, "what was seen stays who saw it")
	require.Empty(t, holdsOf(standingOf(t, m, six.Add(time.Hour))["hoist"], checklists.HeldUnsigned))
}

// A walk lost from its working table leaves the hold standing.
func TestAHoldOutlivesTheWalkItComesFrom(t *testing.T) {
	m := newMill(t)
	id := begun(t, m, six)
	require.NoError(t, m.TakeAnswers(t.Context(), id, allOK(m, t, "short"), ada, six))
	require.NoError(t, m.FinishWalk(t.Context(), NewID(), id, ada, six, six))
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error { return tx.gorm().Delete(&walkRow{}, "mill = ?", m.id).Error }))
	require.NotEmpty(t, holdsOf(standingOf(t, m, six)["hoist"], checklists.HeldUnsigned))
}

func TestAStopFoundAndNotSignedHolds(t *testing.T) {
	m := newMill(t)
	signed(t, m, NewID(), sam, six)
	id := begun(t, m, six.Add(5*time.Minute))
	now := six.Add(10 * time.Minute)
	found := checklists.Answer{Item: "C1", Result: checklists.Found, Note: "dog blunt"}
	require.NoError(t, m.TakeAnswers(t.Context(), id, []checklists.Answer{found}, ada, now))
	r := standingOf(t, m, now)["dogs-and-knees"]
	require.Equal(t, checklists.Held, r.Status)
	held := holdsOf(r, checklists.HeldByFinding)
	require.Len(t, held, 1)
	require.Equal(t, "Found at C1, not yet signed: dog blunt", held[0].Reason.String())
	require.NoError(t, m.TakeAnswers(t.Context(), id, []checklists.Answer{{Item: "C1", Result: checklists.OK}}, ada, now.Add(time.Minute)))
	require.Empty(t, holdsOf(standingOf(t, m, now.Add(time.Minute))["dogs-and-knees"], checklists.HeldByFinding))
}

func TestStaleSavingsAreLeftAside(t *testing.T) {
	m := newMill(t)
	id := begun(t, m, six)
	send := func(saved int64, result checklists.Result, photo string) {
		t.Helper()
		require.NoError(t, m.TakeSent(t.Context(), id, Sent{Answers: []checklists.Answer{{Item: "C1", Result: result, Note: "as seen", Photo: photo}}, Saved: saved}, ada, six))
	}
	answer := func() checklists.Answer {
		w, err := m.Walk(t.Context(), id)
		require.NoError(t, err)
		return w.Answers[0]
	}
	send(20, checklists.Found, "")
	send(10, checklists.OK, "")
	require.Equal(t, checklists.Found, answer().Result, "10 is older than 20")
	send(15, checklists.Found, "digest")
	require.Equal(t, "digest", answer().Photo, "a photo that comes late is of the same that was found")
	send(30, checklists.OK, "")
	require.Equal(t, checklists.OK, answer().Result)
	require.NoError(t, m.TakeSent(t.Context(), id, Sent{Same: []checklists.Answer{{Item: "C1", Result: checklists.OK, Note: "as seen"}}, Saved: 50}, ada, six))
	send(40, checklists.Found, "")
	require.Equal(t, checklists.OK, answer().Result, "said once more at 50")
	require.NoError(t, m.TakeSent(t.Context(), id, Sent{Answers: []checklists.Answer{{Item: "C1", Result: checklists.Found, Note: "blunt"}}, Saved: 1}, ben, six))
	require.Equal(t, checklists.Found, answer().Result, "another's phone counts for itself")
	again := Sent{Answers: []checklists.Answer{{Item: "C1", Result: checklists.OK, Note: "as seen"}}, Saved: 60, Read: six.Add(-time.Minute)}
	require.NoError(t, m.TakeSent(t.Context(), id, again, ada, six))
	require.Equal(t, checklists.Found, answer().Result, "the rest of an old page says nothing new of what another found since")
	again.Saved, again.Read = 70, six.Add(time.Minute)
	require.NoError(t, m.TakeSent(t.Context(), id, again, ada, six))
	require.Equal(t, checklists.OK, answer().Result, "on a page that shows what the other found, it does")
}

func TestWhatAnotherAnsweredSinceIsNotOverwritten(t *testing.T) {
	m := newMill(t)
	id := begun(t, m, six)
	now := six.Add(time.Hour)
	require.NoError(t, m.TakeAnswers(t.Context(), id, []checklists.Answer{{Item: "C1", Result: checklists.Found, Note: "blunt"}}, ben, six.Add(20*time.Minute)))
	err := m.TakeSent(t.Context(), id, Sent{Answers: []checklists.Answer{{Item: "C1", Result: checklists.OK}, {Item: "C5", Result: checklists.OK}}, Seen: six.Add(10 * time.Minute), Submission: NewID()}, ada, now)
	require.ErrorIs(t, err, ErrMeanwhile)
	var problems plain.Problems
	require.ErrorAs(t, err, &problems)
	require.Equal(t, "C1.result", problems[0].Field)
	w, err := m.Walk(t.Context(), id)
	require.NoError(t, err)
	require.Len(t, w.Answers, 2, "what holds of it is kept")
	require.Equal(t, checklists.Found, w.Answers[0].Result)
}

func TestAnswersOfARunCheckThatIsOverAreTakenAndOfOneThatWasStoppedNot(t *testing.T) {
	m := newMill(t)
	id := begun(t, m, six)
	all := allOK(m, t, "short")
	require.NoError(t, m.TakeAnswers(t.Context(), id, append(all[:3:3], all[4:]...), ada, six))
	require.NoError(t, m.AllowRunCheck(t.Context(), NewID(), id, []procedures.EquipmentID{"head-saw"}, ada, six))
	running := []checklists.Answer{{Item: "C4", Result: checklists.OK}}
	var problems plain.Problems
	late := six.Add(2 * time.Hour)
	require.ErrorAs(t, m.TakeSent(t.Context(), id, Sent{Answers: running, Seen: six.Add(time.Hour)}, ada, late), &problems, "seen after it was over")
	require.ErrorAs(t, m.TakeSent(t.Context(), id, Sent{Answers: running, Seen: six.Add(10 * time.Minute)}, ben, late), &problems, "it was another's")
	require.NoError(t, m.TakeSent(t.Context(), id, Sent{Answers: running, Seen: six.Add(10 * time.Minute)}, ada, late), "seen while it lasted")
	_, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "head-saw", What: "tooth gone"}, ben, late)
	require.NoError(t, err)
	err = m.TakeSent(t.Context(), id, Sent{Answers: running, Seen: six.Add(11 * time.Minute)}, ada, late.Add(time.Minute))
	require.ErrorIs(t, err, ErrMeanwhile, "stopped meanwhile")
}

func TestABeginningWithoutContactIsFoundByTheNameThePhoneGave(t *testing.T) {
	m := newMill(t)
	name := checklists.InspectionID(NewID())
	b := Beginning{List: "short", Walk: name, Version: 1, Seen: six.Add(-time.Hour)}
	id, err := m.BeginWalkAs(t.Context(), "first", b, ada, six)
	require.NoError(t, err)
	require.Equal(t, name, id)
	again, err := m.BeginWalkAs(t.Context(), "first", b, ada, six)
	require.NoError(t, err)
	require.Equal(t, id, again)
	again, err = m.BeginWalkAs(t.Context(), "second", b, ada, six)
	require.NoError(t, err)
	require.Equal(t, id, again)
	w, err := m.Walk(t.Context(), id)
	require.NoError(t, err)
	require.Equal(t, b.Seen, w.Began)

	other := checklists.InspectionID(NewID())
	same, err := m.BeginWalkAs(t.Context(), "third", Beginning{List: "short", Walk: other}, ada, six)
	require.NoError(t, err)
	require.Equal(t, id, same)
	called, err := m.WalkNamed(t.Context(), other)
	require.NoError(t, err)
	require.Equal(t, id, called)
	signedAs, err := m.SignInspection(t.Context(), NewID(), finishedOff(t, m, id), ada, six.Add(time.Minute), time.Time{})
	require.NoError(t, err)
	require.Equal(t, id, signedAs)
	after, err := m.BeginWalkAs(t.Context(), "fourth", b, ada, six.Add(time.Hour))
	require.NoError(t, err)
	require.Equal(t, id, after, "signed already: no second one of that name")
	walks, err := m.Walks(t.Context())
	require.NoError(t, err)
	require.Empty(t, walks)
}

// finishedOff answers everything of a walk.
func finishedOff(t *testing.T, m *Mill, id checklists.InspectionID) checklists.InspectionID {
	t.Helper()
	require.NoError(t, m.TakeAnswers(t.Context(), id, allOK(m, t, "short"), ada, six))
	return id
}

// Phones in a bad spot send the same several times, at once and beside others.
func TestTheSameSentByManyAtOnceIsDoneOnce(t *testing.T) {
	m := newMill(t)
	name := checklists.InspectionID(NewID())
	all := allOK(m, t, "short")
	size := func() int64 {
		head, err := m.Head(t.Context())
		require.NoError(t, err)
		return head.Size
	}
	before := size()
	together := func(act func() error) {
		var wait sync.WaitGroup
		errs := make([]error, 12)
		for i := range errs {
			wait.Go(func() { errs[i] = act() })
		}
		wait.Wait()
		require.NoError(t, errors.Join(errs...))
	}
	together(func() error {
		_, err := m.BeginWalkAs(t.Context(), "begin", Beginning{List: "short", Walk: name}, ada, six)
		return err
	})
	for i, a := range all {
		together(func() error {
			return m.TakeSent(t.Context(), name, Sent{Answers: []checklists.Answer{a}, Saved: int64(i + 1), Seen: six, Submission: fmt.Sprint("answer ", i)}, ada, six.Add(time.Minute))
		})
	}
	together(func() error { return m.FinishWalk(t.Context(), "finish", name, ada, six, six.Add(time.Minute)) })
	together(func() error {
		return m.KeepLiftWait(t.Context(), "lift", url.Values{"length": {"90"}}, ada, six, six.Add(time.Minute))
	})
	together(func() error {
		_, err := m.StopIt(t.Context(), "stop", checklists.Defect{Equipment: "hoist", What: "hook bent"}, ada, six.Add(time.Minute))
		return err
	})
	require.Equal(t, before+2, size(), "one entry that it is finished, one of the stop")
	walks, err := m.Walks(t.Context())
	require.NoError(t, err)
	require.Len(t, walks, 1)
	require.Len(t, walks[0].Answers, len(all))
	waits, err := m.LiftWaits(t.Context(), "")
	require.NoError(t, err)
	require.Len(t, waits, 1)
}

func TestALiftThatWaitsIsSeenToByWhoTypedItOrASupervisor(t *testing.T) {
	m := newMill(t)
	require.NoError(t, m.KeepLiftWait(t.Context(), NewID(), url.Values{"length": {"90"}}, ada, six.Add(-time.Minute), six))
	var refusal *plain.Refusal
	require.ErrorAs(t, m.KeepLiftWait(t.Context(), NewID(), nil, rita, six, six), &refusal)
	waits, err := m.LiftWaits(t.Context(), ada.ID)
	require.NoError(t, err)
	one, err := m.LiftWait(t.Context(), waits[0].ID)
	require.NoError(t, err)
	require.Equal(t, "90", one.Fields.Get("length"))
	require.Equal(t, six.Add(-time.Minute), one.Seen)
	require.ErrorAs(t, m.EndLiftWait(t.Context(), one.ID, ben), &refusal)
	require.NoError(t, m.EndLiftWait(t.Context(), one.ID, sam))
	require.NoError(t, m.EndLiftWait(t.Context(), one.ID, ada), "gone already")
}

func TestAClockSetRightForgetsNoStop(t *testing.T) {
	m := newMill(t)
	ahead := six.Add(20 * time.Hour)
	id := begun(t, m, ahead)
	require.NoError(t, m.TakeAnswers(t.Context(), id, []checklists.Answer{{Item: "C1", Result: checklists.Found, Note: "blunt"}, {Item: "C5", Result: checklists.OK}}, ada, ahead))
	signed(t, m, NewID(), ben, ahead)
	require.NoError(t, m.ConfirmClock(t.Context(), NewID(), sam, six))
	w, err := m.Walk(t.Context(), id)
	require.NoError(t, err)
	require.Len(t, w.Answers, 1, "what was answered in time to come is asked again")
	require.NotEmpty(t, holdsOf(standingOf(t, m, six)["dogs-and-knees"], checklists.HeldByFinding), "and a stop holds all the same")
}
