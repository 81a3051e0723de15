package bench

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/store"
	"stillsaw/server/store/scratchdb"
)

const (
	manyTenants = 20_000 // rows, all of which one process holds
	manyHeld    = 200    // set up, and held by one process
	manyQuiet   = 4 * time.Minute
)

// TestManyMillsMeasured measures what the page MANY.md counts on. The server should be
// nobody else's. -update writes the page's part.
func TestManyMillsMeasured(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" || !scratchdb.Asked() {
		t.Skip("takes ten minutes; with STILLSAW_LONG=1 and a PostgreSQL server of its own, see " + scratchdb.Variable)
	}
	b := &table{}
	b.say("%s\n\n", machine(t))
	measureHolds(t, b)
	measureHeld(t, b)
	b.say("Load of the computer at the end: %s.\n", loadAverage())
	t.Log("\n" + b.text.String())
	if *update {
		putInto(t, "measured", b.text.String())
	}
}

// measureHolds takes mills that are rows alone, more than there is room for locks on a
// server as it comes, and tries an act of one of them then.
func measureHolds(t *testing.T, b *table) {
	p, err := store.OpenPostgres(t.Context(), scratchdb.New(t, ""), store.PostgresOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, p.Close()) }()
	conn, err := pgx.Connect(t.Context(), os.Getenv(scratchdb.Variable))
	require.NoError(t, err)
	defer conn.Close(t.Context())
	var locks, connections int
	require.NoError(t, conn.QueryRow(t.Context(), "SELECT current_setting('max_locks_per_transaction')::int, current_setting('max_connections')::int").Scan(&locks, &connections))
	mills := make([]checklists.MillID, manyTenants)
	for i := range mills {
		mills[i] = checklists.MillID(store.NewID())
		require.NoError(t, p.AddTenant(t.Context(), store.Tenant{Mill: mills[i], Host: fmt.Sprintf("mill%d.example", i), Made: time.Now()}))
	}
	hold, err := p.Hold(t.Context(), mills[0], "127.0.0.1:1")
	require.NoError(t, err)
	st, err := p.Open(t.Context(), t.TempDir(), mills[0], hold)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	setUpSmall(t, st)
	act := func() error {
		id := store.NewID()
		someone := procedures.Person{ID: procedures.PersonID(id), Name: "Hand " + id, Role: procedures.Operator, Authorized: true}
		return st.Of(mills[0]).KeepPerson(t.Context(), store.NewID(), someone, "", sam, time.Now())
	}
	require.NoError(t, act())
	began := time.Now()
	var tenThousand time.Duration
	for held := 1; held < manyTenants; {
		_, err := p.Hold(t.Context(), mills[held], "127.0.0.1:1")
		require.NoError(t, err, "mill %d", held)
		if held++; held == 10_000 {
			tenThousand = time.Since(began)
		}
	}
	require.NoError(t, act())
	b.say("**Locks.** `max_locks_per_transaction` %d, `max_connections` %d: one process, which has one lock for all its mills, held %d (rows alone), and an act of the first went through then. The first 10,000 took %.1f s, %.2f ms each.\n\n",
		locks, connections, manyTenants, tenThousand.Seconds(), 1000*tenThousand.Seconds()/10_000)
}

// setUpSmall is a mill with one supervisor and all starter lists as drafts.
func setUpSmall(t *testing.T, st *store.Store) {
	t.Helper()
	about := checklists.Mill{ID: st.NewMillID(), Name: "Fernhollow", Zone: "America/New_York", Units: checklists.InchPound,
		SetUp: checklists.SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2,
			Hoist: "electric", Collector: "cyclone", SawDiameter: 1.3208, SpindleSpeed: 600},
		Shifts: []checklists.Shift{{Name: "Day", Start: 7 * 60, End: 15*60 + 30, Days: []time.Weekday{1, 2, 3, 4, 5}}}}
	set, err := server.Starter(about, sam, "$argon2id$v=19$m=8,t=1,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", time.Now().Add(-time.Hour))
	require.NoError(t, err)
	require.NoError(t, st.SetUp(t.Context(), set))
}

