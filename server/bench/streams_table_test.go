package bench

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

const (
	fleetPhones  = 1000
	fleetPeople  = 20 // who is signed in on them
	fleetChanges = 20

	signedInPhones = 50 // that ask at a change: each is shown a page of its own
)

// fleetPhone is one phone with the first page open: a connection its stream comes over,
// another over which it asks for the page.
type fleetPhone struct {
	client *http.Client
	cookie string
	heard  chan int64 // the length of the record, as each "moved" tells it
}

// newFleet makes phones that come from addresses of their own, as those of a mill
// do. Only Linux has all of 127/8 on its loopback.
func newFleet(n int) []*fleetPhone {
	phones := make([]*fleetPhone, n)
	for i := range phones {
		from := net.TCPAddr{IP: net.IPv4(127, 0, byte(i/200), byte(1+i%200))}
		dialer := net.Dialer{LocalAddr: &from}
		phones[i] = &fleetPhone{heard: make(chan int64, 64),
			client: &http.Client{Transport: &http.Transport{DialContext: dialer.DialContext, DisableCompression: true},
				CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	}
	return phones
}

// listen hears the stream until ctx ends or the server ends it. ready is told once it
// is open.
func (p *fleetPhone) listen(ctx context.Context, base string, ready func(error)) {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"/events", nil)
	if err != nil {
		ready(err)
		return
	}
	request.Header.Set("Cookie", p.cookie)
	reply, err := p.client.Do(request)
	if err == nil && reply.StatusCode != http.StatusOK {
		err = fmt.Errorf("status %d", reply.StatusCode)
	}
	if err != nil {
		ready(err)
		return
	}
	defer reply.Body.Close()
	lines, event, once := bufio.NewReaderSize(reply.Body, 512), "", sync.OnceFunc(func() { ready(nil) })
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			close(p.heard)
			return
		}
		if name, ok := strings.CutPrefix(line, "event: "); ok {
			event = strings.TrimSpace(name)
		}
		if data, ok := strings.CutPrefix(line, "data: "); ok && event == "moved" {
			size, err := strconv.ParseInt(strings.TrimSpace(data), 10, 64)
			if err == nil {
				p.heard <- size
			}
			once()
		}
	}
}

var seenSize = regexp.MustCompile(`data-seen="(\d+)"`)

// fetch asks for the first page, as live.js does, and gives the length of the record
// it was made of; 0 where it came packed.
func (p *fleetPhone) fetch(base, encodings string) (seen int64, err error) {
	request, err := http.NewRequest(http.MethodGet, base+"/", nil)
	if err != nil {
		return 0, err
	}
	request.Header.Set("Cookie", p.cookie)
	request.Header.Set("Accept-Encoding", encodings)
	reply, err := p.client.Do(request)
	if err != nil {
		return 0, err
	}
	defer reply.Body.Close()
	body, err := io.ReadAll(reply.Body)
	if err != nil || reply.StatusCode != http.StatusOK {
		return 0, fmt.Errorf("first page: %d %w", reply.StatusCode, err)
	}
	if m := seenSize.FindSubmatch(body); m != nil {
		seen, err = strconv.ParseInt(string(m[1]), 10, 64)
	}
	return seen, err
}

// signedIn signs the person of that number in.
func (p *fleetPhone) signIn(base string, number int) error {
	reply, err := p.client.PostForm(base+"/sign-in", url.Values{"person": {string(person(number))}, "pin": {pin}})
	if err != nil {
		return err
	}
	defer reply.Body.Close()
	if reply.StatusCode != http.StatusSeeOther {
		return fmt.Errorf("sign-in: %d", reply.StatusCode)
	}
	p.cookie = strings.Split(reply.Header.Get("Set-Cookie"), ";")[0]
	return nil
}

