package bench

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// What a day's hardest quarter of an hour is taken to be, and what things take. Times
// are seconds of a core.
const (
	allMills    = 10_000
	phonesEach  = 20
	checksEach  = 10      // assumed: pre-shift checks signed at a mill before the shift
	beforeShift = 15 * 60 // assumed: all of them in this time before it starts
	coresOfEach = 2

	aPIN       = 0.0337  // TABLE.md: argon2id at the product's cost, median
	aCheck     = 0.0105  // TABLE.md: begun, answered, signed as a phone's pages send it, phones and all; all counted at the signature
	aFrontPage = 0.00742 // TABLE.md: front page at the short record
	shownAgain = 0.00078 // assumed for a page made for another phone: TABLE.md's smallest page
	aFlush     = 0.00163 // TABLE.md: a durable write of 4 KB
	lookEvery  = 8.0     // hereEvery of server/streams.go: a mill with a page open is looked at
	aMinute    = 0.004   // MANY.md, measured: a held mill with a page open and nobody at work, a minute of the clock; rounded
)

// zones is where the mills are taken to be, by share; assumed. Their shifts start an
// hour apart, so that each has its quarter of an hour for itself.
var zones = []struct {
	name  string
	share float64
}{{"Eastern", 0.5}, {"Central", 0.25}, {"Mountain", 0.08}, {"Pacific", 0.17}}

// morning is what came of the quarters of an hour before all shifts.
type morning struct {
	signed, shown []float64 // seconds from the signature to its answer, from a commit to the page on a phone
	worst         float64   // share of a process's cores in its worst minute
	flushes       float64   // a second, in the worst minute
	commits       float64
}

// aMorning simulates the shift's start in each zone over that many processes. With
// signedIn somebody is signed in on every phone, and each has its page made for it.
func aMorning(seed uint64, mills, processes int, signedIn bool) morning {
	var all morning
	for i, zone := range zones {
		m := aStart(rand.New(rand.NewPCG(seed, uint64(i))), mills, int(float64(mills)*zone.share), processes, signedIn)
		all.signed, all.shown = append(all.signed, m.signed...), append(all.shown, m.shown...)
		all.worst, all.flushes, all.commits = max(all.worst, m.worst), max(all.flushes, m.flushes), max(all.commits, m.commits)
	}
	slices.Sort(all.signed)
	slices.Sort(all.shown)
	return all
}

// aStart is the start of the shift at some of the mills; the others are only looked at.
func aStart(drawn *rand.Rand, mills, starting, processes int, signedIn bool) (m morning) {
	s := &simulation{}
	all := make([]*station, processes)
	minutes := make([][]float64, processes)
	for i := range all {
		minutes[i] = make([]float64, beforeShift/60)
		all[i] = &station{sim: s, idle: coresOfEach, worked: func(from, lasts float64) {
			for lasts > 0 && from < beforeShift {
				minute := int(from / 60)
				here := min(lasts, float64(minute+1)*60-from)
				minutes[i][minute] += here
				from, lasts = from+here, lasts-max(here, 1e-9)
			}
		}}
		each := lookEvery / (float64(mills) / float64(processes))
		var look func()
		look = func() {
			all[i].ask(aMinute/60*lookEvery, func(float64) {})
			if s.now < beforeShift {
				s.after(each, look)
			}
		}
		s.after(each*drawn.Float64(), look)
	}
	log := &flusher{sim: s, minutes: make([]float64, beforeShift/60), commits: make([]float64, beforeShift/60)}
	show := func(at *station) {
		committed, asked, made, waiting := s.now, false, false, 0
		for range phonesEach {
			s.after(0.02+0.1*drawn.Float64(), func() { // the way there and back: assumed
				lasts := shownAgain
				makes := signedIn || !asked
				if makes {
					lasts, asked = aFrontPage, true
				}
				at.ask(lasts, func(float64) {
					if waiting++; !makes && !made {
						return // it is being made for another phone
					}
					for made = true; waiting > 0; waiting-- {
						m.shown = append(m.shown, s.now-committed)
					}
				})
			})
		}
	}
	for mill := range starting {
		at := all[mill%processes]
		for range checksEach {
			// Most sign late: the density rises to the start of the shift, where it is
			// twice the mean; the larger of two drawn evenly is so.
			when := beforeShift * max(drawn.Float64(), drawn.Float64())
			s.after(when, func() {
				at.ask(aPIN+aCheck, func(float64) {
					log.commit(func() {
						m.signed = append(m.signed, s.now-when)
						show(at)
					})
				})
			})
		}
	}
	s.run()
	for i := range minutes {
		m.worst = max(m.worst, slices.Max(minutes[i])/60/coresOfEach)
	}
	m.flushes, m.commits = slices.Max(log.minutes)/60, slices.Max(log.commits)/60
	return m
}

