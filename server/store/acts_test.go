package store

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

func TestDraftIsNotWrittenOverWhatSomebodyElseChanged(t *testing.T) {
	m := newMill(t)
	mine, err := DraftOf(Lists, "weekly", "Weekly", shortList())
	require.NoError(t, err)
	require.NoError(t, m.KeepDraft(t.Context(), mine, six))
	require.NoError(t, m.KeepDraft(t.Context(), mine, six), "the same text sent twice")
	mine.Revision = 1
	theirs := mine
	theirs.Title = "Weekly, theirs"
	require.NoError(t, m.KeepDraft(t.Context(), theirs, six))
	mine.Title = "Weekly, mine"
	require.ErrorIs(t, m.KeepDraft(t.Context(), mine, six), ErrChanged)
	kept, err := m.Draft(t.Context(), Lists, "weekly")
	require.NoError(t, err)
	require.Equal(t, "Weekly, theirs", kept.Title)
	require.Equal(t, 2, kept.Revision)
	unknown := mine
	unknown.ID, unknown.Revision = "gone", 4
	require.ErrorIs(t, m.KeepDraft(t.Context(), unknown, six), ErrChanged, "published or thrown away meanwhile")
}

func TestPublishedVersionsCountUpAndStay(t *testing.T) {
	m := newMill(t) // version 1
	for version := 2; version <= 3; version++ {
		l := shortList()
		l.Title = "Short list, longer"
		l.Items = l.Items[:8-version]
		d, err := DraftOf(Lists, "short", l.Title, l)
		require.NoError(t, err)
		require.NoError(t, m.KeepDraft(t.Context(), d, six))
		require.ErrorIs(t, m.Publish(t.Context(), NewID(), Lists, "short", 7, sam, six, nil), ErrChanged, "a revision nobody read")
		require.NoError(t, m.Publish(t.Context(), NewID(), Lists, "short", 1, sam, six, nil))
		_, err = m.Draft(t.Context(), Lists, "short")
		require.ErrorIs(t, err, ErrNotFound, "the draft is used up")
	}
	for version, items := range map[int]int{1: 7, 2: 6, 3: 5, 0: 5} {
		l, err := m.List(t.Context(), "short", version)
		require.NoError(t, err)
		require.Len(t, l.Items, items)
		if version > 0 {
			require.Equal(t, version, l.Version)
		}
	}
	inForce, err := m.InForce(t.Context(), Lists)
	require.NoError(t, err)
	require.Len(t, inForce, 1)
	require.Equal(t, 3, inForce[0].Version)
}

func TestPublishingIsForSupervisorsAndForWholeDocuments(t *testing.T) {
	m := newMill(t)
	l := shortList()
	l.Items[0].Prompt = ""
	d, err := DraftOf(Lists, "short", "Short", l)
	require.NoError(t, err)
	require.NoError(t, m.KeepDraft(t.Context(), d, six))
	before := clean(t, m.s)
	var refusal *plain.Refusal
	require.ErrorAs(t, m.Publish(t.Context(), NewID(), Lists, "short", 1, ada, six, nil), &refusal)
	var problems plain.Problems
	require.ErrorAs(t, m.Publish(t.Context(), NewID(), Lists, "short", 1, sam, six, nil), &problems)
	require.NotNil(t, problems.For("items.C1.prompt"))
	require.Equal(t, before, clean(t, m.s))
	_, err = m.Draft(t.Context(), Lists, "short")
	require.NoError(t, err, "what was written is still there")
}

func TestGoodAnswersAreKeptBesideBadOnes(t *testing.T) {
	m := newMill(t)
	id, err := m.BeginWalk(t.Context(), NewID(), "short", ada, six)
	require.NoError(t, err)
	err = m.TakeAnswers(t.Context(), id, []checklists.Answer{
		{Item: "C1", Result: checklists.OK},
		{Item: "C5", Result: checklists.NotChecked}, // no reason
		{Item: "C4", Result: checklists.OK},         // no run check
		{Item: "C7", Result: checklists.OK},
	}, ada, six)
	var problems plain.Problems
	require.ErrorAs(t, err, &problems)
	require.NotNil(t, problems.For("C5.note"))
	require.NotNil(t, problems.For("C4.result"))
	w, err := m.Walk(t.Context(), id)
	require.NoError(t, err)
	require.Len(t, w.Answers, 2)
	require.Equal(t, checklists.ItemID("C1"), w.Answers[0].Item)
	require.Equal(t, ada.ID, w.Answers[1].By)

	err = m.TakeAnswers(t.Context(), "no-such-walk", nil, ada, six)
	require.ErrorIs(t, err, ErrNotFound)
}

