package bench

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// machine says in words where it was measured: commit, processor, memory, disk.
func machine(t testing.TB) string {
	t.Helper()
	commit := "not known"
	if out, err := exec.CommandContext(t.Context(), "git", "log", "-1", "--format=%h of %cs").Output(); err == nil {
		commit = strings.TrimSpace(string(out))
	}
	said := fmt.Sprintf("Commit %s, %s, %s on %s. %d cores%s, %s of memory. A durable write of 4 KB takes %s (median of 50).",
		commit, runtime.Version(), store.Engine, runtime.GOOS+"/"+runtime.GOARCH, runtime.NumCPU(), found("/proc/cpuinfo", `model name\s*: (.*)`, " (%s)"), found("/proc/meminfo", `MemTotal:\s*(\d+) kB`, "%s kB"), millis(synced(t)))
	return said + " Load of the computer at the start: " + loadAverage() + "."
}

// found is the first match in a file of /proc, said so; "not known" where there is none.
func found(file, pattern, says string) string {
	text, err := os.ReadFile(file)
	if err != nil {
		return ""
	}
	m := regexp.MustCompile(pattern).FindSubmatch(text)
	if m == nil {
		return ""
	}
	return fmt.Sprintf(says, m[1])
}

func loadAverage() string {
	if said := found("/proc/loadavg", `^(\S+) `, "%s"); said != "" {
		return said
	}
	return "not known"
}

// synced is how long a small write takes to be on the disk.
func synced(t testing.TB) time.Duration {
	file, err := os.Create(filepath.Join(t.TempDir(), "synced"))
	require.NoError(t, err)
	defer file.Close()
	page := make([]byte, 4096)
	var took []time.Duration
	for range 50 {
		began := time.Now()
		_, err := file.Write(page)
		require.NoError(t, err)
		require.NoError(t, file.Sync())
		took = append(took, time.Since(began))
	}
	slices.Sort(took)
	return took[len(took)/2]
}
