package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// An inspection keeps its version for as long as what was seen stands. One begun
// long ago under a version that was replaced since is not signed: it goes on as
// one of the new version, and every answer is given again.
func TestInspectionOvertakenByANewVersionIsBegunAnewAndLosesNothing(t *testing.T) {
	m, ctx := newMill(t), t.Context()
	id, err := m.BeginWalk(ctx, NewID(), "short", ada, six)
	require.NoError(t, err)
	require.NoError(t, m.TakeAnswers(ctx, id, answers(six), ada, six))
	l := shortList()
	l.Items[1].Prompt = "Play of the knees at the rail"
	d, err := DraftOf(Lists, "short", l.Title, l)
	require.NoError(t, err)
	require.NoError(t, m.KeepDraft(ctx, d, six))
	require.NoError(t, m.ReleaseList(ctx, NewID(), Release{Draft: must(t)(m.Draft(ctx, Lists, "short")), Over: 1}, sam, six.Add(time.Hour)))

	soon, late := six.Add(checklists.AnswerLasts), six.Add(checklists.AnswerLasts+time.Minute)
	again, err := m.BeginWalk(ctx, NewID(), "short", ada, soon)
	require.NoError(t, err)
	w, err := m.Walk(ctx, again)
	require.NoError(t, err)
	require.Equal(t, []any{id, 1, six}, []any{again, w.List.Version, w.Began.UTC()}, "what was seen stands still")

	var no *plain.Refusal
	_, err = m.SignInspection(ctx, NewID(), id, ada, late, late)
	require.ErrorAs(t, err, &no)
	w, err = m.Walk(ctx, id)
	require.NoError(t, err)
	require.NotEmpty(t, w.Answers, "nothing is thrown away")
	before := w.Answers

	again, err = m.BeginWalk(ctx, NewID(), "short", ada, late)
	require.NoError(t, err)
	w, err = m.Walk(ctx, again)
	require.NoError(t, err)
	require.Equal(t, []any{id, 2, late}, []any{again, w.List.Version, w.Began.UTC()})
	require.Len(t, w.Answers, len(before))
	for n, a := range w.Answers {
		require.Equal(t, before[n].Carried(), a)
		require.Zero(t, a.At)
	}
	var bad plain.Problems
	_, err = m.SignInspection(ctx, NewID(), id, ada, late, late)
	require.ErrorAs(t, err, &bad)
	require.NotNil(t, bad.For("C1"), "answered again first")
	require.NoError(t, m.TakeAnswers(ctx, id, answers(late), ada, late))
	_, err = m.SignInspection(ctx, NewID(), id, ada, late, late)
	require.NoError(t, err)
	in, _, err := m.Inspection(ctx, id)
	require.NoError(t, err)
	require.Equal(t, 2, in.Version)
}

func must(t *testing.T) func(Draft, error) Draft {
	return func(d Draft, err error) Draft {
		t.Helper()
		require.NoError(t, err)
		return d
	}
}

// What a phone had without contact counts where it was in force not longer ago than
// an answer lasts, by when the versions were published.
func TestACheckBegunWithoutContactGoesByTheVersionThePhoneHad(t *testing.T) {
	m, ctx := newMill(t), t.Context()
	l := shortList()
	l.Items[1].Prompt = "Play of the knees at the rail"
	d, err := DraftOf(Lists, "short", l.Title, l)
	require.NoError(t, err)
	require.NoError(t, m.ReleaseList(ctx, NewID(), Release{Draft: d, Over: 1}, sam, six.Add(time.Hour)))
	for _, tc := range []struct {
		why     string
		seen    time.Duration // after six, when the second was published an hour later
		version int
	}{
		{"begun before the second was published", time.Minute, 1},
		{"begun soon after, on a phone that did not know", 2 * time.Hour, 1},
		{"begun so long after that it should have known", time.Hour + checklists.AnswerLasts + time.Minute, 2},
	} {
		now := six.Add(tc.seen + time.Hour)
		id, err := m.BeginWalkAs(ctx, NewID(), Beginning{List: "short", Walk: checklists.InspectionID(NewID()), Version: 1, Seen: six.Add(tc.seen)}, ada, now)
		require.NoError(t, err)
		w, err := m.Walk(ctx, id)
		require.NoError(t, err)
		require.Equal(t, tc.version, w.List.Version, tc.why)
		require.NoError(t, m.s.writer.do(ctx, func(tx *Tx) error { return tx.gorm().Delete(&walkRow{}, "mill = ?", m.id).Error }))
	}
}
