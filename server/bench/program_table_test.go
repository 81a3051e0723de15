package bench

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// hello is the least a server in Go is.
const hello = `package main

import (
	"fmt"
	"io"
	"net"
	"net/http"
)

func main() {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		panic(err)
	}
	fmt.Println("http://" + listener.Addr().String())
	panic(http.Serve(listener, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "hello") })))
}
`

// measureProgram is the program itself: its size, how soon it answers, what memory
// it takes at rest. It is built here, stripped, and read from the disk, as after the
// computer was started: what has just been written lies in memory in large pieces,
// all of whose pages count as soon as one is touched.
func measureProgram(t *testing.T, b *table) {
	b.head("The program")
	dir := t.TempDir()
	ours, plain := filepath.Join(dir, "stillsaw"), filepath.Join(dir, "hello")
	build := func(out string, what ...string) {
		said, err := exec.CommandContext(t.Context(), "go", append([]string{"build", "-ldflags", "-s -w", "-o", out}, what...)...).CombinedOutput()
		require.NoError(t, err, string(said))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "hello.go"), []byte(hello), 0o600))
	build(ours, "stillsaw/cmd/stillsaw")
	build(plain, filepath.Join(dir, "hello.go"))
	for _, program := range []string{ours, plain} {
		require.NoError(t, leaveMemory(program))
	}
	info, err := os.Stat(ours)
	require.NoError(t, err)
	size := float64(info.Size()) / (1 << 20)
	empty := newMill(t, 1, cheap)
	our := func(data string) []string { return []string{ours, "-addr", "127.0.0.1:0", "-data", data} }
	cold, bare := make([]time.Duration, rounds), make([]time.Duration, rounds)
	var rest memory
	turnsOf(rounds, func(i int) { cold[i], rest = firstAnswer(t, our(empty)...) }, func(i int) { bare[i], _ = firstAnswer(t, plain) })
	b.say("From starting the process to its first answer: %s with a mill of no checks yet, %s for a bare net/http server that says hello. At rest after that answer it holds %.1f MB (≤ 35 MB wanted), %.1f MB of which are its own and the others those of its file that were touched; the stripped program has %.1f MB (≤ 30 MB wanted).\n\n", millis(middleOf(cold)), millis(middleOf(bare)), rest.resident, rest.own, size)
	ratios := []ratio{{name: "program/cold", says: "first answer of ours / of hello", most: 3, rounds: perRound(rounds, func(i int) float64 { return cold[i].Seconds() / bare[i].Seconds() })}}
	if big := os.Getenv("STILLSAW_DATA"); big != "" {
		long := make([]time.Duration, rounds)
		turnsOf(rounds, func(i int) { cold[i], _ = firstAnswer(t, our(empty)...) }, func(i int) { long[i], _ = firstAnswer(t, our(big)...) })
		ratios = append(ratios, ratio{name: "program/long", says: "first answer with a long record / with a short one", most: 1.5, rounds: perRound(rounds, func(i int) float64 { return long[i].Seconds() / cold[i].Seconds() })})
	}
	b.add(ratios...)
}

var saidAddress = regexp.MustCompile(`http://(?:localhost|127\.0\.0\.1):\d+`)

// memory of a process, in MB: all that is there, and what of it lies in no file.
type memory struct{ resident, own float64 }

// firstAnswer starts a program, asks as soon as it says where, and ends it. holds is
// its memory then.
func firstAnswer(t *testing.T, command ...string) (took time.Duration, holds memory) {
	t.Helper()
	p := exec.Command(command[0], command[1:]...)
	out, err := p.StdoutPipe()
	require.NoError(t, err)
	p.Stderr = p.Stdout
	began := time.Now()
	require.NoError(t, p.Start())
	defer func() {
		require.NoError(t, p.Process.Kill())
		p.Wait() // killed, so it says an error
	}()
	late := time.AfterFunc(5*time.Minute, func() { p.Process.Kill() })
	defer late.Stop()
	lines := bufio.NewScanner(out)
	address := ""
	for address == "" && lines.Scan() {
		address = saidAddress.FindString(lines.Text())
	}
	require.NotEmpty(t, address, "%v said no address", command)
	go io.Copy(io.Discard, out)
	reply, err := http.Get(strings.Replace(address, "localhost", "127.0.0.1", 1) + "/")
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Equal(t, http.StatusOK, reply.StatusCode)
	took = time.Since(began)
	for name, megabytes := range map[string]*float64{"VmRSS": &holds.resident, "RssAnon": &holds.own} {
		fmt.Sscan(found(fmt.Sprintf("/proc/%d/status", p.Process.Pid), name+`:\s+(\d+) kB`, "%s"), megabytes)
		*megabytes /= 1024
	}
	return took, holds
}
