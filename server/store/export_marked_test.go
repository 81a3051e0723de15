package store

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// What is kept back and what is no longer kept are told apart, and neither reads
// as if nothing had been said.
func TestAWithheldValueIsMarkedInTheSentence(t *testing.T) {
	m := newMill(t)
	_, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	_, err = m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "hoist", What: "hook bent"}, ben, six)
	require.NoError(t, err)
	what := func(w Withhold) string {
		all := exportOf(t, m, Selection{}, w)
		d, ok := all[len(all)-1].Marked("withheld", "no longer kept").Body.(checklists.Defect)
		require.True(t, ok)
		return d.What
	}
	require.Equal(t, "hook bent", what(Withhold{Names: true, Photos: true}))
	require.Equal(t, "withheld", what(Withhold{Notes: true}))
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
		return tx.db.Exec("DELETE FROM openings WHERE value = 'hook bent'").Error
	}))
	require.Equal(t, "no longer kept", what(Withhold{}))
	require.Equal(t, "no longer kept", what(Withhold{Notes: true}))
}

func TestExportSizeIsWhatTheExportHolds(t *testing.T) {
	m := newMill(t)
	_, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	fill(t, m)
	day := exportOf(t, m, Selection{}, Withhold{})[0].Row.Columns.Day
	for _, s := range []Selection{{}, {From: day, Until: day}, {Equipment: "hoist"}, {Person: ben.ID}, {Equipment: "hoist", Person: ben.ID}, {Subject: string(ben.ID)}, {From: "2100-01-01"}} {
		n, err := m.ExportSize(t.Context(), s)
		require.NoError(t, err)
		require.EqualValues(t, len(exportOf(t, m, s, Withhold{})), n, s)
	}
}
