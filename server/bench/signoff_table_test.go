package bench

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// measureSignOffs is whole checks signed off: ours against SQLite alone, against the
// plain way and against ours without the write.
func measureSignOffs(t *testing.T, b *table) {
	b.head("Durable sign-offs over HTTP")
	s := newSignOffs(t, 64, cheap)
	b.say("A whole check of %d answers in one request, signed with a PIN whose digest costs next to nothing, and its entry in the record. Ours writes %d statements with values of %d bytes. Beside it: **bare**, the same statements through `database/sql` in one transaction a record, prepared, one connection, no HTTP; **plain**, a handler with fiber and gorm written the usual way (`plainway_test.go`), asked again where it says that the database is locked; **dry**, ours with nothing written: what is kept in memory then no longer fits the database and is read anew in each commit, so it is slower than it should be where few share one.\n\n", sign, s.rows, s.bytes)
	b.say("| phones | | acts a second | p50 | p99 | processor time of an act, phones and all |\n|---|---|---|---|---|---|\n")
	var ratios []ratio
	for _, phones := range []int{64, 16, 1} {
		ours, bare, plain, dry := make([]pace, rounds), make([]pace, rounds), make([]pace, rounds), make([]pace, rounds)
		turn := func(into []pace, act func(int) error) func(int) {
			return func(round int) { into[round] = load(t, phones, aTurn, act) }
		}
		turnsOf(rounds, turn(ours, s.ours), turn(bare, s.bare), turn(plain, s.plain), turn(dry, s.dry))
		for _, way := range []struct {
			name  string
			paces []pace
		}{{"ours", ours}, {"bare", bare}, {"plain", plain}, {"dry", dry}} {
			p := middle(way.paces)
			b.say("| %d | %s | %s | %s | %s | %s |\n", phones, way.name, short(p.rate), millis(p.p50), millis(p.p99), millis(p.cpu))
		}
		of := func(other []pace) []float64 {
			return perRound(rounds, func(i int) float64 { return ours[i].rate / other[i].rate })
		}
		wants := map[int][3]float64{64: {2, 8, 0.5}, 16: {1.2, 0, 0}, 1: {0.5, 1.3, 0}}[phones]
		ratios = append(ratios,
			ratio{name: fmt.Sprint("signoffs/", phones, "/bare"), says: fmt.Sprint(phones, " phones: rate of ours / bare"), least: wants[0], rounds: of(bare)},
			ratio{name: fmt.Sprint("signoffs/", phones, "/plain"), says: fmt.Sprint(phones, " phones: rate of ours / plain"), least: wants[1], rounds: of(plain)},
			ratio{name: fmt.Sprint("signoffs/", phones, "/dry"), says: fmt.Sprint(phones, " phones: rate of ours / dry"), least: wants[2], rounds: of(dry)})
		if phones == 64 {
			ratios = append(ratios, ratio{name: "signoffs/64/p99", says: "64 phones: p99 of ours / plain", most: 0.1,
				rounds: perRound(rounds, func(i int) float64 { return ours[i].p99.Seconds() / plain[i].p99.Seconds() })})
		}
		ratios = append(ratios, ratio{name: fmt.Sprint("signoffs/", phones, "/cpu"), says: fmt.Sprint(phones, " phones: processor time of plain / ours"),
			rounds: perRound(rounds, func(i int) float64 { return plain[i].cpu.Seconds() / ours[i].cpu.Seconds() })})
	}
	b.say("\nThe plain way said %d times that the database is locked.\n\n", s.again.Load())
	b.add(ratios...)
	measureForms(t, b)
	measurePIN(t, b)
}

// measureForms is the same check as the pages send it: begun, answered, signed.
func measureForms(t *testing.T, b *table) {
	m := serve(t, newMill(t, 16, cheap), store.On{}, 16)
	p := load(t, 16, 2*aTurn, forms(t, m, 16))
	b.say("\nAs a phone's pages send it, in three forms (begun, answered, signed), from 16 phones: %s checks a second, p50 %s and p99 %s of all three together, %s of processor time.\n", short(p.rate), millis(p.p50), millis(p.p99), millis(p.cpu))
}

// measurePIN is what a PIN's digest of the product's cost adds.
func measurePIN(t *testing.T, b *table) {
	digest, err := argon2id.CreateHash(pin, dear)
	require.NoError(t, err)
	once := func() time.Duration {
		began := time.Now()
		right, err := argon2id.ComparePasswordAndHash(pin, digest)
		require.NoError(t, err)
		require.True(t, right)
		return time.Since(began)
	}
	var took []time.Duration
	for range 15 {
		took = append(took, once())
	}
	slices.Sort(took)
	b.say("\nargon2id at the product's cost (%d KiB, %d passes), one comparison: minimum %s, median %s, maximum %s.\n", dear.Memory, dear.Iterations, millis(took[0]), millis(took[len(took)/2]), millis(took[len(took)-1]))
	const phones = 16
	send := func(cost *argon2id.Params) func(int) error {
		m := serve(t, newMill(t, phones, cost), store.On{}, phones)
		c, body := caller(m.address), signOff()
		return func(i int) error { return post(c, apiPath, "application/json", m.tokens[i], body, 200) }
	}
	with, without := send(dear), send(cheap)
	checked, not := make([]pace, 3), make([]pace, 3)
	turnsOf(3, func(i int) { checked[i] = load(t, phones, aTurn, with) }, func(i int) { not[i] = load(t, phones, aTurn, without) })
	p := middle(checked)
	b.say("With it, from %d phones: %s sign-offs a second, p50 %s, p99 %s, %s of processor time.\n\n", phones, short(p.rate), millis(p.p50), millis(p.p99), millis(p.cpu))
	b.add(ratio{name: "signoffs/16/pin", says: "16 phones: rate with the PIN's digest at its cost / without", rounds: perRound(3, func(i int) float64 { return checked[i].rate / not[i].rate })})
}

// middle is the pace in the middle by its rate.
func middle(paces []pace) pace {
	sorted := slices.SortedFunc(slices.Values(paces), func(a, b pace) int { return int(1000*a.rate) - int(1000*b.rate) })
	return sorted[len(sorted)/2]
}

// millis says a time in milliseconds.
func millis(d time.Duration) string { return short(d.Seconds()*1000) + " ms" }
