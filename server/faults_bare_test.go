package server

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// protection is what guards against a fault, and how it is left out of the program:
// each edit is a text that stands once in the file, and what stands in its place then.
type protection struct {
	file  string // below the top of the tree
	edits [][2]string
}

// protections are those that can be left out, by what a row of the faults calls it.
func protections() map[string]protection {
	return map[string]protection{
		"errors of the commit answered as done":           {"server/store/writer.go", [][2]string{{"		if err != nil {\n			c.done <-", "		if err != nil && len(batch) == 0 {\n			c.done <-"}}},
		"the answer waits until it is on the disk":        {"server/store/writer.go", [][2]string{{"	select {\n	case err := <-c.done:", "	if len(c.done) == 0 {\n		return nil\n	}\n	select {\n	case err := <-c.done:"}}},
		"one transaction for all steps of an upgrade":     {"server/store/migrate.go", [][2]string{{"err = db.Transaction(func(tx *gorm.DB) error {", "err = func(tx *gorm.DB) error {"}, {"	})\n	switch {\n	case err != nil && !began", "	}(db)\n	switch {\n	case err != nil && !began"}}},
		"the copy before an upgrade must succeed":         {"server/store/migrate.go", [][2]string{{"copyBefore(on, path, done.From); err != nil {", "copyBefore(on, path, done.From); err != nil && done.From < 0 {"}}},
		"looking at the step again once it has the file":  {"server/store/migrate.go", [][2]string{{"if done.From >= last {", "if done.From < 0 {"}}},
		"the refusal of a newer database":                 {"server/store/migrate.go", [][2]string{{"	case at > all[len(all)-1].number:\n		return done, ErrNewer", "	case at < 0:\n		return done, ErrNewer"}}},
		"the refusal of a folder that can't be written":   {"server/store/hold.go", [][2]string{{"	case err != nil:\n		return nil,", "	case err != nil && dir == \"\":\n		return nil,"}, {"	case !taken:", "	case !taken && err == nil:"}}},
		"the refusal of a folder that is held":            {"server/store/hold.go", [][2]string{{"	case !taken:", "	case !taken && dir == \"\":"}}},
		"the hold while the clock stands before an entry": {"checklists/clock.go", [][2]string{{"return f.LastEntry.After(now.Add(ClockTolerance))", "return f.LastEntry.IsZero() && f.LastEntry.After(now.Add(ClockTolerance))"}}},
	}
}

// without writes what the file is with the protection left out.
func (p protection) without(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", p.file))
	require.NoError(t, err)
	for _, edit := range p.edits {
		require.Equal(t, 1, strings.Count(string(text), edit[0]), "%s: %s", p.file, edit[0])
		text = []byte(strings.Replace(string(text), edit[0], edit[1], 1))
	}
	return string(text)
}

func TestProtectionsOfThePageStandInTheProgram(t *testing.T) {
	left := protections()
	for _, row := range faultRows() {
		if row.out == "" {
			continue
		}
		p, known := protections()[row.out]
		require.True(t, known, row.out)
		p.without(t)
		delete(left, row.out)
	}
	require.Empty(t, left, "no row has them")
}

// Without its protection each fault is found: the first test of its row fails.
func TestFaultsAreFoundWithoutTheirProtections(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("builds the program and its tests anew for each; with STILLSAW_LONG=1")
	}
	folders := testFolders(t)
	seen := map[string]bool{}
	for _, row := range faultRows() {
		test := row.tests[0]
		if row.out == "" || seen[row.out+test] {
			continue
		}
		seen[row.out+test] = true
		t.Run(test, func(t *testing.T) {
			p := protections()[row.out]
			dir := t.TempDir()
			changed, list := filepath.Join(dir, "changed.go"), filepath.Join(dir, "overlay.json")
			require.NoError(t, os.WriteFile(changed, []byte(p.without(t)), 0o600))
			top, err := filepath.Abs("..")
			require.NoError(t, err)
			overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{filepath.Join(top, p.file): changed}})
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(list, overlay, 0o600))
			run := exec.CommandContext(t.Context(), "go", "test", "-count=1", "-vet=off", "-timeout", "15m", "-run", "^"+test+"$", "./"+folders[test])
			run.Dir, run.Env = top, append(os.Environ(), "GOFLAGS=-overlay="+list) // also for the programs the tests build
			said, err := run.CombinedOutput()
			require.Error(t, err, "%s was left out and %s passed", row.out, test)
			require.Contains(t, string(said), "--- FAIL: "+test, "it did not come to the test")
			t.Logf("without %s: %s", row.out, faultFound(string(said)))
		})
	}
}

var whyItFailed = regexp.MustCompile(`(?m)^\s*(?:Error:|Messages:)\s+(\S.*)$`)

// faultFound is why a test failed, in a line.
func faultFound(said string) string {
	var why []string
	for _, found := range whyItFailed.FindAllStringSubmatch(said, 2) {
		why = append(why, found[1])
	}
	return fmt.Sprintf("%.300s", strings.Join(why, " · "))
}
