package bench

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"log/slog"
	"net"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/store"
)

// mill is a mill with all its starter lists in force, a list of thirty items and
// one operator for each phone, served on loopback.
type mill struct {
	t       testing.TB
	dir     string
	store   *store.Store
	id      checklists.MillID
	server  *server.Server
	address string
	tokens  []string // each lets a program sign as one of the crew, who gives the PIN
}

const (
	pin    = "4071"
	listID = checklists.ListID("thirty")
	sign   = 30 // answers of a sign-off
)

var sam = procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor, Authorized: true}

// Costs of a PIN's digest: what the product takes, and next to nothing, for what
// is measured without it.
var (
	cheap = &argon2id.Params{Memory: 8, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}
	dear  = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}
)

// thirty is a list as long as a pre-shift check: choices, numbers and a word. It is
// due days after it was last signed, for which the rules look at the last ten.
func thirty() checklists.List {
	l := checklists.List{ID: listID, Title: "Thirty", Schedule: checklists.Schedule{Every: checklists.AfterDays, Days: 7}}
	for i := range sign {
		item := checklists.Item{ID: checklists.ItemID(fmt.Sprint("T", i+1)), Station: fmt.Sprint("Station ", 1+i/10), Equipment: "site",
			Prompt: fmt.Sprint("Bolts of guard ", i+1, " tight, nothing cracked"), How: "Look, and try by hand.",
			State: checklists.Stopped, Kind: checklists.Choice, Severity: checklists.Mend, Source: "common practice, no source"}
		if i%10 == 9 {
			low, high := 0.0, 100.0
			item.Kind, item.Limits = checklists.Number, checklists.Limits{Unit: "mm", Low: &low, High: &high, Most: 1000}
		}
		l.Items = append(l.Items, item)
	}
	return l
}

// newMill sets a mill up in a folder of its own, with digests of that cost.
func newMill(t testing.TB, phones int, cost *argon2id.Params) string {
	t.Helper()
	dir := t.TempDir()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	fillMill(t, st, phones, cost)
	require.NoError(t, st.Close())
	return dir
}

// fillMill sets a mill up in st, which is empty.
func fillMill(t testing.TB, st *store.Store, phones int, cost *argon2id.Params) {
	t.Helper()
	yesterday := time.Now().Add(-24 * time.Hour)
	about := checklists.Mill{
		ID: st.NewMillID(), Name: "Fernhollow", Zone: "America/New_York", Units: checklists.InchPound,
		SetUp: checklists.SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2,
			Hoist: "electric", Collector: "cyclone", SawDiameter: 1.3208, SpindleSpeed: 600},
		Shifts: []checklists.Shift{{Name: "Day", Start: 7 * 60, End: 15*60 + 30, Days: []time.Weekday{1, 2, 3, 4, 5}}},
	}
	digest, err := argon2id.CreateHash(pin, cost)
	require.NoError(t, err)
	set, err := server.Starter(about, sam, digest, yesterday)
	require.NoError(t, err)
	require.NoError(t, st.SetUp(t.Context(), set))
	desk := st.Of(about.ID)
	for i := range phones {
		p := procedures.Person{ID: person(i), Name: fmt.Sprint("Hand ", i), Role: procedures.Operator, Authorized: true}
		require.NoError(t, desk.KeepPerson(t.Context(), store.NewID(), p, digest, sam, yesterday))
	}
	for _, d := range set.Drafts {
		number := map[store.Sort]func(string, int) (string, error){store.Procedures: store.NumberProcedure, store.Rigs: store.NumberRig}[d.Sort]
		require.NoError(t, desk.Publish(t.Context(), store.NewID(), d.Sort, d.ID, 1, sam, yesterday, number))
	}
	d, err := store.DraftOf(store.Lists, string(listID), "Thirty", thirty())
	require.NoError(t, err)
	require.NoError(t, desk.KeepDraft(t.Context(), d, yesterday))
	require.NoError(t, desk.Publish(t.Context(), store.NewID(), store.Lists, d.ID, 1, sam, yesterday, nil))
	for i := range phones {
		_, err := desk.MakeToken(t.Context(), store.NewID(), checklists.Token{Name: "bench", Use: checklists.TokenWrites, Person: person(i), Until: yesterday.AddDate(0, 6, 0)},
			sha256.Sum256(secret(i)), sam, yesterday)
		require.NoError(t, err)
	}
}

func person(i int) procedures.PersonID { return procedures.PersonID(fmt.Sprint("hand-", i)) }

func secret(i int) []byte {
	sum := sha256.Sum256([]byte(fmt.Sprint("token of the bench ", i)))
	return sum[:]
}

// serve opens the mill in dir, by on, and answers on loopback until the test ends.
func serve(t testing.TB, dir string, on store.On, phones int) *mill {
	t.Helper()
	st, err := store.OpenOn(t.Context(), dir, on)
	require.NoError(t, err)
	about, err := st.TheMill(t.Context())
	require.NoError(t, err)
	s, err := server.New(server.Config{Store: st, Now: time.Now, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	require.NoError(t, err)
	address := onLoopback(t, s, st)
	m := &mill{t: t, dir: dir, store: st, id: about.ID, server: s, address: address}
	for i := range phones {
		m.tokens = append(m.tokens, "stillsaw_"+base64.RawURLEncoding.EncodeToString(secret(i)))
	}
	return m
}

// onLoopback has a server answer until the test ends, and its store shut then.
func onLoopback(t testing.TB, s *server.Server, st *store.Store) (address string) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(listener) }()
	t.Cleanup(func() {
		require.NoError(t, s.Stop())
		require.NoError(t, <-ended)
		require.NoError(t, st.Close())
	})
	return listener.Addr().String()
}
