package bench

import (
	"bufio"
	"encoding/base64"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillsaw/checklists"
	"stillsaw/server"
	"stillsaw/server/store"
	"stillsaw/server/store/scratchdb"
)

const (
	yardMills     = 64
	yardProcesses = 4
	yardTurn      = 6 * time.Second
)

// yardProcess is one of several programs on a database of many mills.
type yardProcess struct {
	command *exec.Cmd
	address string
}

var saidMills = regexp.MustCompile(`on (127\.0\.0\.1:\d+), each`)

func startYard(t *testing.T, program, db, data string) *yardProcess {
	t.Helper()
	p := &yardProcess{command: exec.Command(program, "-db", db, "-data", data, "-addr", "127.0.0.1:0", "-mills-most", "0", "-log", "json")}
	out, err := p.command.StdoutPipe()
	require.NoError(t, err)
	p.command.Stderr = p.command.Stdout
	require.NoError(t, p.command.Start())
	late := time.AfterFunc(time.Minute, func() { p.command.Process.Kill() })
	defer late.Stop()
	lines, said := bufio.NewScanner(out), ""
	for p.address == "" && lines.Scan() {
		said += lines.Text() + "\n"
		if found := saidMills.FindStringSubmatch(lines.Text()); found != nil {
			p.address = found[1]
		}
	}
	require.NotEmpty(t, p.address, said)
	go io.Copy(io.Discard, out)
	return p
}

func (p *yardProcess) stop(t *testing.T) {
	t.Helper()
	require.NoError(t, p.command.Process.Signal(syscall.SIGTERM))
	late := time.AfterFunc(time.Minute, func() { p.command.Process.Kill() })
	defer late.Stop()
	require.NoError(t, p.command.Wait())
}

// measureMills is sign-offs from a phone of each of many mills, over one process and
// over several on the same database, and what a mill costs a process.
func measureMills(t *testing.T, b *table) {
	b.head("Many mills on PostgreSQL")
	db := os.Getenv(scratchdb.SpreadVariable)
	switch {
	case db != "":
		b.say("In the database named by %s.\n\n", scratchdb.SpreadVariable)
	case !scratchdb.Asked():
		b.say("Not measured: no server was named (%s).\n", scratchdb.Variable)
		return
	default:
		db = scratchdb.New(t, "")
	}
	p, err := store.OpenPostgres(t.Context(), db, store.PostgresOptions{})
	require.NoError(t, err, "of a server that keeps what it acknowledges")
	data, program := t.TempDir(), filepath.Join(t.TempDir(), "stillsaw")
	said, err := exec.CommandContext(t.Context(), "go", "build", "-ldflags", "-s -w", "-o", program, "stillsaw/cmd/stillsaw").CombinedOutput()
	require.NoError(t, err, string(said))
	hosts := make([]string, yardMills)
	for i := range hosts {
		mill := checklists.MillID(store.NewID())
		hosts[i] = string(mill) + ".example"
		require.NoError(t, p.AddTenant(t.Context(), store.Tenant{Mill: mill, Host: hosts[i], Made: time.Now()}))
		st, err := p.Open(t.Context(), server.MillFolder(data, mill), mill, nil)
		require.NoError(t, err)
		fillMill(t, st, 1, cheap)
		require.NoError(t, st.Close())
	}
	require.NoError(t, p.Close())

	body, token := signOff(), "stillsaw_"+base64.RawURLEncoding.EncodeToString(secret(0))
	var took, bare, held float64
	over := func(processes int) (made pace) {
		all := make([]*yardProcess, processes)
		for i := range all {
			all[i] = startYard(t, program, db, data)
			defer all[i].stop(t)
		}
		before := residentOf(t, all[0])
		callers := make([]*fasthttp.HostClient, yardMills)
		began := time.Now()
		for i := range callers { // each is taken by the process it is asked of
			callers[i] = caller(all[i%processes].address)
			require.NoError(t, ofMill(callers[i], hosts[i], token, body))
		}
		took = time.Since(began).Seconds() / yardMills
		bare, held = before, residentOf(t, all[0])
		return load(t, yardMills, yardTurn, func(phone int) error { return ofMill(callers[phone], hosts[phone], token, body) })
	}
	one, several := make([]pace, rounds), make([]pace, rounds)
	var perMill, opening float64
	turnsOf(rounds, func(i int) {
		one[i] = over(1)
		perMill, opening = (held-bare)/yardMills, took
	}, func(i int) { several[i] = over(yardProcesses) })
	b.say("A sign-off of 30 answers from one phone of each of %d mills, its PIN's digest costing next to nothing, by %d phones at once; the database and the phones share the computer's cores with the processes.\n\n", yardMills, yardMills)
	b.say("| processes | sign-offs a second, minimum, median, maximum | p50, p99 in the round in the middle |\n|---|---|---|\n")
	for _, way := range []struct {
		name string
		made []pace
	}{{"1", one}, {fmt.Sprint(yardProcesses), several}} {
		rates := ratio{rounds: perRound(rounds, func(i int) float64 { return way.made[i].rate })}
		sorted := rates.sorted()
		middle := way.made[0]
		for _, p := range way.made {
			if p.rate == rates.median() {
				middle = p
			}
		}
		b.say("| %s | %s, %s, %s | %s, %s |\n", way.name, short(sorted[0]), short(rates.median()), short(sorted[len(sorted)-1]), millis(middle.p50), millis(middle.p99))
	}
	b.say("\nA mill that is taken answers its first sign-off after %s; one process that holds %d of them and made a sign-off at each has %.2f MB more for each.\n\n",
		millis(time.Duration(opening*float64(time.Second))), yardMills, perMill)
	b.add(ratio{name: "mills/processes", says: fmt.Sprintf("rate of %d processes / of one", yardProcesses), least: 1.5,
		rounds: perRound(rounds, func(i int) float64 { return several[i].rate / one[i].rate })})
}

func ofMill(c *fasthttp.HostClient, host, token string, body []byte) error {
	request, reply := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
	defer fasthttp.ReleaseRequest(request)
	defer fasthttp.ReleaseResponse(reply)
	request.SetRequestURI("http://" + c.Addr + apiPath)
	request.UseHostHeader = true
	request.Header.SetHost(host)
	request.Header.SetMethod(fasthttp.MethodPost)
	request.Header.SetContentType("application/json")
	request.Header.Set("Authorization", "Bearer "+token)
	request.Header.Set("Idempotency-Key", store.NewID())
	request.SetBody(body)
	if err := c.Do(request, reply); err != nil {
		return err
	}
	if reply.StatusCode() != fasthttp.StatusOK {
		return fmt.Errorf("%s: status %d: %.300s", host, reply.StatusCode(), reply.Body())
	}
	return nil
}

// residentOf is what memory a process holds, in MB.
func residentOf(t *testing.T, p *yardProcess) (megabytes float64) {
	t.Helper()
	_, err := os.Stat("/proc/self/status")
	require.NoError(t, err, "this part is measured on Linux")
	fmt.Sscan(found(fmt.Sprintf("/proc/%d/status", p.command.Process.Pid), `VmRSS:\s+(\d+) kB`, "%s"), &megabytes)
	return megabytes / 1024
}
