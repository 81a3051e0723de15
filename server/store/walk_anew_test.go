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
