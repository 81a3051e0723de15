package store

import (
	"fmt"
	"os"
	"runtime/debug"
	"testing"

	"stillsaw/server/store/scratchdb"
)

// TestMain gives the collector more room: a quarter of the work here was looking through what
// hundreds of stores leave.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	CheckKeptFacts(heldNth)
	code := m.Run()
	if err := scratchdb.Drop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	os.Exit(code)
}
