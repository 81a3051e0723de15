package table_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/table"
)

// Whatever is read as a table comes back the same once it is written again, with no
// cell that a spreadsheet takes for a formula; the rest is refused with a place.
func FuzzRead(f *testing.F) {
	low := -40.5
	at := time.Date(2026, 3, 2, 5, 6, 7, 0, time.FixedZone("", -5*3600))
	good := written(f, table.Row{Seq: 7, Note: "said \"no\",\nthen went", Reading: &low, At: at}, table.Row{ItemText: "=1+1"})
	head, _, _ := strings.Cut(good, "\r\n")
	for _, text := range []string{good, strings.ReplaceAll(good, "\r\n", "\n"), "\uFEFF" + good, head, head + ",more\r\n", good + "\"open", "", "a,b\r\n", strings.Replace(good, "-40.5", "NaN", 1), good[:len(good)/2]} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		var first []table.Row
		err := table.Read(strings.NewReader(text), func(r table.Row) error {
			first = append(first, r)
			return nil
		})
		if err != nil {
			require.Contains(t, err.Error(), "table: ")
			return
		}
		again := readBack(t, written(t, first...))
		require.Len(t, again, len(first))
		for i := range first {
			requireSame(t, first[i], again[i])
		}
		for _, row := range cells(t, written(t, first...))[1:] {
			for i, c := range table.Columns() {
				if cell := row[i]; cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") {
					require.Contains(t, numbers, c.Name, "%q", cell)
				}
			}
		}
	})
}
