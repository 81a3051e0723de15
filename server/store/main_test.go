package store

import (
	"flag"
	"fmt"
	"os"
	"runtime/debug"
	"testing"

	"stillsaw/server/store/scratchdb"
)

// TestMain gives the collector more room: a quarter of the work here was looking through what
// hundreds of stores leave.
// thorough tells whether all is gone through, as in CI, or a sample, so that the
// ordinary run stays short.
func thorough() bool { return os.Getenv("CI") != "" || os.Getenv("STILLSAW_LONG") != "" }

// sampled tells whether the one of that number is in the sample: each so-manyth is.
func sampled(i, nth int) bool { return thorough() || i%nth == 0 }

func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	held := int64(heldNth)
	if !thorough() {
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
