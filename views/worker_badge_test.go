package views

import (
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every badge in every template has its kind right after the word, or is the part
// that renders all of them, and worker.js knows each kind that goes out of date.
func TestEveryBadgeOfAKeptPageIsKnownToTheWorker(t *testing.T) {
	worker, err := os.ReadFile("static/worker.js")
	require.NoError(t, err)
	for _, kind := range []string{"may-run", "run-check", "held", "go"} {
		require.Contains(t, string(worker), `"`+kind+`"`)
	}
	badge, found := regexp.MustCompile(`class="([^"]*\bbadge\b[^"]*)"`), 0
	usual := regexp.MustCompile(`^badge (may-run|run-check|held|go|was-go|no-go|not-known|\{\{\.Class\}\})( small|\{\{if \.Small\}\} small\{\{end\}\})?$`)
	require.NoError(t, fs.WalkDir(os.DirFS("."), ".", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".html") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range badge.FindAllStringSubmatch(string(text), -1) {
			found++
			require.Regexp(t, usual, m[1], path)
		}
		return err
	}))
	require.Greater(t, found, 2)
}
