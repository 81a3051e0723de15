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

func pageOf(rows []row) string {
	var b strings.Builder
	count := map[string]int{}
	outside := 0
	for _, r := range rows {
		count[r.basis]++
		if strings.HasPrefix(r.band, "outside ") {
			outside++
		}
	}
	fmt.Fprintf(&b, `# Published figures, and what the program gives

Written by a test from lift.csv and the code: run
`+"`go test ./procedures/lift -run PublishedPage -update`"+` after a change.

%d figures: %d read in a copy of their source, %d from memory, %d exact
arithmetic of our own. A figure that comes out outside its band is explained,
never tuned; there is %d such.

*Basis*: **read** – the printed figure was read; **from memory** – it is
remembered and was not found to read; **own arithmetic** – no figure is printed,
it was worked out apart from the program, from the rule named.

*Band*: how far apart the two may lie, in the row's unit or percent of the
figure. Half a unit of the last printed digit where it was rounded; more where a
measured average stands against a formula.

`, len(rows), count["read"], count["from memory"], count["own arithmetic"], outside)
	b.WriteString("| id | what | of | figure | ours | difference | band | unit | basis | source | note |\n|---|---|---|---:|---:|---:|---|---|---|---|---|\n")
	for _, r := range rows {
		ours := r.ours(r.rule)
		digits := 4
		if r.unit == "m3" {
			digits = 6
		}
		rest := ours - r.printed
		if math.Abs(rest) < 0.5*math.Pow10(-digits) {
			rest = 0 // no row depends on the last bits of a platform
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %.*f | %+.*f | %s | %s | %s | %s | %s |\n", r.id, r.rule, strings.Join(r.text, ", "),
			printedAs(r.printed), digits, ours, digits, rest, r.band, r.unit, r.basis, r.source, r.note)
	}
	return b.String()
}

func printedAs(x float64) string { return strings.TrimSuffix(fmt.Sprintf("%.10g", x), ".") }
