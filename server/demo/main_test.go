package demo_test

import (
	"fmt"
	"os"
	"runtime/debug"
	"testing"

	"stillsaw/server/store/scratchdb"
)

// TestMain gives the collector more room: weeks of history leave much behind that is soon of no use.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	code := m.Run()
	if err := scratchdb.Drop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	os.Exit(code)
}
