package server

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var (
	asvsRow   = regexp.MustCompile(`(?m)^\| (V\d+\.\d+\.\d+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$`)
	testNamed = regexp.MustCompile("`(Test\\w+)`")
	testThere = regexp.MustCompile(`(?m)^func (Test\w+)\(`)
)

// The page names every requirement of the two levels once, with what shows that it
// is met, and only tests that there are.
func TestASVSPageIsWholeAndNamesTestsThatThereAre(t *testing.T) {
	list, err := os.ReadFile("../testdata/asvs/level2.txt")
	require.NoError(t, err)
	want := strings.Split(strings.TrimSpace(string(list)), "\n")[1:]
	require.Len(t, want, 253)
	page, err := os.ReadFile("ASVS.md")
	require.NoError(t, err)
	tests := map[string]bool{}
	require.NoError(t, filepath.WalkDir("..", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, found := range testThere.FindAllSubmatch(text, -1) {
			tests[string(found[1])] = true
		}
		return err
	}))
	var got []string
	states := map[string]int{}
	for _, row := range asvsRow.FindAllStringSubmatch(string(page), -1) {
		id, state, why := row[1], row[3], row[4]
		got = append(got, id)
		states[state]++
		require.True(t, slices.Contains([]string{"met", "not met", "not applicable"}, state), "%s is %q", id, state)
		require.NotEmpty(t, strings.TrimSpace(why), id)
		for _, named := range testNamed.FindAllStringSubmatch(why, -1) {
			require.True(t, tests[named[1]], "%s names %s, which is no test", id, named[1])
		}
	}
	require.Equal(t, want, got)
	require.Contains(t, string(page), fmt.Sprintf("%d requirements: %d met, %d not met, %d not applicable", len(got), states["met"], states["not met"], states["not applicable"]))
}
