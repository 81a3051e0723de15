package procedures_test

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// promise is one test of the package under test: how long it takes, and which
// functions it reaches.
type promise struct {
	name    string
	takes   time.Duration
	reaches map[string]bool
}

// promises runs each test by itself, without a change; those that reach least stand
// first, as they are the ones that are about it.
func (p source) promises(t *testing.T, program string) []promise {
	list := exec.Command(program, "-test.list", ".")
	list.Dir = p.dir
	names, err := list.Output()
	require.NoError(t, err)
	var all []promise
	for name := range strings.FieldsSeq(string(names)) {
		if strings.HasPrefix(name, "Benchmark") {
			continue
		}
		in := filepath.Join(t.TempDir(), "reached")
		failed, said, takes := p.run(program, "^"+name+"$", mutantOn+"=-1", reachedIn+"="+in)
		require.False(t, failed, "without a change:\n%s", said)
		one := promise{name, takes, map[string]bool{}}
		reached, err := os.ReadFile(in)
		require.True(t, err == nil || errors.Is(err, os.ErrNotExist), "%v", err)
		for function := range strings.Lines(string(reached)) {
			one.reaches[strings.TrimSpace(function)] = true
		}
		all = append(all, one)
	}
	slices.SortFunc(all, func(a, b promise) int {
		return cmp.Or(int(a.takes/quick-b.takes/quick), len(a.reaches)-len(b.reaches))
	})
	return all
}

// quick is what a test takes of the processor that is run together with others.
const quick = 150 * time.Millisecond

// passes tells whether every test that reaches the change passes with it. A test
// that never ends has noticed it as well.
func (p source) passes(program string, on int, m mutant, known []promise) bool {
	const narrow = 12 // functions
	var narrowly, widely, slowly []string
	for _, one := range known {
		switch {
		case m.function != nil && !one.reaches[m.file+" "+m.function.Name.Name]:
		case one.takes >= quick:
			slowly = append(slowly, one.name)
		case len(one.reaches) <= narrow:
			narrowly = append(narrowly, one.name)
		default:
			widely = append(widely, one.name)
		}
	}
	for _, which := range slices.Concat([]string{strings.Join(narrowly, "|"), strings.Join(widely, "|")}, slowly) {
		if which == "" {
			continue
		}
		failed, said, takes := p.run(program, "^("+which+")$", mutantOn+"="+strconv.Itoa(on))
		if takes > mostTime || strings.Contains(said, "panic: test timed out") {
			fmt.Printf("never ended: %s\n", m)
		}
		if failed {
			return false
		}
	}
	return true
}

// mostTime is what tests may take of the processor before they are ended: other work
// on the machine is no reason to say that one never ends.
const mostTime = 30 * time.Second

// run runs some tests of a program, says whether one failed and what they took of
// the processor.
func (p source) run(program, which string, more ...string) (failed bool, said string, takes time.Duration) {
	within, cancel := context.WithTimeout(context.Background(), 20*time.Minute)
	defer cancel()
	run := exec.CommandContext(within, "sh", "-c", `ulimit -t "$0"; exec "$@"`, strconv.Itoa(int(mostTime.Seconds())+1),
		program, "-test.failfast", "-test.timeout", "15m", "-rapid.nofailfile", "-rapid.shrinktime", "0s", "-test.run", which)
	run.Dir = p.dir
	run.Env = append(slices.DeleteFunc(os.Environ(), func(v string) bool { return strings.HasPrefix(v, "STILLSAW_") }), more...)
	out, err := run.CombinedOutput()
	takes = run.ProcessState.UserTime() + run.ProcessState.SystemTime()
	var ended *exec.ExitError
	if errors.As(err, &ended) {
		return true, string(out), takes
	}
	if err != nil {
		panic(err)
	}
	return false, "", takes
}
