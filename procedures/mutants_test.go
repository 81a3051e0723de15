package procedures_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
)

// mutantOn is the variable of the environment that says which change of the
// program under test is in force.
const mutantOn = "STILLSAW_MUTANT"

// reachedIn is the variable that names the file in which it writes down which
// functions it reached.
const reachedIn = "STILLSAW_REACHED"

// By hand: one operator, constant or statement of the rules is changed at a time,
// and the package's own tests must notice. DEVELOPERS.md says how long it takes;
// testdata/survivors.txt holds what went unnoticed and why that is so.
func TestTestsNoticeAChangedRule(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("long: set STILLSAW_LONG=1")
	}
	reasons := survivorsListed(t)
	for _, dir := range []string{"lift", "."} {
		name := map[string]string{"lift": "lift", ".": "procedures"}[dir]
		t.Run(name, func(t *testing.T) {
			p := readSource(t, dir)
			all := p.mutants()
			if only := os.Getenv("STILLSAW_ONLY"); only != "" {
				like := regexp.MustCompile(only)
				all = slices.DeleteFunc(all, func(m mutant) bool { return !like.MatchString(m.String()) })
			}
			seed, _ := strconv.ParseUint(os.Getenv("STILLSAW_SEED"), 10, 64)
			rand.New(rand.NewPCG(seed, 0)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
			if runs, err := strconv.Atoi(os.Getenv("STILLSAW_RUNS")); err == nil {
				all = all[:min(runs, len(all))]
			}
			drawn := len(all)
			all = p.compiling(t, all)
			tried := try(t, p, all)
			killed, listed := 0, 0
			for i, survived := range tried {
				m := all[i]
				if !survived {
					killed++
					continue
				}
				reason := reasons[m.String()]
				if reason != "" {
					listed++
				} else {
					reason = "NOT LISTED"
				}
				t.Logf("%s | %s", m, reason)
			}
			t.Logf("%s: seed %d, %d drawn, %d compile, %d killed (%.1f %%), %d survived, of which %d are listed",
				name, seed, drawn, len(all), killed, 100*float64(killed)/float64(len(all)), len(all)-killed, listed)
			require.GreaterOrEqual(t, float64(killed), 0.9*float64(len(all)))
		})
	}
}

// survivorsListed reads the changes known to go unnoticed, each with its reason.
func survivorsListed(t *testing.T) map[string]string {
	text, err := os.ReadFile("testdata/survivors.txt")
	require.NoError(t, err)
	reasons := map[string]string{}
	for line := range strings.Lines(string(text)) {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		at := strings.LastIndex(line, " | ")
		require.Positive(t, at, line)
		reasons[line[:at]] = line[at+3:]
	}
	return reasons
}

// try runs for each change the tests that reach it, the short ones first, and says
// of each whether they passed. Changes inside functions are all built into one
// program that asks the environment which is in force; the rest are built one by one.
func try(t *testing.T, p source, all []mutant) []bool {
	tmp := t.TempDir()
	together := filepath.Join(tmp, "together.test")
	p.build(t, p.woven(all).text, together)
	known := p.promises(t, together)
	survived := make([]bool, len(all))
	work := make(chan int)
	var wait sync.WaitGroup
	var tried atomic.Int32
	for worker := range 2 {
		wait.Go(func() {
			for i := range work {
				program, on := together, all[i].id
				if all[i].function == nil {
					program, on = filepath.Join(tmp, fmt.Sprintf("alone%d.test", worker)), 0
					p.build(t, p.alone(all[i]), program)
				}
				survived[i] = p.passes(program, on, all[i], known)
				if survived[i] {
					fmt.Printf("survived: %s\n", all[i])
				}
				if n := tried.Add(1); n%20 == 0 {
					fmt.Printf("%d of %d tried\n", n, len(all))
				}
			}
		})
	}
	for i := range all {
		work <- i
	}
	close(work)
	wait.Wait()
	return survived
}

// build compiles the package's tests with text in place of its files.
func (p source) build(t *testing.T, text map[string]string, program string) {
	dir := t.TempDir()
	replace := map[string]string{}
	for i, name := range slices.Sorted(maps.Keys(text)) {
		replace[filepath.Join(p.dir, name)] = filepath.Join(dir, fmt.Sprintf("%d.go", i))
		if err := os.WriteFile(replace[filepath.Join(p.dir, name)], []byte(text[name]), 0o600); err != nil {
			panic(err)
		}
	}
	overlay, err := json.Marshal(map[string]any{"Replace": replace})
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "overlay.json"), overlay, 0o600)
	}
	if err != nil {
		panic(err)
	}
	build := exec.Command("go", "test", "-c", "-vet=off", "-ldflags=-s -w", "-overlay", filepath.Join(dir, "overlay.json"), "-o", program, ".")
	build.Dir = p.dir
	if said, err := build.CombinedOutput(); err != nil {
		panic(fmt.Sprintf("%v\n%s", err, said))
	}
}
