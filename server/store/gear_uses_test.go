package store

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
)

// Of uses in great number the first and last of each few weeks tell of the same idle
// months as all of them.
func TestUsesToldTellOfTheSameIdleMonths(t *testing.T) {
	m := newMill(t)
	begins := six.Add(-900 * 24 * time.Hour)
	rapid.Check(t, func(t2 *rapid.T) {
		day := func(of string) time.Time {
			return begins.Add(time.Duration(rapid.IntRange(0, 800*24).Draw(t2, of)) * time.Hour)
		}
		all := rapid.SliceOfN(rapid.Custom(func(t2 *rapid.T) time.Time { return day("use") }), 0, 60).Draw(t2, "uses")
		if rapid.Bool().Draw(t2, "a time of each day") {
			from := day("from")
			for i := range rapid.IntRange(0, 90).Draw(t2, "days") {
				all = append(all, from.AddDate(0, 0, i), from.AddDate(0, 0, i).Add(time.Hour))
			}
		}
		require.NoError(t2, m.s.writer.do(t.Context(), func(tx *Tx) error {
			if err := tx.db.Exec("DELETE FROM lifts").Error; err != nil {
				return err
			}
			for _, at := range all {
				if err := tx.db.Create(&liftRow{Mill: string(m.id), ID: NewID(), Rig: "rig", Go: true, At: millis(at)}).Error; err != nil {
					return err
				}
			}
			return nil
		}))
		told, err := firstAndLast(ctxReader{m, t.Context()}, "lifts", "mill = ? AND rig = ? AND go = ?", m.id, "rig", true)
		require.NoError(t2, err)
		require.LessOrEqual(t2, len(told), 2*(900/20+1))
		for _, at := range told {
			require.True(t2, slices.ContainsFunc(all, at.Equal), "no other time than was kept")
		}
		rig := lift.Rig{ID: "rig", Links: []lift.Link{{ID: "hook"}}}
		var looked []lift.Looked
		for range rapid.IntRange(0, 3).Draw(t2, "looked") {
			looked = append(looked, lift.Looked{Rig: "rig", Link: "hook", Fit: true, At: day("look"), Every: rapid.SampledFrom([]lift.Every{lift.EveryMonth, lift.EveryYear}).Draw(t2, "every")})
		}
		for range 4 {
			now := day("now")
			require.Equal(t2, rig.Idled(all, looked, now).Links, rig.Idled(told, looked, now).Links)
		}
	})
}
