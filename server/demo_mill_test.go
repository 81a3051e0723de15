package server_test

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"runtime/debug"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server"
	"stillsaw/server/demo"
	"stillsaw/server/sample"
	"stillsaw/server/store"
	"stillsaw/server/store/lent"
	"stillsaw/server/store/scratchdb"
)

// TestMain gives the collector more room: hundreds of servers come and go here,
// and a third of the time went to looking through what they leave.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	if sample.Whole() {
		store.CheckKeptFacts(heldNth)
	}
	code := m.Run()
	server.EndBrowser()
	if filledMill.dir != "" {
		if err := os.RemoveAll(filledMill.dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	if err := scratchdb.Drop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	os.Exit(code)
}

// demoNow is in the middle of a shift of the invented mill: a Wednesday, 11 in
// the morning there.
var demoNow = time.Date(2026, 5, 13, 15, 0, 0, 0, time.UTC)

// filledMill is the invented mill at demoNow, filled once; tests work on copies.
var filledMill struct {
	once   sync.Once
	dir    string
	people []demo.SignIn
	err    error
}

func fillOnce() {
	f := &filledMill
	if f.dir, f.err = os.MkdirTemp("", "invented-mill"); f.err != nil {
		return
	}
	st, err := lent.Open(context.Background(), f.dir)
	if err != nil {
		f.err = err
		return
	}
	f.people, f.err = demo.Fill(context.Background(), st, demoNow)
	if err := st.Close(); f.err == nil {
		f.err = err
	}
}

// demoServer is a server of its own on a copy of the invented mill, and who can
// sign in there.
func demoServer(t *testing.T) (*server.Server, *store.Store, []demo.SignIn) {
	t.Helper()
	filledMill.once.Do(fillOnce)
	require.NoError(t, filledMill.err)
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(filledMill.dir)))
	st, err := lent.Open(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	s, err := server.New(server.WithPages(server.Config{Store: st, Now: func() time.Time { return demoNow }, Log: slog.New(slog.NewTextHandler(t.Output(), nil))}))
	require.NoError(t, err)
	return s, st, filledMill.people
}
