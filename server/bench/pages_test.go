package bench

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/demo"
	"stillsaw/server/store"
)

// reader looks at pages of one mill, signed in.
type reader struct {
	t      testing.TB
	store  *store.Store
	desk   *store.Mill
	caller *fasthttp.HostClient
	cookie string
	now    time.Time
	person procedures.Person
}

// look serves the mill in dir as of a moment after its last entry, and signs its
// first supervisor in with a PIN of this test. The folder is written to.
func look(t testing.TB, dir string, on store.On) *reader {
	t.Helper()
	st, err := store.OpenOn(t.Context(), dir, on)
	require.NoError(t, err)
	about, err := st.TheMill(t.Context())
	require.NoError(t, err)
	r := &reader{t: t, store: st, desk: st.Of(about.ID)}
	last, _, err := r.desk.Entries(t.Context(), store.Filter{Limit: 1})
	require.NoError(t, err)
	require.NotEmpty(t, last)
	r.now = last[0].At.Add(time.Minute)
	s, err := server.New(server.Config{Store: st, Now: func() time.Time { return r.now }, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	require.NoError(t, err)
	address := onLoopback(t, s, st)
	people, err := r.desk.People(t.Context())
	require.NoError(t, err)
	at := slices.IndexFunc(people, func(p procedures.Person) bool { return p.Role == procedures.Supervisor && p.Supervises() })
	require.GreaterOrEqual(t, at, 0)
	r.person = people[at]
	digest, err := argon2id.CreateHash(pin, cheap)
	require.NoError(t, err)
	require.NoError(t, r.desk.ResetPIN(t.Context(), store.NewID(), r.person.ID, digest, "by-supervisor", r.person.ID, r.now))
	r.caller = caller(address)
	r.cookie, err = sendForm(r.caller, "/sign-in", "", "person="+string(r.person.ID)+"&pin="+pin)
	require.NoError(t, err)
	return r
}

// page gets a page whole.
func (r *reader) page(path string) []byte {
	r.t.Helper()
	request, reply := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
	defer fasthttp.ReleaseRequest(request)
	defer fasthttp.ReleaseResponse(reply)
	request.SetRequestURI("http://" + r.caller.Addr + path)
	request.Header.Set("Cookie", r.cookie)
	require.NoError(r.t, r.caller.Do(request, reply))
	require.Equal(r.t, fasthttp.StatusOK, reply.StatusCode(), "%s: %.300s", path, reply.Body())
	return bytes.Clone(reply.Body())
}

// quickest is the shortest of some times a page took: what else the computer does
// only makes it longer.
func (r *reader) quickest(path string, times int) time.Duration {
	best := time.Hour
	for range times {
		began := time.Now()
		r.page(path)
		best = min(best, time.Since(began))
	}
	return best
}

// addresses are the pages that are measured, of what stands in this mill.
func (r *reader) addresses() []address {
	r.t.Helper()
	ctx := context.Background()
	signed, _, _, err := r.desk.InspectionPage(ctx, "", 0, 1)
	require.NoError(r.t, err)
	require.NotEmpty(r.t, signed)
	begun, err := r.desk.BeginWalk(ctx, store.NewID(), signed[0].List, r.person, r.now)
	require.NoError(r.t, err)
	last, _, err := r.desk.Entries(ctx, store.Filter{Limit: 1})
	require.NoError(r.t, err)
	return []address{
		{"front page", "/"},
		{"signed inspection", "/inspections/" + string(signed[0].ID)},
		{"inspection under way", "/inspections/" + string(begun)},
		{"record", "/record"},
		{oneEntry, fmt.Sprint("/record/", last[0].Seq)},
		{"search", "/record?q=chain"},
	}
}

const oneEntry = "one entry"

type address struct{ name, path string }

// A page that asks once for each of something gets slower as the mill goes on: each
// takes the same statements at a mill of some checks as at one with many more.
func TestEachPageTakesAFixedNumberOfQueries(t *testing.T) {
	w := watching()
	w.leaveOut(nil)
	dir := newMill(t, 1, cheap)
	desk := func(n int) {
		st, err := store.Open(t.Context(), dir)
		require.NoError(t, err)
		about, err := st.TheMill(t.Context())
		require.NoError(t, err)
		ada := procedures.Person{ID: person(0), Name: "Hand 0", Role: procedures.Operator, Authorized: true}
		for range n {
			_, err := st.Of(about.ID).InspectWhole(t.Context(), store.NewID(), listID, 1, answered(), ada, time.Now())
			require.NoError(t, err)
		}
		require.NoError(t, st.Close())
	}
	counts := func() map[string]int64 {
		r := look(t, dir, store.On{Driver: "watched", VFS: "unix", Shared: true})
		each := map[string]int64{}
		for _, a := range r.addresses() {
			each[a.name] = 1 << 40
			for range 3 { // the fewest: the server has work of its own beside
				before := w.statements.Load()
				r.page(a.path)
				each[a.name] = min(each[a.name], w.statements.Load()-before)
			}
		}
		return each
	}
	desk(2)
	few := counts()
	desk(20)
	many := counts()
	// An entry is shown with its proof, of as many hashes as the log has levels.
	require.InDelta(t, few[oneEntry], many[oneEntry], 20)
	few[oneEntry], many[oneEntry] = 0, 0
	require.Equal(t, few, many)
	for name, n := range few {
		require.LessOrEqual(t, n, int64(100), name)
	}
}

func answered() []checklists.Answer {
	var all []checklists.Answer
	for _, item := range thirty().Items {
		a := checklists.Answer{Item: item.ID, Result: checklists.OK}
		if item.Limits.Unit != "" {
			n := 12.5
			a.Result, a.Number = "", &n
		}
		all = append(all, a)
	}
	return all
}

// smallMill makes the first thousand entries or so of the mill of three shifts.
func smallMill(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	ctx, enough := context.WithCancel(t.Context())
	defer enough()
	_, err = demo.FillYears(ctx, st, time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC), 1, func(told demo.Told) {
		if told.Entries >= 1000 {
			enough()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	require.NoError(t, st.Close())
	return dir
}

// measurePages is what pages take at a long record against a short one.
// STILLSAW_DATA names the folder of the long one, which is written to: give it a
// copy.
func measurePages(t *testing.T, b *table) {
	big := os.Getenv("STILLSAW_DATA")
	if big == "" {
		return
	}
	brief, long := look(t, smallMill(t), store.On{}), look(t, big, store.On{})
	sizes := [2]int64{}
	for i, r := range []*reader{brief, long} {
		head, err := r.desk.Head(t.Context())
		require.NoError(t, err)
		sizes[i] = head.Size
	}
	b.head(fmt.Sprintf("Pages at %d entries against %d", sizes[1], sizes[0]))
	b.say("The same mill of three shifts, a few days and some years on; the time is from sending the request until the whole page is there, the shortest of three in a round.\n\n| page | short record | long record | bytes |\n|---|---|---|---|\n")
	var ratios []ratio
	atShort, atLong := brief.addresses(), long.addresses()
	for i, a := range atShort {
		few, many := make([]time.Duration, rounds), make([]time.Duration, rounds)
		turnsOf(rounds, func(n int) { few[n] = brief.quickest(a.path, 3) }, func(n int) { many[n] = long.quickest(atLong[i].path, 3) })
		b.say("| %s | %s | %s | %d |\n", a.name, millis(slices.Min(few)), millis(slices.Min(many)), len(long.page(atLong[i].path)))
		ratios = append(ratios, ratio{name: "pages/" + a.name, says: a.name + ": time at the long record / at the short one", most: 1.2,
			rounds: perRound(rounds, func(n int) float64 { return many[n].Seconds() / few[n].Seconds() })})
	}
	year := fmt.Sprint("/compliance?period=year&from=", long.now.Format(time.DateOnly))
	took := perRound(rounds, func(int) float64 { return 1000 * long.quickest(year, 2).Seconds() })
	slices.Sort(took)
	b.say("| calendar of a year (≤ 10 ms wanted) | | %s ms | %d |\n\n", short(took[len(took)/2]), len(long.page(year)))
	b.add(append(ratios, measureDays(t, b, long, big)...)...)
}
