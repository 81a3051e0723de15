package bench

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// simulation is a clock that goes from event to event. Times are seconds.
type simulation struct {
	now    float64
	events []event // a heap, the next one first
	number int64
}

// event happens at a time; of those at one time the one that was said first.
type event struct {
	at     float64
	number int64
	happen func()
}

func (e event) before(other event) bool {
	return e.at < other.at || e.at == other.at && e.number < other.number
}

// after has something happen in a while.
func (s *simulation) after(wait float64, happen func()) {
	s.number++
	s.events = append(s.events, event{s.now + wait, s.number, happen})
	for i := len(s.events) - 1; i > 0; {
		up := (i - 1) / 2
		if !s.events[i].before(s.events[up]) {
			return
		}
		s.events[i], s.events[up] = s.events[up], s.events[i]
		i = up
	}
}

// run goes on until nothing more happens.
func (s *simulation) run() {
	for len(s.events) > 0 {
		next, last := s.events[0], len(s.events)-1
		s.events[0] = s.events[last]
		s.events[last] = event{}
		s.events = s.events[:last]
		for i := 0; ; {
			least := i
			for down := 2*i + 1; down <= 2*i+2 && down < last; down++ {
				if s.events[down].before(s.events[least]) {
					least = down
				}
			}
			if least == i {
				break
			}
			s.events[i], s.events[least] = s.events[least], s.events[i]
			i = least
		}
		s.now = next.at
		next.happen()
	}
}

// station has some servers and one queue, first come first served.
type station struct {
	sim     *simulation
	idle    int
	waiting []task
	head    int
	worked  func(from, lasts float64) // nil: nobody counts
}

// task needs a server for a while.
type task struct {
	came, lasts float64
	done        func(waited float64)
}

func (st *station) ask(lasts float64, done func(waited float64)) {
	t := task{st.sim.now, lasts, done}
	if st.idle > 0 {
		st.idle--
		st.begin(t)
		return
	}
	st.waiting = append(st.waiting, t)
}

func (st *station) begin(t task) {
	waited := st.sim.now - t.came
	if st.worked != nil {
		st.worked(st.sim.now, t.lasts)
	}
	st.sim.after(t.lasts, func() {
		if st.head < len(st.waiting) {
			next := st.waiting[st.head]
			st.waiting[st.head] = task{}
			if st.head++; st.head > 4096 && st.head*2 > len(st.waiting) {
				st.waiting = append(st.waiting[:0], st.waiting[st.head:]...)
				st.head = 0
			}
			st.begin(next)
		} else {
			st.idle++
		}
		t.done(waited)
	})
}

// waits simulates arrivals at random, rate a second, and gives the mean wait.
func waits(seed uint64, servers, arrivals int, rate float64, lasts func(*rand.Rand) float64) float64 {
	drawn := rand.New(rand.NewPCG(seed, 1))
	s := &simulation{}
	st := &station{sim: s, idle: servers}
	sum, counted, skipped := 0.0, 0, arrivals/20 // until it is as busy as it will be
	var arrive func()
	n := 0
	arrive = func() {
		number := n
		st.ask(lasts(drawn), func(waited float64) {
			if number >= skipped {
				sum += waited
				counted++
			}
		})
		if n++; n < arrivals {
			s.after(drawn.ExpFloat64()/rate, arrive)
		}
	}
	s.after(0, arrive)
	s.run()
	return sum / float64(counted)
}

// erlangC is the share that has to wait of a load (rate times mean service) on that
// many servers: Erlang's C formula, A. K. Erlang 1917; Kleinrock, Queueing Systems
// vol. 1 (1975), chapter 3 on M/M/m, from memory.
func erlangC(servers int, load float64) float64 {
	term, sum := 1.0, 1.0
	for k := 1; k < servers; k++ {
		term *= load / float64(k)
		sum += term
	}
	term *= load / float64(servers) / (1 - load/float64(servers))
	return term / (sum + term)
}

// What is simulated waits as long as theory says: M/M/c by Erlang's C, whose mean wait
// is C / (c·µ - λ), and M/D/1 by Pollaczek and Khinchine, ρ·S / (2·(1 - ρ)) (Kleinrock,
// as above, chapter 5 on M/G/1, from memory).
func TestQueuesWaitAsTheorySays(t *testing.T) {
	require.InDelta(t, 0.2/1, erlangC(1, 0.2), 1e-12, "of one server: its load")
	require.InDelta(t, 1.0/3, erlangC(2, 1), 1e-12, "by hand: (1/2·2) / (1 + 1 + 1/2·2)")
	exponential := func(drawn *rand.Rand) float64 { return drawn.ExpFloat64() }
	for _, servers := range []int{1, 2, 8} {
		for _, busy := range []float64{0.5, 0.8} {
			load := busy * float64(servers)
			theory := erlangC(servers, load) / (float64(servers) - load)
			requireClose(t, theory, waits(7, servers, 400_000, load, exponential), "M/M/%d at %.1f", servers, busy)
		}
	}
	for _, busy := range []float64{0.3, 0.6, 0.8} {
		theory := busy / (2 * (1 - busy))
		requireClose(t, theory, waits(11, 1, 400_000, busy, func(*rand.Rand) float64 { return 1 }), "M/D/1 at %.1f", busy)
	}
}

func requireClose(t *testing.T, want, got float64, what string, args ...any) {
	t.Helper()
	require.LessOrEqual(t, math.Abs(got/want-1), 0.05, append([]any{what + ": theory %g, simulated %g"}, append(args, want, got)...)...)
}
