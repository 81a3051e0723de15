package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// 29 CFR 1910.184(e)(3)(i): at least every twelve months, whatever a file says.
func TestLiftWithAnInspectionOverAYearOldIsNoGoWhateverItsDueDate(t *testing.T) {
	text, err := os.ReadFile(goodRigFile)
	require.NoError(t, err)
	for inspected, want := range map[string]int{"2026-03-02T12:00:00Z": exitOK, "2025-03-02T12:00:00Z": exitWrong, "2026-03-09T12:00:00Z": exitWrong} {
		file := filepath.Join(t.TempDir(), "rig.json")
		dated := strings.NewReplacer(`"Inspected": "2026-03-02T12:00:00Z"`, `"Inspected": "`+inspected+`"`, `"2027-03-02T12:00:00Z"`, `"2099-01-01T00:00:00Z"`).Replace(string(text))
		require.NoError(t, os.WriteFile(file, []byte(dated), 0o600))
		c := liftIt(t, oakCant("-bark", "off", "-rig", file, "-asked")...)
		require.Equal(t, want, c.status, c.out+c.err)
	}
}
