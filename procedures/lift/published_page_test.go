package lift

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write testdata/published/README.md anew")

const publishedPage = "../../testdata/published/README.md"

func TestPublishedPageIsWhatTheCodeGives(t *testing.T) {
	page := pageOf(publishedRows(t))
	if *update {
		require.NoError(t, os.WriteFile(publishedPage, []byte(page), 0o644))
	}
	kept, err := os.ReadFile(publishedPage)
	require.NoError(t, err)
	require.Equal(t, page, string(kept), "run go test ./procedures/lift -run PublishedPage -update")
}

// chapters are the groups of the page by the letter their ids begin with.
func chapters() [][2]string {
	return [][2]string{
		{"A", "Density from specific gravity and moisture"}, {"B", "Gravity at 12 % and shrinkage"}, {"C", "Limits of the moisture"},
		{"D", "Green density by kind"}, {"E", "Weight of a foot of green log"}, {"F", "Wood with its bark"}, {"G", "Volume of logs"},
		{"H", "Cants"}, {"I", "Balance points"}, {"J", "Angles and pulls of slings"}, {"K", "Chains and hooks"},
		{"L", "Yokes and uneven picks"}, {"M", "Allowances"}, {"N", "Spread of the gravity within a kind"},
		{"S", "The table of kinds, read a second time"}, {"T", "Student's t"},
	}
}

func pageOf(rows []row) string {
	var b strings.Builder
	count := map[string]int{}
	var outside []row
	again := 0
	for _, r := range rows {
		count[r.basis]++
		if strings.HasPrefix(r.band, "outside ") {
			outside = append(outside, r)
		}
		if r.basis == "read" && r.rule == "species gravity at 12 %" {
			again++
		}
	}
	fmt.Fprintf(&b, `# Published figures, and what the program gives

Written by a test from lift.csv and the code: run
`+"`go test ./procedures/lift -run PublishedPage -update`"+` after a change.

%d comparisons: %d with figures read in a copy of their source (%d different
ones: %d of chapter B stand against two equations each), %d with figures from
memory, %d with exact arithmetic of our own. A figure that comes out outside its
band is explained, never tuned; there are %d such, listed first.

*Basis*: **read** – the printed figure was read, in the source itself or in the
copy named; **from memory** – it is remembered and was not found to read; **own
arithmetic** – no figure is printed, it was worked out apart from the program,
from the rule named.

*Band*: how far apart the two may lie, in the row's unit or percent of the
figure. Half a unit of the last printed digit where it was rounded; more where a
measured average stands against a formula.

`, len(rows), count["read"], count["read"]-again, again, count["from memory"], count["own arithmetic"], len(outside))
	b.WriteString("## Outside their band, and why\n\n")
	for _, r := range outside {
		fmt.Fprintf(&b, "- **%s** (%s of %s): the figure is %s, ours %.4g %s. %s. Source: %s; %s.\n", r.id, r.rule, strings.Join(r.text, ", "), printedAs(r.printed), r.ours(r.rule), r.unit, r.note, r.source, r.basis)
	}
	for _, chapter := range chapters() {
		fmt.Fprintf(&b, "\n## %s · %s\n\n", chapter[0], chapter[1])
		b.WriteString("| id | what | of | figure | ours | difference | band | unit | basis | source | note |\n|---|---|---|---:|---:|---:|---|---|---|---|---|\n")
		for _, r := range rows {
			if strings.HasPrefix(r.id, chapter[0]) {
				r.line(&b)
			}
		}
	}
	return b.String()
}

func (r row) line(b *strings.Builder) {
	ours := r.ours(r.rule)
	digits := 4
	if r.unit == "m3" {
		digits = 6
	}
	rest := ours - r.printed
	if math.Abs(rest) < 0.5*math.Pow10(-digits) {
		rest = 0 // no row depends on the last bits of a platform
	}
	fmt.Fprintf(b, "| %s | %s | %s | %s | %.*f | %+.*f | %s | %s | %s | %s | %s |\n", r.id, r.rule, strings.Join(r.text, ", "),
		printedAs(r.printed), digits, ours, digits, rest, r.band, r.unit, r.basis, r.source, r.note)
}

// A row whose letter has no chapter would be missing on the page.
func TestEveryRowStandsInAChapter(t *testing.T) {
	letters := map[string]bool{}
	for _, c := range chapters() {
		letters[c[0]] = true
	}
	for _, r := range publishedRows(t) {
		require.True(t, letters[r.id[:1]], r.id)
		if strings.HasPrefix(r.band, "outside ") {
			require.Greater(t, len(r.note), 40, r.id)
		}
	}
}

func printedAs(x float64) string { return strings.TrimSuffix(fmt.Sprintf("%.10g", x), ".") }
