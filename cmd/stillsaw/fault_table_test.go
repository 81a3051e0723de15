package main

import (
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/sample"
)

// faultTable is the page of what happens when something goes wrong with the
// program running. Its rows are written by the tests that bring it about.
const faultTable = "FAULTS.md"

var faultFile sync.Mutex

// faultRow requires the page to say what was seen of a fault. What was lost is
// nothing, or the test that calls this fails before.
func faultRow(t *testing.T, fault, screen, log, recovery string) {
	t.Helper()
	if driverHere() != "sqlite3" {
		return // its errors have other words; the page is of the build with a C compiler
	}
	faultFile.Lock()
	defer faultFile.Unlock()
	row := "| " + strings.Join([]string{fault, screen, log, "nothing acknowledged", recovery}, " | ") + " |"
	kept, err := os.ReadFile(faultTable)
	require.NoError(t, err)
	if !*updateGolden {
		require.Contains(t, string(kept), row+"\n", "go test ./cmd/stillsaw -run %s -update writes what is seen now", t.Name())
		return
	}
	lines, put := strings.SplitAfter(string(kept), "\n"), false
	for i, line := range lines {
		if strings.HasPrefix(line, "| "+fault+" |") {
			lines[i], put = row+"\n", true
		}
	}
	if !put {
		lines = append(lines, row+"\n")
	}
	require.NoError(t, os.WriteFile(faultTable, []byte(strings.Join(lines, "")), 0o644))
}

// words are a text on one line, as it stands in a cell of the page.
func words(text string) string {
	return strings.ReplaceAll(strings.TrimSpace(blanks.ReplaceAllString(text, " ")), "|", "/")
}

// thorough tells whether tests run that the ordinary suite has no time for.
func thorough() bool { return sample.Whole() || *updateGolden }

var logged = regexp.MustCompile(`level=ERROR.*`)

// lastLogged is the last line of an error that the program wrote, without its time;
// how long things took, which it warns of, hangs on the machine.
func lastLogged(said string) string {
	all := logged.FindAllString(said, -1)
	if len(all) == 0 {
		return ""
	}
	return "`" + words(all[len(all)-1]) + "`"
}
