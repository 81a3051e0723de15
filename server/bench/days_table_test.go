package bench

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// What was signed of each sort: counted from the rows, and from what is kept.
const (
	daysGrouped = `SELECT %[1]s, count(*), sum(inspections.late)
		FROM entries JOIN inspections ON inspections.mill = entries.mill AND inspections.id = entries.subject
		WHERE entries.mill = ? AND entries.kind = 'inspection' AND entries.day BETWEEN ? AND ?
		AND inspections.id NOT IN (SELECT id FROM misdated WHERE mill = entries.mill AND kind = 'inspection')
		GROUP BY %[1]s ORDER BY %[1]s`
	daysKept = `SELECT %[1]s, sum(signed), sum(late) FROM signed_days WHERE mill = ? AND day BETWEEN ? AND ? GROUP BY %[1]s ORDER BY %[1]s`
)

// measureDays holds the counts kept of 90 days against a GROUP BY of their rows, in
// the mill of r, whose database lies in dir.
func measureDays(t *testing.T, b *table, r *reader, dir string) []ratio {
	db, err := sql.Open(engine(), "file:"+filepath.Join(dir, store.FileName)+"?mode=ro")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	db.SetMaxOpenConns(1)
	about, err := r.store.TheMill(t.Context())
	require.NoError(t, err)
	type count struct {
		of           [3]string
		signed, late int
	}
	ask := func(statement string, sorts int) func() (all []count) {
		prepared, err := db.Prepare(statement)
		require.NoError(t, err)
		return func() (all []count) {
			rows, err := prepared.Query(about.ID, r.now.AddDate(0, 0, -89).Format(time.DateOnly), r.now.Format(time.DateOnly))
			require.NoError(t, err)
			for rows.Next() {
				var c count
				to := []any{&c.of[0], &c.of[1], &c.of[2]}[:sorts]
				require.NoError(t, rows.Scan(append(to, &c.signed, &c.late)...))
				all = append(all, c)
			}
			require.NoError(t, rows.Err())
			return all
		}
	}
	quickest := func(of func() []count) time.Duration {
		best := time.Hour
		for range 5 {
			began := time.Now()
			of()
			best = min(best, time.Since(began))
		}
		return best
	}
	sorts := []string{"day", "list", "signer"}
	against := func(name, says string, many int, least float64) ratio {
		both := strings.Join(sorts[:many], ", ")
		grouped := ask(fmt.Sprintf(daysGrouped, strings.NewReplacer("day", "entries.day", "list", "inspections.list", "signer", "inspections.signer").Replace(both)), many)
		kept := ask(fmt.Sprintf(daysKept, both), many)
		require.NotEmpty(t, kept())
		require.Equal(t, grouped(), kept())
		from, counted := make([]time.Duration, rounds), make([]time.Duration, rounds)
		turnsOf(rounds, func(n int) { from[n] = quickest(grouped) }, func(n int) { counted[n] = quickest(kept) })
		b.say("What was signed in 90 days, %s (%d counts): %s from the rows, %s from what is kept with each entry; they are equal.\n\n", says, len(kept()), millis(slices.Min(from)), millis(slices.Min(counted)))
		return ratio{name: name, says: "signed in 90 days " + says + ": time of a GROUP BY of the rows / of the counts kept", least: least,
			rounds: perRound(rounds, func(n int) float64 { return from[n].Seconds() / counted[n].Seconds() })}
	}
	return []ratio{against("pages/days", "by day", 1, 100), against("pages/days/people", "by day, list and person", 3, 0)}
}
