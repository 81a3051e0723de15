package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// Sixteen phones send and look at the first page, evenly over a long time, and what
// is stopped is mended and returned to service: nothing fails, and the memory of the
// program doesn't grow. STILLSAW_FOR says how long (an
// hour), STILLSAW_RATE how many acts a second, with a page looked at for each: a third
// of what sixteen phones reach with the PIN at its cost (server/bench/TABLE.md).
func TestAnHourOfLoadLeavesMemoryFlat(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("takes an hour; with STILLSAW_LONG=1")
	}
	lasts, rate := time.Hour, 6.0
	var err error
	if given := os.Getenv("STILLSAW_FOR"); given != "" {
		lasts, err = time.ParseDuration(given)
		require.NoError(t, err)
	}
	if given := os.Getenv("STILLSAW_RATE"); given != "" {
		rate, err = strconv.ParseFloat(given, 64)
		require.NoError(t, err)
	}
	binary := built(t)
	y := newYard(t, binary)
	p := y.serve(t, binary)
	ctx, cancel := context.WithTimeout(t.Context(), lasts)
	defer cancel()

	var late atomic.Int64
	turns := make(chan struct{})
	var group sync.WaitGroup
	group.Go(func() {
		defer close(turns)
		every := time.NewTicker(time.Duration(float64(time.Second) / rate))
		defer every.Stop()
		for {
			select {
			case <-every.C:
				select {
				case turns <- struct{}{}:
				default:
					late.Add(1) // all hands are at something
				}
			case <-ctx.Done():
				return
			}
		}
	})
	mended := make(chan mend, 1<<16)
	for _, h := range y.hands {
		h.tends = true
		group.Go(func() {
			for range turns {
				if len(h.next) == 0 {
					h.next = h.afterwards(mended)
				}
				h.pending, h.next = h.next[0], h.next[1:]
				if !y.tell(t.Context(), h) {
					y.fault("no answer")
					return
				}
				if h.last.kind == store.KindMended {
					mended <- mend{h.last.to, h.no}
				}
				if err := h.looks(); err != nil {
					y.fault("the first page: %s", err)
					return
				}
			}
		})
	}
	var sizes []uint64
	samples := time.NewTicker(lasts / 30)
	defer samples.Stop()
	for ctx.Err() == nil {
		select {
		case <-samples.C:
			sizes = append(sizes, resident(t, p.command.Process.Pid)>>20)
			info, err := os.Stat(filepath.Join(y.dir, store.FileName+"-wal"))
			require.NoError(t, err)
			t.Logf("%d acts, %d MB of memory, log of %d MB", y.answered(), sizes[len(sizes)-1], info.Size()>>20)
		case <-ctx.Done():
		}
	}
	group.Wait()
	y.look(t)
	require.Empty(t, y.wrong)
	require.NotContains(t, p.out.String(), "level=ERROR")
	y.whole(t, binary)
	require.NoError(t, p.command.Process.Signal(syscall.SIGTERM))
	require.NoError(t, p.ended())
	third := len(sizes) / 3
	before, after := most(sizes[third:2*third]), most(sizes[2*third:])
	t.Logf("%s at %.1f acts a second asked: %d acts, %d turns nobody was free for; memory at most %d MB in the second third, %d MB in the last", lasts, rate, y.answers, late.Load(), before, after)
	require.LessOrEqual(t, after, before+before/10)
}

// A mend is a defect by its address, and whose hand mended it.
type mend struct {
	defect string
	by     int
}

// afterwards is what a hand does next: it returns to service what another mended,
// if there is such, or begins its turn again.
func (h *hand) afterwards(mended chan mend) []*deed {
	select {
	case m := <-mended:
		if m.by != h.no {
			return []*deed{h.returns(m.defect)}
		}
		mended <- m
	default:
	}
	return h.turn()
}

func (y *yard) answered() int {
	y.mu.Lock()
	defer y.mu.Unlock()
	return y.answers
}

func (h *hand) looks() error {
	reply, err := h.http.Get("http://" + h.addr + "/")
	if err != nil {
		return err
	}
	defer reply.Body.Close()
	page, err := io.ReadAll(reply.Body)
	if err != nil {
		return err
	}
	if reply.StatusCode != http.StatusOK {
		return fmt.Errorf("%s was answered with %d: %s", reply.Request.URL, reply.StatusCode, saidOn(string(page)))
	}
	return nil
}

func most(sizes []uint64) (most uint64) {
	for _, size := range sizes {
		most = max(most, size)
	}
	return most
}

// resident is how much memory a process has now, in bytes.
func resident(t *testing.T, pid int) uint64 {
	t.Helper()
	status, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "status"))
	require.NoError(t, err)
	found := regexp.MustCompile(`VmRSS:\s+(\d+) kB`).FindSubmatch(status)
	require.NotNil(t, found, string(status))
	n, err := strconv.ParseUint(string(found[1]), 10, 64)
	require.NoError(t, err)
	return n << 10
}
