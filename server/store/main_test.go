package store

import (
	"os"
	"runtime/debug"
	"testing"
)

// TestMain gives the collector more room: a quarter of the work here was looking through what
// hundreds of stores leave.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	CheckKeptFacts(heldNth)
	os.Exit(m.Run())
}
