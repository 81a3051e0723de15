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

// protection is what guards against a fault, and how it is left out of the program.
type protection []edit

// edit puts another text in the place of one that stands once in a file below the
// top of the tree.
type edit struct{ file, old, new string }

// protections are those that can be left out, by what a row of the faults calls it.
func protections() map[string]protection {
	const writer, migrate, hold, opens = "server/store/writer.go", "server/store/migrate.go", "server/store/hold.go", "server/store/open.go"
	return map[string]protection{
		"errors of the commit answered as done":    {{writer, "		if err != nil {\n			c.done <-", "		if err != nil && len(batch) == 0 {\n			c.done <-"}},
		"the answer waits until it is on the disk": {{writer, "	select {\n	case err := <-c.done:", "	if len(c.done) == 0 {\n		return nil\n	}\n	select {\n	case err := <-c.done:"}},
		"one transaction for all steps of an upgrade": {{migrate, "err = db.Transaction(func(tx *gorm.DB) error {", "err = func(tx *gorm.DB) error {"},
			{migrate, "	})\n	switch {\n	case err != nil && !began", "	}(db)\n	switch {\n	case err != nil && !began"}},
		"the copy before an upgrade must succeed":        {{migrate, "copyBefore(on, path, done.From); err != nil {", "copyBefore(on, path, done.From); err != nil && done.From < 0 {"}},
		"looking at the step again once it has the file": {{migrate, "if done.From >= last {", "if done.From < 0 {"}},
		"the refusal of a newer database":                {{migrate, "	case at > all[len(all)-1].number:\n		return done, ErrNewer", "	case at < 0:\n		return done, ErrNewer"}},
		"the refusal of a folder that can't be written": {{hold, "	case err != nil:\n		return nil,", "	case err != nil && dir == \"\":\n		return nil,"},
			{hold, "	case !taken:", "	case !taken && err == nil:"}, {opens, "tryWriting(dir); err != nil {", "tryWriting(dir); err != nil && dir == \"\" {"}},
		"the refusal of a folder that is held":            {{hold, "	case !taken:", "	case !taken && dir == \"\":"}},
		"the hold while the clock stands before an entry": {{"checklists/clock.go", "return f.LastEntry.After(now.Add(ClockTolerance))", "return f.LastEntry.IsZero() && f.LastEntry.After(now.Add(ClockTolerance))"}},
	}
}

// without is what the files are with the protection left out.
func (p protection) without(t *testing.T) map[string]string {
	t.Helper()
	files := map[string]string{}
	for _, e := range p {
		if files[e.file] == "" {
			text, err := os.ReadFile(filepath.Join("..", e.file))
			require.NoError(t, err)
			files[e.file] = string(text)
		}
		require.Equal(t, 1, strings.Count(files[e.file], e.old), "%s: %s", e.file, e.old)
		files[e.file] = strings.Replace(files[e.file], e.old, e.new, 1)
	}
	return files
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
			dir := t.TempDir()
			top, err := filepath.Abs("..")
			require.NoError(t, err)
			replace := map[string]string{}
			for file, text := range protections()[row.out].without(t) {
				changed := filepath.Join(dir, filepath.Base(file))
				require.NoError(t, os.WriteFile(changed, []byte(text), 0o600))
				replace[filepath.Join(top, file)] = changed
			}
			list := filepath.Join(dir, "overlay.json")
			overlay, err := json.Marshal(map[string]any{"Replace": replace})
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
