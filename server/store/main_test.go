package store

import (
	"flag"
	"fmt"
	"os"
	"runtime/debug"
	"testing"

	"stillsaw/server/sample"
	"stillsaw/server/store/scratchdb"
)

// TestMain gives the collector more room: a quarter of the work here was looking through what
// hundreds of stores leave.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	held := int64(heldNth)
	if !sample.Whole() {
		held = max(held, 5)
		if err := flag.Set("rapid.checks", "30"); err != nil { // what the command line says comes after
			panic(err)
		}
	}
	CheckKeptFacts(held)
	code := m.Run()
	if err := scratchdb.Drop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	os.Exit(code)
}
