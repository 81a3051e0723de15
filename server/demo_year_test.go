package server_test

import (
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server"
	"stillsaw/server/demo"
	"stillsaw/server/store"
)

// taken is what the server takes up at the end of a month.
type taken struct {
	entries             int64
	heap, database, log int64
	goroutines, handles int
	others              []string // files beside the database
	slowest             time.Duration
}

// A year of three shifts goes by in minutes beside a server that runs all along:
// its rounds are made every working day, its pages are read every week. By hand.
func TestAYearTakesNoMoreMemoryAndLeavesNoFiles(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("about ten minutes; STILLSAW_LONG=1 runs it")
	}
	dir := t.TempDir()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	end := demoNow
	var mu sync.Mutex
	at := end.AddDate(-1, 0, 0)
	clock := func() time.Time { mu.Lock(); defer mu.Unlock(); return at }
	s, err := server.New(server.Config{Store: st, Now: clock, Log: slog.New(slog.NewTextHandler(t.Output(), nil))})
	require.NoError(t, err)
	base := server.NewServerAt(t, s)

	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	browser := &http.Client{Jar: jar, Timeout: time.Minute}
	read := func(path string) time.Duration {
		began := time.Now()
		reply, err := browser.Get(base + path)
		require.NoError(t, err)
		_, err = io.Copy(io.Discard, reply.Body)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		require.Equal(t, http.StatusOK, reply.StatusCode, path)
		return time.Since(began)
	}
	var months []taken
	var next time.Time
	last, slowest := "", time.Duration(0)
	days := 0
	_, err = demo.FillYears(t.Context(), st, end, 1, func(told demo.Told) {
		mu.Lock()
		at = told.At
		mu.Unlock()
		var err error
		next, err = server.RoundsOf(t.Context(), s, next)
		require.NoError(t, err)
		if days++; days%5 == 0 {
			for _, path := range []string{"/"} {
				slowest = max(slowest, read(path))
			}
		}
		if month := told.At.Format("2006-01"); month != last {
			last = month
			now := takes(t, dir)
			now.entries, now.slowest = told.Entries, slowest
			slowest = 0
			months = append(months, now)
			t.Logf("%s: %d entries, heap %.1f MB, database %.1f MB, its log %.1f MB, %d goroutines, %d open files, slowest page %s",
				month, now.entries, float64(now.heap)/1e6, float64(now.database)/1e6, float64(now.log)/1e6, now.goroutines, now.handles, now.slowest.Round(time.Millisecond))
		}
	})
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(months), 12)
	early, late := months[2], months[len(months)-1]
	require.Less(t, late.heap, early.heap*5/4+8e6, "what is kept in memory does not grow with the record")
	require.LessOrEqual(t, late.goroutines, early.goroutines+4)
	require.LessOrEqual(t, late.handles, early.handles+8)
	require.Less(t, late.log, int64(64e6), "the database's log is folded in again and again")
	require.Empty(t, late.others, "nothing is left beside the database")
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	head, err := st.Of(mill.ID).Head(t.Context())
	require.NoError(t, err)
	require.Greater(t, head.Size, int64(80_000))
}

// takes looks at this process and at the data folder.
func takes(t *testing.T, dir string) (now taken) {
	t.Helper()
	runtime.GC()
	runtime.GC() // what was pooled goes with the second
	var memory runtime.MemStats
	runtime.ReadMemStats(&memory)
	now.heap, now.goroutines = int64(memory.HeapAlloc), runtime.NumGoroutine()
	if open, err := os.ReadDir("/proc/self/fd"); err == nil {
		now.handles = len(open)
	}
	require.NoError(t, filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		info, err := entry.Info()
		if err != nil {
			return err
		}
		switch name := entry.Name(); {
		case name == store.FileName:
			now.database = info.Size()
		case name == store.FileName+"-wal":
			now.log = info.Size()
		case name == store.FileName+"-shm", strings.Contains(path, "keys"), strings.HasSuffix(name, ".lock"):
		default:
			now.others = append(now.others, path)
		}
		return nil
	}))
	return now
}
