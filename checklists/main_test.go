package checklists_test

import (
	"os"
	"runtime/debug"
	"testing"
)

// TestMain gives the collector more room: half of the work here was looking through what thousands
// of drawn mills leave.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	os.Exit(m.Run())
}
