package store

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// What is kept in memory of weighings and gear is what the tables say: after a
// further one, after one taken back, and after words were dropped.
func TestRowsKeptInMemoryAreThoseOfTheTables(t *testing.T) {
	ctx := t.Context()
	m := newMill(t)
	h := fill(t, m)
	at := six.Add(20 * time.Hour)
	same := func() (Gear, []Weighed) {
		t.Helper()
		known, err := gear(ctxReader{m, ctx}, string(m.id), "main-hoist")
		require.NoError(t, err)
		anew, err := gear(&Tx{db: m.gorm()}, string(m.id), "main-hoist")
		require.NoError(t, err)
		assert.Equal(t, anew, known)
		weights, err := weighed(ctxReader{m, ctx}, string(m.id))
		require.NoError(t, err)
		read, err := readWeighed(m, string(m.id))
		require.NoError(t, err)
		assert.Equal(t, read, weights)
		return known, weights
	}
	before, weights := same()
	require.NotEmpty(t, before.inspections)
	require.NotEmpty(t, weights)

	inspect := func(tx *Tx) error {
		in := GearInspection{ID: NewID(), Rig: "main-hoist", Link: "legs", Note: "seen by somebody"}
		return tx.db.Create(&gearInspectionRow{Mill: string(m.id), ID: in.ID, Rig: in.Rig, Link: in.Link, At: millis(at), Doc: in}).Error
	}
	gone := errors.New("taken back")
	require.ErrorIs(t, m.s.writer.do(ctx, func(tx *Tx) error {
		require.NoError(t, inspect(tx))
		inside, err := gear(tx, string(m.id), "main-hoist")
		require.NoError(t, err)
		assert.Len(t, inside.inspections, len(before.inspections)+1)
		return gone
	}), gone)
	after, _ := same()
	assert.Equal(t, before, after)

	require.NoError(t, m.s.writer.do(ctx, inspect))
	more, _ := same()
	assert.Len(t, more.inspections, len(before.inspections)+1)
	_, err := m.KeepWeighing(ctx, NewID(), Weighing{Lift: h.Lift, Reading: 214, Gear: 14.5, Note: "again"}, ada, at, func(Lift) error { return nil })
	require.NoError(t, err)
	_, weights = same()
	assert.Equal(t, 214.0, weights[0].Weighing.Reading)

	require.NoError(t, m.s.writer.do(ctx, func(tx *Tx) error {
		var ids []string
		require.NoError(t, tx.db.Raw("SELECT id FROM gear_inspections").Scan(&ids).Error)
		for _, id := range ids {
			alterDoc(t, tx.db, "gear_inspections", id, func(doc map[string]any) { doc["note"] = "" })
		}
		return nil
	}))
	m.s.kept.forget()
	dropped, _ := same()
	for _, in := range dropped.inspections {
		assert.Empty(t, in.Note)
	}
}

// The rules are asked once about a weighing that is kept, and again about one read anew.
func TestWeighingIsReckonedOnce(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	asked := 0
	work := func(w Weighed) (lift.Weighing, bool, error) {
		asked++
		return lift.Weighing{Lift: w.Lift.ID}, true, nil
	}
	for range 3 {
		all, err := weighed(ctxReader{m, t.Context()}, string(m.id))
		require.NoError(t, err)
		w, fits, err := all[0].Reckoned(work)
		require.NoError(t, err)
		assert.True(t, fits)
		assert.Equal(t, all[0].Lift.ID, w.Lift)
	}
	assert.Equal(t, 1, asked)
	_, _, err := Weighed{}.Reckoned(work)
	require.NoError(t, err)
	assert.Equal(t, 2, asked)
}