// openAll has every phone listen and waits until all do.
func openAll(t *testing.T, ctx context.Context, base string, phones []*fleetPhone) {
	t.Helper()
	ready := make(chan error, len(phones))
	for _, p := range phones {
		p.heard = make(chan int64, 64)
		go p.listen(ctx, base, func(err error) { ready <- err })
	}
	for range phones {
		require.NoError(t, <-ready)
	}
	for _, p := range phones {
		<-p.heard // what it is told on connecting
	}
}

// delays has somebody stop a machine and tells how long after the request began it
// was answered, how long until each phone had heard, and until each had the page.
func delays(t *testing.T, base string, phones []*fleetPhone, fetch bool) (answered time.Duration, heard, fetched []time.Duration) {
	t.Helper()
	heard, fetched = make([]time.Duration, len(phones)), make([]time.Duration, len(phones))
	failed := make([]error, len(phones))
	var group sync.WaitGroup
	began := time.Now()
	for i, p := range phones {
		group.Go(func() {
			size, open := <-p.heard
			heard[i] = time.Since(began)
			switch {
			case !open:
				failed[i] = fmt.Errorf("phone %d: its stream ended", i)
			case fetch:
				seen, err := p.fetch(base, "gzip, deflate, br")
				fetched[i], failed[i] = time.Since(began), err
				if seen != 0 && seen < size {
					failed[i] = fmt.Errorf("phone %d was shown %d entries of %d", i, seen, size)
				}
			}
		})
	}
	reply, err := http.PostForm(base+"/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}, "what": {"hook bent"}})
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	answered = time.Since(began)
	group.Wait()
	for _, err := range failed {
		require.NoError(t, err)
	}
	return answered, heard, fetched
}

// program is a running Stillsaw.
type program struct {
	*exec.Cmd
	base string
}

// run starts the program and waits for its address.
func run(t *testing.T, command ...string) *program {
	t.Helper()
	p := &program{Cmd: exec.Command(command[0], command[1:]...)}
	out, err := p.StdoutPipe()
	require.NoError(t, err)
	p.Stderr = p.Stdout
	require.NoError(t, p.Start())
	t.Cleanup(func() {
		if p.ProcessState == nil {
			p.Process.Kill()
			p.Wait()
		}
	})
	lines := bufio.NewScanner(out)
	for p.base == "" && lines.Scan() {
		p.base = strings.Replace(saidAddress.FindString(lines.Text()), "localhost", "127.0.0.1", 1)
	}
	require.NotEmpty(t, p.base, "%v said no address", command)
	go io.Copy(io.Discard, out)
	return p
}

// resident is the memory it holds, in KB.
func (p *program) resident() float64 {
	var kilobytes float64
	fmt.Sscan(found(fmt.Sprintf("/proc/%d/status", p.Process.Pid), `VmRSS:\s+(\d+) kB`, "%s"), &kilobytes)
	return kilobytes
}

// A change is looked at once, however many listen.
func TestAChangeIsLookedAtOnceForAllWhoListen(t *testing.T) {
	w := watching()
	w.leaveOut(nil)
	m := serve(t, newMill(t, 1, cheap), store.On{Driver: "watched", VFS: "unix", Shared: true}, 1)
	base := "http://" + m.address
	statements := func(n int) int64 {
		ctx, hangUp := context.WithCancel(t.Context())
		defer hangUp()
		phones := newFleet(1)
		for len(phones) < n { // from one address: not every computer has more
			phones = append(phones, &fleetPhone{client: phones[0].client})
		}
		openAll(t, ctx, base, phones)
		fewest := int64(1 << 40)
		for range 5 { // the fewest: the server has work of its own beside
			before := w.statements.Load()
			_, heard, _ := delays(t, base, phones, false)
			require.Len(t, heard, n)
			fewest = min(fewest, w.statements.Load()-before)
		}
		return fewest
	}
	require.InDelta(t, statements(1), statements(30), 5)
}

// measureStreams is a thousand first pages open at once, each a stream: what memory
// they take in the server, how soon all know of a change and how soon all show it.
func measureStreams(t *testing.T, b *table) {
	b.head("A thousand pages open")
	ours := filepath.Join(t.TempDir(), "stillsaw")
	said, err := exec.CommandContext(t.Context(), "go", "build", "-ldflags", "-s -w", "-o", ours, "stillsaw/cmd/stillsaw").CombinedOutput()
	require.NoError(t, err, string(said))
	dir := newMill(t, fleetPeople, cheap)
	p := run(t, ours, "-addr", "127.0.0.1:0", "-data", dir)
	phones := newFleet(fleetPhones)
	for range 50 {
		_, err := phones[0].fetch(p.base, "gzip, deflate, br")
		require.NoError(t, err)
	}
	rest := p.resident()
	ctx, hangUp := context.WithCancel(t.Context())
	defer hangUp()
	began := time.Now()
	openAll(t, ctx, p.base, phones)
	opened := time.Since(began)
	time.Sleep(20 * time.Second) // two rounds of "here"
	open := p.resident()
	each := (open - rest) / fleetPhones
	var answered, heard, last []time.Duration
	for range fleetChanges {
		a, h, _ := delays(t, p.base, phones, false)
		answered, heard, last = append(answered, a), append(heard, h...), append(last, slices.Max(h))
		time.Sleep(300 * time.Millisecond)
	}
	b.say("Opened in %s; at rest the server holds %.1f MB, with %d streams open %.1f MB.\n\n", millis(opened), rest/1024, fleetPhones, open/1024)
	slices.Sort(heard)
	b.say("%d changes, a machine stopped by somebody not signed in, from sending it: answered after %s (median); heard by a phone after %s (p50), %s (p99), %s (maximum).\n\n", fleetChanges, millis(middleOf(answered)), millis(middleOf(heard)), millis(heard[len(heard)*99/100]), millis(heard[len(heard)-1]))
	ratios := []ratio{
		{name: "streams/memory", says: "memory of each stream, KB", most: 40, rounds: []float64{each}},
		{name: "streams/heard", says: "change heard by all, ms", most: 500, rounds: inMillis(last)},
	}
	fetching := func(who, name string) {
		var all, last []time.Duration
		for range rounds {
			_, _, f := delays(t, p.base, phones, true)
			all, last = append(all, f...), append(last, slices.Max(f))
			time.Sleep(time.Second)
		}
		slices.Sort(all)
		b.say("The page with it, %s, after %s (p50), %s (p99), %s (maximum).\n\n", who, millis(middleOf(all)), millis(all[len(all)*99/100]), millis(all[len(all)-1]))
		ratios = append(ratios, ratio{name: "streams/" + name, says: "change shown by all, " + who + ", ms", most: 500, rounds: inMillis(last)})
	}
	fetching("nobody signed in", "shown")
	hangUp()
	ctx, hangUp = context.WithCancel(t.Context())
	defer hangUp()
	var next atomic.Int64
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			for i := int(next.Add(1) - 1); i < len(phones); i = int(next.Add(1) - 1) {
				if err := phones[i].signIn(p.base, i%fleetPeople); err != nil {
					t.Error(err)
				}
			}
		})
	}
	group.Wait()
	openAll(t, ctx, p.base, phones)
	all := phones
	phones = phones[:signedInPhones]
	fetching(fmt.Sprintf("at %d of the phones, on which %d people are signed in", signedInPhones, fleetPeople), "shown to people")
	phones = all
	began = time.Now()
	require.NoError(t, p.Process.Signal(syscall.SIGTERM))
	require.NoError(t, p.Wait())
	b.say("Told to stop with all of them open, the program ended after %s. After all of that it held %.1f MB.\n\n", millis(time.Since(began)), p.resident()/1024)
	b.add(ratios...)
}

func inMillis(times []time.Duration) []float64 {
	each := make([]float64, len(times))
	for i, d := range times {
		each[i] = 1000 * d.Seconds()
	}
	return each
}
