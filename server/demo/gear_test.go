package demo_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

// registered is the rig in force with what the register says of it.
func (m told) registered(t *testing.T) (lift.Rig, store.Gear) {
	t.Helper()
	rig, _, err := m.Rig(t.Context(), "main-hoist", 0)
	require.NoError(t, err)
	known, err := m.Gear(t.Context(), "main-hoist")
	require.NoError(t, err)
	return known.Registered(rig, m.now), known
}

// gearStands: no part is overdue, worn, idle or found not fit at now.
func gearStands(t *testing.T, m told) {
	rig, _ := m.registered(t)
	for i := range rig.Links {
		l := &rig.Links[i]
		require.Equal(t, lift.InService, l.State, l.Name)
		require.True(t, l.InspectionDue.After(m.now), "%s is due %s", l.Name, l.InspectionDue)
		idle, _ := l.Idle()
		require.True(t, idle.Empty(), l.Name)
	}
	for _, fault := range rig.Faults(m.now) {
		require.False(t, fault.Blocks, "%v", fault.Said)
	}
}

// gear: every part was looked over each month by somebody qualified, some with
// a photo, and what is measured wears toward its limit.
func gear(t *testing.T, m told) {
	rig, known := m.registered(t)
	crew, err := m.People(t.Context())
	require.NoError(t, err)
	people := map[procedures.PersonID]procedures.Person{}
	for _, p := range crew {
		people[p.ID] = p
	}
	photos := 0
	for i := range rig.Links {
		l := &rig.Links[i]
		inspections, _ := known.Of(&rig, l.ID)
		require.GreaterOrEqual(t, len(inspections), 3, l.Name)
		last := inspections[0].At
		for _, in := range inspections {
			require.True(t, people[in.By].QualifiedLifting, l.Name)
			require.False(t, in.At.After(last.AddDate(0, 1, 0)), "%s went over a month", l.Name)
			last = in.At
			if in.Photo != "" {
				photos++
				_, err := m.Photo(t.Context(), in.Photo)
				require.NoError(t, err)
			}
		}
	}
	require.GreaterOrEqual(t, photos, 2)
	gearStands(t, m)

	series, last := map[string][]lift.Sample{}, map[string]lift.Judged{}
	for _, g := range known.Measurements {
		for i := range rig.Links {
			if l := &rig.Links[i]; l.ID == g.Link {
				judged, err := l.Judge(lift.Taken{Link: g.Link, What: g.What, Value: g.Value, New: g.New, At: g.At})
				require.NoError(t, err)
				require.Equal(t, lift.Within, judged.Wear, "%s %s at %s", g.Link, g.What, g.At)
				series[g.Link+" "+g.What], last[g.Link+" "+g.What] = append(series[g.Link+" "+g.What], lift.Sample{At: g.At, Value: g.Value}), judged
			}
		}
	}
	for _, what := range []string{"legs link", "legs reach", "hoist-hook throat", "end-hooks throat"} {
		require.GreaterOrEqual(t, len(series[what]), 4, what)
		foreseen := lift.Foresee(series[what], last[what].Limit, last[what].Least, 0.0001)
		require.True(t, foreseen.Known(), what)
		require.True(t, foreseen.Soonest.After(m.now), "%s may be worn out by %s", what, foreseen.Soonest)
		require.True(t, foreseen.At.Before(m.now.AddDate(2, 0, 0)), "%s lasts until %s", what, foreseen.At)
	}
}

// scale: lifts that were a GO were weighed, of two kinds of wood; one reading is
// flagged, one was put aside by the supervisor, with a note.
func scale(t *testing.T, m told) {
	kept, err := m.Weighed(t.Context())
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(kept), 15)
	require.LessOrEqual(t, len(kept), 25)
	type wood struct {
		kind      string
		condition lift.Condition
	}
	var all []lift.Weighing
	kinds, aside := map[wood]lift.Species{}, 0
	for _, one := range kept {
		require.True(t, one.Lift.Go, one.Lift.At)
		require.Less(t, one.Weighing.At.Sub(one.Lift.At), time.Hour)
		var asked struct{ Piece lift.Piece }
		require.NoError(t, json.Unmarshal(one.Lift.Asked, &asked))
		w, err := lift.CompareScale(asked.Piece, one.Weighing.Reading, one.Weighing.Gear)
		require.NoError(t, err)
		w.Lift, w.Aside, w.Lifted, w.At = one.Lift.ID, one.Weighing.Aside, one.Lift.Go, one.Lift.At
		all = append(all, w)
		kinds[wood{w.Kind, w.Condition}] = asked.Piece.Species
		if w.Aside {
			aside++
			require.NotEmpty(t, one.Weighing.Note)
		}
	}
	require.Len(t, kinds, 2)
	require.Equal(t, 1, aside)
	flagged := 0
	for of, species := range kinds {
		learned, odd := lift.Learn(all, species, of.condition)
		flagged += len(odd)
		require.GreaterOrEqual(t, learned.N, 5, of.kind)
		require.InDelta(t, 1, learned.Mean, 0.1, of.kind)
		require.Greater(t, learned.Spread, 0.015, of.kind)
	}
	require.Equal(t, 1, flagged)
}
