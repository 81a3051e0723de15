package lift_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// OSHA, Guidance on Safe Sling Use, Table 1 (Grade 80) and Table 2 (Grade 100),
// lb; at 30° the two-leg figure is that of one leg pulled straight.
func TestRatedLoadLeftEmptyIsFilledFromThePublishedTable(t *testing.T) {
	for _, cell := range []struct {
		grade  lift.Grade
		size   lift.ChainSize
		column lift.Column
		lb     float64
		table  string
	}{
		{lift.Grade80, lift.Chain9_32, lift.OneLeg, 3500, "Table 1"}, {lift.Grade80, lift.Chain3_8, lift.OneLeg, 7100, "Table 1"},
		{lift.Grade80, lift.Chain3_8, lift.TwoLegs60, 12300, "Table 1"}, {lift.Grade80, lift.Chain3_8, lift.TwoLegs45, 10000, "Table 1"},
		{lift.Grade80, lift.Chain3_8, lift.TwoLegs30, 7100, "Table 1"}, {lift.Grade80, lift.Chain1_2, lift.TwoLegs60, 20800, "Table 1"},
		{lift.Grade100, lift.Chain3_8, lift.OneLeg, 8800, "Table 2"}, {lift.Grade100, lift.Chain3_8, lift.TwoLegs60, 15200, "Table 2"},
		{lift.Grade100, lift.Chain5_8, lift.TwoLegs45, 32000, "Table 2"},
	} {
		r := legRig(cell.grade, cell.size, cell.column, 0)
		filled, links, err := r.Fill()
		require.NoError(t, err)
		require.Equal(t, []int{5}, links)
		require.InDelta(t, cell.lb*float64(plain.Pound), legOf(filled).RatedLoad, 1e-9)
		leg := legOf(r)
		_, from, ok := leg.Table()
		require.True(t, ok)
		require.Contains(t, from, cell.table)
		require.Zero(t, legOf(r).RatedLoad, "the rig itself is left alone")
	}
}

func legRig(grade lift.Grade, size lift.ChainSize, column lift.Column, lb float64) lift.Rig {
	r := registeredRig()
	l := &r.Links[5]
	l.Grade, l.Size, l.MarkedFor, l.RatedLoad, l.TagReadable = grade, size, column, lb*float64(plain.Pound), true
	return r
}

func TestRatedLoadIsOverriddenOnlyDownward(t *testing.T) {
	for _, tc := range []struct {
		lb float64
		ok bool
	}{{12300, true}, {12299, true}, {500, true}, {12400, false}, {50000, false}} {
		filled, links, err := legRig(lift.Grade80, lift.Chain3_8, lift.TwoLegs60, tc.lb).Fill()
		require.Empty(t, links)
		require.InDelta(t, tc.lb*float64(plain.Pound), legOf(filled).RatedLoad, 1e-9, "what was typed is kept")
		if tc.ok {
			require.NoError(t, err)
			continue
		}
		var bad plain.Problems
		require.ErrorAs(t, err, &bad)
		require.Equal(t, "link-6-rated-load", bad[0].Field)
		require.Contains(t, bad[0].Want.String(), "Table 1")
	}
}

func TestNothingIsFilledOfALegThatHasNoRating(t *testing.T) {
	for _, r := range []lift.Rig{legRig(lift.GradeUnknown, lift.Chain3_8, lift.OneLeg, 0), legRig(lift.Grade80, lift.SizeUnknown, lift.OneLeg, 0),
		legRig(lift.Grade80, lift.Chain3_8, lift.ColumnUnknown, 0), legRig(lift.Grade70, lift.Chain3_8, lift.OneLeg, 0), legRig(lift.NotChain, lift.Chain3_8, lift.OneLeg, 0),
		legRig(lift.Grade100, lift.Chain1_1_4, lift.OneLeg, 0), unreadable(legRig(lift.Grade80, lift.Chain3_8, lift.OneLeg, 0)), registeredRig()} {
		filled, links, err := r.Fill()
		require.NoError(t, err)
		require.Empty(t, links)
		require.Equal(t, r, filled)
	}
}

func unreadable(r lift.Rig) lift.Rig {
	r.Links[5].TagReadable = false
	return r
}

func TestNamedSettingFillsYokeAndLegs(t *testing.T) {
	r := registeredRig()
	r.Settings = []lift.Setting{{Name: "1st hole", YokeWidth: 1, LegLength: 0.7}, {Name: "2nd hole", YokeWidth: 1.3, LegLength: 0.8, SecondLeg: 0.9}}
	r.Setting, r.YokeWidth, r.LegLength, r.SecondLeg = "2nd hole", 0, 0, 0
	filled, _, err := r.Fill()
	require.NoError(t, err)
	require.Equal(t, []float64{1.3, 0.8, 0.9}, []float64{filled.YokeWidth, filled.LegLength, filled.SecondLeg})
	r.YokeWidth = 1
	_, _, err = r.Fill()
	var bad plain.Problems
	require.ErrorAs(t, err, &bad)
	require.Equal(t, "yoke-width", bad[0].Field)
	r.Setting = "a hole of no name"
	_, _, err = r.Fill()
	require.NoError(t, err)
}

func TestDestroyedPartNeverComesBack(t *testing.T) {
	was, now := registeredRig(), registeredRig()
	was.Links[5].State = lift.Destroyed
	var bad plain.Problems
	require.ErrorAs(t, now.KeepsDestroyed([]lift.Version{{Rig: was}, {Rig: registeredRig(), InForce: true}}), &bad, "in whichever version it was entered")
	require.Equal(t, "link-6-state", bad[0].Field)
	for _, state := range []lift.State{lift.StateUnknown, lift.InService, lift.OutOfService} {
		now.Links[5].State = state
		require.Error(t, now.KeepsDestroyed([]lift.Version{{Rig: was}}))
	}
	now.Links[5].State = lift.Destroyed
	require.NoError(t, now.KeepsDestroyed([]lift.Version{{Rig: was}}))
	now.Links[5].ID, now.Links[5].State = "new legs", lift.InService
	require.Error(t, now.KeepsDestroyed([]lift.Version{{Rig: was}}), "under another id, and no tag tells it apart")
	now.Links[5].Tag = "L-2"
	require.NoError(t, now.KeepsDestroyed([]lift.Version{{Rig: was}}), "another part in its place")
	require.NoError(t, now.KeepsDestroyed(nil))
	gone, left := was.Links[5], now.Links[5]
	require.Error(t, gone.MayPass())
	require.NoError(t, left.MayPass())
	require.Equal(t, lift.Destroyed, legOf(was.Registered([]lift.Looked{look(lift.EveryYear, true, 300)}, nil)).State, "nor by the register")
}

func TestNamesOfSettingsAreTakenOutWithWhatElsePeopleWrote(t *testing.T) {
	r := registeredRig()
	r.Setting, r.Links[5].Tag = "Quist's hole", "read by Quist"
	r.Settings = []lift.Setting{{Name: "Quist's hole", YokeWidth: 1, LegLength: 0.7}, {Name: "2nd", YokeWidth: 1.3, LegLength: 0.8}}
	bare, texts := r.WithoutTexts()
	text, err := json.Marshal(bare)
	require.NoError(t, err)
	require.NotContains(t, string(text), "Quist")
	require.Equal(t, r, bare.WithTexts(texts))
	require.Equal(t, "Quist's hole", r.Settings[0].Name, "the rig itself is left alone")
	older := bare.WithTexts(texts[:2+len(r.Links)])
	require.Equal(t, "read by Quist", older.Links[5].Tag, "kept before settings were")
}
