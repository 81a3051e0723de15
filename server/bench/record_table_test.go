package bench

import (
	"crypto/sha256"
	"database/sql"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
	"stillsaw/server/store"
)

// measureRecord is what the log of the record costs, and what verifying it does.
func measureRecord(t *testing.T, b *table) {
	b.head("The record")
	measureLog(t, b)
	dir := os.Getenv("STILLSAW_DATA") // a long one, where it is named
	if dir == "" {
		dir = smallMill(t)
	}
	measureVerify(t, b, dir)
}

// measureLog holds the same writes with the log's hashes against those without: 64
// sign-offs in a transaction, as a shared commit has them, no rules, no HTTP.
func measureLog(t *testing.T, b *table) {
	s := newSignOffs(t, 1, cheap)
	var leaf []byte
	for _, row := range s.b.rows {
		for _, a := range row.args {
			if text, ok := a.([]byte); ok && row.table == "entries" && len(text) > len(leaf) {
				leaf = text // what else is bytes there is shorter
			}
		}
	}
	require.NotEmpty(t, leaf)
	const together = 64
	var log record.Frontier
	with := func(int) error {
		for range together {
			log.Append(tlog.RecordHash(leaf))
			log.Root()
		}
		return s.b.signOff(t.Context(), together)
	}
	without := func(int) error { return s.b.signOff(t.Context(), together, "tree_hashes", "log_heads") }
	hashed, plain := make([]pace, rounds), make([]pace, rounds)
	turnsOf(rounds, func(i int) { hashed[i] = load(t, 1, aTurn, with) }, func(i int) { plain[i] = load(t, 1, aTurn, without) })
	p := middle(hashed)
	b.say("The rows of %d sign-offs in one transaction, with the hashes of the log (leaf of %d bytes): %s of processor time each.\n\n", together, len(leaf), millis(p.cpu/together))
	b.add(ratio{name: "record/log", says: "processor time of the writes with the log / without", most: 1.15,
		rounds: perRound(rounds, func(i int) float64 { return hashed[i].cpu.Seconds() / plain[i].cpu.Seconds() })},
		ratio{name: "record/log/rate", says: "rate of the writes with the log / without", least: 1 / 1.15,
			rounds: perRound(rounds, func(i int) float64 { return hashed[i].rate / plain[i].rate })})
}

// measureVerify holds verify of a record against reading each body and its SHA-256.
func measureVerify(t *testing.T, b *table, dir string) {
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	db, err := sql.Open(engine(), "file:"+filepath.Join(dir, store.FileName)+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	entries := 0
	plain := func() time.Duration {
		began := cpu()
		rows, err := db.QueryContext(t.Context(), "SELECT leaf FROM entries ORDER BY mill, seq")
		require.NoError(t, err)
		defer rows.Close()
		for entries = 0; rows.Next(); entries++ {
			var leaf sql.RawBytes
			require.NoError(t, rows.Scan(&leaf))
			sha256.Sum256(leaf)
		}
		require.NoError(t, rows.Err())
		return cpu() - began
	}
	verified := func() time.Duration {
		began := cpu()
		reports, err := st.Verify(t.Context())
		require.NoError(t, err)
		for _, report := range reports {
			require.True(t, report.OK())
		}
		return cpu() - began
	}
	whole, read := make([]time.Duration, rounds), make([]time.Duration, rounds)
	turnsOf(rounds, func(i int) { whole[i] = verified() }, func(i int) { read[i] = plain() })
	b.say("\nVerify of %d entries, openings and photos too, against reading each body with its SHA-256: %s against %s of processor time.\n\n", entries, millis(slices.Min(whole)), millis(slices.Min(read)))
	b.add(ratio{name: "record/verify", says: "processor time of verify / of a plain read with SHA-256", most: 2,
		rounds: perRound(rounds, func(i int) float64 { return whole[i].Seconds() / read[i].Seconds() })})
}