func TestSigningTwiceSignsOnce(t *testing.T) {
	m := newMill(t)
	submission := NewID()
	in := signed(t, m, submission, ada, six)
	before := clean(t, m.s)
	again, err := m.SignInspection(t.Context(), submission, in, ada, six.Add(time.Hour), time.Time{})
	require.NoError(t, err)
	require.Equal(t, in, again)
	_, err = m.SignInspection(t.Context(), NewID(), in, ada, six.Add(time.Hour), time.Time{})
	require.ErrorIs(t, err, ErrNotFound, "the walk is signed and gone")
	require.Equal(t, before, clean(t, m.s))
	kept, seq, err := m.Inspection(t.Context(), in)
	require.NoError(t, err)
	require.Equal(t, before-1, seq)
	require.Equal(t, "plate loose", kept.Answers[2].Note, "personal fields are shown to those who may see them")
	_, leaf, err := m.Leaf(t.Context(), seq)
	require.NoError(t, err)
	require.NotContains(t, string(leaf), "plate loose", "and stand in no leaf")
}

func TestWhatAnInspectionAndItsAmendmentFoundStandsAsDefects(t *testing.T) {
	m := newMill(t)
	in := signed(t, m, NewID(), ada, six)
	found, err := m.DefectsOf(t.Context(), in, six.Add(-time.Hour), six.Add(time.Hour))
	require.NoError(t, err)
	require.Len(t, found, 1)
	require.Equal(t, "plate loose", found[0].What)
	again := checklists.Answer{Item: "C5", Result: checklists.Found, Note: "latch bent", StopGap: "wired shut", MendBy: six.Add(48 * time.Hour)}
	require.NoError(t, m.AmendInspection(t.Context(), NewID(), in, []checklists.Answer{again}, ben, six.Add(2*time.Minute)))
	facts, err := m.Facts(t.Context(), six.Add(3*time.Minute))
	require.NoError(t, err)
	require.Len(t, facts.Defects, 2)
	require.Equal(t, "latch bent", facts.Defects[1].What)
	require.Equal(t, in, facts.Defects[1].Inspection)
}

func TestUnfinishedWalkIsNotSigned(t *testing.T) {
	m := newMill(t)
	id, err := m.BeginWalk(t.Context(), NewID(), "short", ada, six)
	require.NoError(t, err)
	require.NoError(t, m.TakeAnswers(t.Context(), id, answers(six)[:3], ada, six))
	_, err = m.SignInspection(t.Context(), NewID(), id, ada, six, time.Time{})
	var problems plain.Problems
	require.ErrorAs(t, err, &problems)
	require.NotNil(t, problems.For("C7"))
	w, err := m.Walk(t.Context(), id)
	require.NoError(t, err)
	require.Len(t, w.Answers, 3, "nothing entered is lost")
}

func TestSecondMillInTheSameDatabaseIsRefused(t *testing.T) {
	m := newMill(t)
	err := m.s.SetUp(t.Context(), SetUp{Mill: millOf("other"), Plant: plantOf(), Supervisor: sam, Digest: "x", At: six})
	var refusal *plain.Refusal
	require.ErrorAs(t, err, &refusal)
	require.False(t, errors.Is(err, ErrNotFound))
}

// Walks are begun, signed and gone while somebody else looks at all that are under
// way.
func TestWalksAreToldWhileOthersAreSigned(t *testing.T) {
	m := newMill(t)
	done := make(chan error, 1)
	go func() {
		var err error
		for i := 0; i < 60 && err == nil; i++ {
			var id checklists.InspectionID
			at := six.Add(time.Duration(i) * time.Minute)
			if id, err = m.BeginWalk(t.Context(), NewID(), "short", ada, at); err == nil {
				err = m.TakeAnswers(t.Context(), id, answers(at), ada, at)
			}
			if err == nil {
				_, err = m.SignInspection(t.Context(), NewID(), id, ada, at, time.Time{})
			}
		}
		done <- err
	}()
	for looks := 0; ; looks++ {
		_, err := m.Walks(t.Context())
		require.NoError(t, err, "look %d", looks)
		select {
		case err := <-done:
			require.NoError(t, err)
			require.Positive(t, looks)
			return
		default:
		}
	}
}
