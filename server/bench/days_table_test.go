package bench

import (
	"database/sql"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// What was signed by day, list and person: counted from the rows, and as it is kept.
const (
	daysGrouped = `SELECT entries.day, inspections.list, inspections.signer, count(*), sum(json_extract(inspections.doc, '$.late'))
		FROM entries JOIN inspections ON inspections.mill = entries.mill AND inspections.id = entries.subject
		WHERE entries.mill = ? AND entries.kind = 'inspection' AND entries.day BETWEEN ? AND ?
		AND inspections.id NOT IN (SELECT id FROM misdated WHERE mill = entries.mill AND kind = 'inspection')
		GROUP BY entries.day, inspections.list, inspections.signer ORDER BY 1, 2, 3`
	daysKept = `SELECT day, list, signer, signed, late FROM signed_days WHERE mill = ? AND day BETWEEN ? AND ? ORDER BY 1, 2, 3`
)

// measureDays holds the counts kept of 90 days against a GROUP BY of their rows, in
// the mill of r, whose database lies in dir.
func measureDays(t *testing.T, b *table, r *reader, dir string) ratio {
	db, err := sql.Open(engine(), "file:"+filepath.Join(dir, store.FileName)+"?mode=ro")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	db.SetMaxOpenConns(1)
	about, err := r.store.TheMill(t.Context())
	require.NoError(t, err)
	type count struct {
		day, list, signer string
		signed, late      int
	}
	ask := func(statement string) func() (all []count) {
		prepared, err := db.Prepare(statement)
		require.NoError(t, err)
		return func() (all []count) {
			rows, err := prepared.Query(about.ID, r.now.AddDate(0, 0, -89).Format(time.DateOnly), r.now.Format(time.DateOnly))
			require.NoError(t, err)
			for rows.Next() {
				var c count
				require.NoError(t, rows.Scan(&c.day, &c.list, &c.signer, &c.signed, &c.late))
				all = append(all, c)
			}
			require.NoError(t, rows.Err())
			return all
		}
	}
	grouped, kept := ask(daysGrouped), ask(daysKept)
	require.NotEmpty(t, kept())
	require.Equal(t, grouped(), kept())
	quickest := func(of func() []count) time.Duration {
		best := time.Hour
		for range 5 {
			began := time.Now()
			of()
			best = min(best, time.Since(began))
		}
		return best
	}
	from, counted := make([]time.Duration, rounds), make([]time.Duration, rounds)
	turnsOf(rounds, func(n int) { from[n] = quickest(grouped) }, func(n int) { counted[n] = quickest(kept) })
	b.say("What was signed in 90 days, by day, list and person (%d counts): %s from the rows, %s from what is kept with each entry; they are equal.\n\n", len(kept()), millis(slices.Min(from)), millis(slices.Min(counted)))
	return ratio{name: "pages/days", says: "signed by day in 90 days: time of a GROUP BY of the rows / of the counts kept", least: 100,
		rounds: perRound(rounds, func(n int) float64 { return from[n].Seconds() / counted[n].Seconds() })}
}
