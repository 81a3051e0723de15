package demo_test

import (
	"os"
	"runtime/debug"
	"testing"
)

// TestMain gives the collector more room: weeks of history leave much behind that is soon of no use.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	os.Exit(m.Run())
}
