package procedures_test

import (
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

// promises runs each test by itself, without a change; the quickest stand first.
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
		begun := time.Now()
		failed, said := p.run(program, "^"+name+"$", mutantOn+"=-1", reachedIn+"="+in)
		require.False(t, failed, "without a change:\n%s", said)
		one := promise{name, time.Since(begun), map[string]bool{}}
		reached, err := os.ReadFile(in)
		require.True(t, err == nil || errors.Is(err, os.ErrNotExist), "%v", err)
		for function := range strings.Lines(string(reached)) {
			one.reaches[strings.TrimSpace(function)] = true
		}
		all = append(all, one)
	}
	slices.SortFunc(all, func(a, b promise) int { return int(a.takes - b.takes) })
	return all
}

// passes tells whether every test that reaches the change passes with it. A test
// that never ends has noticed it as well.
func (p source) passes(program string, on int, m mutant, known []promise) bool {
	const quick = 150 * time.Millisecond
	var together []string
	var rest []string
	for _, one := range known {
		switch {
		case m.function != nil && !one.reaches[m.file+" "+m.function.Name.Name]:
		case one.takes < quick:
			together = append(together, one.name)
		default:
			rest = append(rest, one.name)
		}
	}
	if len(together) > 0 {
		rest = slices.Insert(rest, 0, strings.Join(together, "|"))
	}
	for _, which := range rest {
		failed, said := p.run(program, "^("+which+")$", mutantOn+"="+strconv.Itoa(on))
		if strings.Contains(said, "panic: test timed out") {
			fmt.Printf("never ended: %s\n", m)
		}
		if failed {
			return false
		}
	}
	return true
}

// run runs some tests of a program and says whether one failed.
func (p source) run(program, which string, more ...string) (failed bool, said string) {
	within, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	defer cancel()
	run := exec.CommandContext(within, program, "-test.failfast", "-test.timeout", "1m", "-rapid.nofailfile", "-rapid.shrinktime", "0s", "-test.run", which)
	run.Dir = p.dir
	run.Env = append(slices.DeleteFunc(os.Environ(), func(v string) bool { return strings.HasPrefix(v, "STILLSAW_") }), more...)
	out, err := run.CombinedOutput()
	var ended *exec.ExitError
	if errors.As(err, &ended) {
		return true, string(out)
	}
	if err != nil {
		panic(err)
	}
	return false, ""
}