// flusher is the log of the one database: one flush at a time, and whoever comes
// meanwhile goes with the next.
type flusher struct {
	sim     *simulation
	busy    bool
	next    []func()
	minutes []float64 // flushes in each
	commits []float64
}

func (f *flusher) commit(done func()) {
	f.next = append(f.next, done)
	if !f.busy {
		f.flush()
	}
}

func (f *flusher) flush() {
	these := f.next
	f.next, f.busy = nil, true
	if minute := int(f.sim.now / 60); minute < len(f.minutes) {
		f.minutes[minute]++
		f.commits[minute] += float64(len(these))
	}
	f.sim.after(aFlush, func() {
		f.busy = false
		for _, done := range these {
			done()
		}
		if !f.busy && len(f.next) > 0 {
			f.flush()
		}
	})
}

// A morning is the same each time, every check is signed and shown on every phone, and
// where next to nothing is asked nobody waits.
func TestAMorningIsTheSameEachTime(t *testing.T) {
	for _, signedIn := range []bool{false, true} {
		m := aMorning(3, 100, 2, signedIn)
		require.Equal(t, m, aMorning(3, 100, 2, signedIn))
		require.Len(t, m.signed, 100*checksEach)
		require.Len(t, m.shown, 100*checksEach*phonesEach)
		require.InDelta(t, aPIN+aCheck+aFlush, m.signed[len(m.signed)/2], 0.001)
	}
	require.Greater(t, aMorning(3, 800, 1, true).worst, 3*aMorning(3, 200, 1, true).worst)
}

// TestManyMillsSimulated writes, with -update, what comes of 10,000 mills on how many
// processes into MANY.md.
func TestManyMillsSimulated(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("takes some minutes; with STILLSAW_LONG=1")
	}
	b := &table{}
	for _, signedIn := range []bool{false, true} {
		who := "Nobody is signed in on a phone that shows the front page"
		if signedIn {
			who = "Somebody is signed in on every phone"
		}
		b.say("%s:\n\n| processes of %d cores | cores busy in the worst minute | sign-off p50, p99 | page after a change p50, p99 | commits, flushes a second in the worst minute |\n|---|---|---|---|---|\n", who, coresOfEach)
		for _, processes := range []int{2, 4, 6, 8, 12, 16, 20, 32} {
			m := aMorning(1, allMills, processes, signedIn)
			at := func(sorted []float64, share float64) string { return seconds(sorted[int(share*float64(len(sorted)))]) }
			b.say("| %d | %.0f %% | %s, %s | %s, %s | %.0f, %.0f |\n", processes, 100*m.worst,
				at(m.signed, 0.5), at(m.signed, 0.99), at(m.shown, 0.5), at(m.shown, 0.99), m.commits, m.flushes)
		}
		b.say("\n")
	}
	t.Log("\n" + b.text.String())
	if *update {
		putInto(t, "simulated", b.text.String())
	}
}

func seconds(s float64) string {
	if s >= 10 {
		return fmt.Sprintf("%.0f s", s)
	}
	return fmt.Sprintf("%s ms", short(1000*s))
}