// measureHeld is what a mill costs the process that holds it and the database while
// nobody does anything, without and with a page open.
func measureHeld(t *testing.T, b *table) {
	db := scratchdb.New(t, "")
	p, err := store.OpenPostgres(t.Context(), db, store.PostgresOptions{})
	require.NoError(t, err)
	data, program := t.TempDir(), filepath.Join(t.TempDir(), "stillsaw")
	said, err := exec.CommandContext(t.Context(), "go", "build", "-ldflags", "-s -w", "-o", program, "stillsaw/cmd/stillsaw").CombinedOutput()
	require.NoError(t, err, string(said))
	for i := range manyHeld {
		mill := checklists.MillID(store.NewID())
		require.NoError(t, p.AddTenant(t.Context(), store.Tenant{Mill: mill, Host: fmt.Sprintf("mill%d.example", i), Made: time.Now()}))
		st, err := p.Open(t.Context(), server.MillFolder(data, mill), mill, nil)
		require.NoError(t, err)
		setUpSmall(t, st)
		require.NoError(t, st.Close())
	}
	require.NoError(t, p.Close())
	one := startYard(t, program, db, data)
	defer one.stop(t)
	conn, err := pgx.Connect(t.Context(), db)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	bare, began := residentOf(t, one), time.Now()
	for i := range manyHeld {
		require.NoError(t, frontOf(one.address, fmt.Sprintf("mill%d.example", i)))
	}
	took, after := time.Since(began), residentOf(t, one)
	b.say("**A held mill**, set up and with nothing signed: %d of them, one after the other, were taken and answered their front page in %s each; one more takes %.2f MB of the process's memory (%.0f MB before the first).\n\n",
		manyHeld, millis(took/manyHeld), (after-bare)/manyHeld, bare)
	time.Sleep(30 * time.Second) // what begins with a mill is over
	transactions, ours, theirs := quiet(t, conn, one)
	b.say("| per mill and minute, nobody at work, over %s | transactions | processor time of the process | of the database's connections |\n|---|---|---|---|\n", manyQuiet)
	b.say("| no page open | %s | %s | %s |\n", short(transactions), millis(ours), millis(theirs))
	for i := range manyHeld {
		listen, err := net.Dial("tcp", one.address)
		require.NoError(t, err)
		defer listen.Close()
		_, err = fmt.Fprintf(listen, "GET /events HTTP/1.1\r\nHost: mill%d.example\r\nAccept: text/event-stream\r\n\r\n", i)
		require.NoError(t, err)
		go io.Copy(io.Discard, listen)
	}
	time.Sleep(10 * time.Second)
	transactions, ours, theirs = quiet(t, conn, one)
	b.say("| a page open | %s | %s | %s |\n\n", short(transactions), millis(ours), millis(theirs))
}

// quiet waits and tells what a mill cost in a minute of it.
func quiet(t *testing.T, conn *pgx.Conn, p *yardProcess) (transactions float64, ours, theirs time.Duration) {
	t.Helper()
	sum := func() (n int64, ours, theirs time.Duration) {
		require.NoError(t, conn.QueryRow(t.Context(), "SELECT xact_commit + xact_rollback FROM pg_stat_database WHERE datname = current_database()").Scan(&n))
		rows, err := conn.Query(t.Context(), "SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND application_name = 'stillsaw'")
		require.NoError(t, err)
		pids, err := pgx.CollectRows(rows, pgx.RowTo[int])
		require.NoError(t, err)
		for _, pid := range pids {
			theirs += workedBy(pid)
		}
		return n, workedBy(p.command.Process.Pid), theirs
	}
	n, our, their := sum()
	time.Sleep(manyQuiet)
	m, ourNow, theirNow := sum()
	share := func(d time.Duration) time.Duration {
		return time.Duration(float64(d) / manyHeld / manyQuiet.Minutes())
	}
	return float64(m-n) / manyHeld / manyQuiet.Minutes(), share(ourNow - our), share(theirNow - their)
}

// workedBy is the processor time of a process of this computer, in hundredths of a
// second; 0 where it is not of this computer.
func workedBy(pid int) time.Duration {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0
	}
	_, after, _ := strings.Cut(string(stat), ") ")
	fields := strings.Fields(after) // from the third on
	var user, system int64
	if len(fields) > 12 {
		fmt.Sscan(fields[11]+" "+fields[12], &user, &system)
	}
	return time.Duration(user+system) * 10 * time.Millisecond
}

func frontOf(address, host string) error {
	request, reply := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
	defer fasthttp.ReleaseRequest(request)
	defer fasthttp.ReleaseResponse(reply)
	request.SetRequestURI("http://" + address + "/")
	request.UseHostHeader = true
	request.Header.SetHost(host)
	if err := fasthttp.DoTimeout(request, reply, time.Minute); err != nil {
		return err
	}
	if reply.StatusCode() != fasthttp.StatusOK {
		return errors.New(host + ": " + reply.String())
	}
	return nil
}

// putInto writes one part of MANY.md, which stands between two marks, anew.
func putInto(t *testing.T, part, text string) {
	t.Helper()
	page, err := os.ReadFile(manyFile)
	require.NoError(t, err)
	begin, end := "<!-- "+part+" -->\n", "<!-- end of "+part+" -->"
	before, rest, found := strings.Cut(string(page), begin)
	require.True(t, found, begin)
	_, after, found := strings.Cut(rest, end)
	require.True(t, found, end)
	require.NoError(t, os.WriteFile(manyFile, []byte(before+begin+"\n"+strings.TrimSpace(text)+"\n\n"+end+after), 0o644))
}

const manyFile = "MANY.md"
