package server

import (
	"bytes"
	"html"
	"regexp"
	"strings"
	"testing"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// printedChart is a chart as read back off page, file or paper: texts only.
type printedChart struct {
	heads, shortest []string
	limits          map[string][]string // by kind of wood: the longest, or shortest and longest
}

var (
	chartTable = regexp.MustCompile(`(?s)<table class="chart">(.*?)</table>`)
	tableRow   = regexp.MustCompile(`(?s)<tr[^>]*>(.*?)</tr>`)
	tableCell  = regexp.MustCompile(`(?s)<t[hd][^>]*>(.*?)</t[hd]>`)
)

// chartOnPage reads the tables of a page or a file.
func chartOnPage(t *testing.T, body string) printedChart {
	t.Helper()
	p := printedChart{limits: map[string][]string{}}
	for _, table := range chartTable.FindAllStringSubmatch(body, -1) {
		for i, row := range tableRow.FindAllStringSubmatch(table[1], -1) {
			var cells []string
			for _, cell := range tableCell.FindAllStringSubmatch(row[1], -1) {
				cells = append(cells, html.UnescapeString(cell[1]))
			}
			switch {
			case i == 0:
				p.heads = cells[1:]
			case cells[0] == "Shortest":
				p.shortest = cells[1:]
			default:
				p.limits[cells[0]] = cells[1:]
			}
		}
	}
	require.NotEmpty(t, p.limits)
	return p
}

// chartOnPaper reads the one page of a PDF, by a library that had no part in
// writing it.
func chartOnPaper(t *testing.T, raw []byte, want printedChart) (pages int, p printedChart, text string) {
	t.Helper()
	r, err := pdf.NewReader(bytes.NewReader(raw), int64(len(raw)))
	require.NoError(t, err)
	rows, err := r.Page(1).GetTextByRow()
	require.NoError(t, err)
	text, err = r.Page(1).GetPlainText(nil)
	require.NoError(t, err)
	p = printedChart{limits: map[string][]string{}}
	for _, row := range rows {
		var words []string
		for _, word := range row.Content {
			if word.S != "" {
				words = append(words, word.S)
			}
		}
		for i, word := range words {
			end := i + 1 + len(want.heads)
			switch _, kind := want.limits[word]; {
			case end > len(words):
			case kind:
				p.limits[word] = words[i+1 : end]
			case word == "Shortest":
				p.shortest = words[i+1 : end]
			case strings.HasPrefix(word, "Thickness"):
				p.heads = words[i+1 : end]
			}
		}
	}
	return r.NumPage(), p, strings.Join(strings.Fields(text), " ")
}

func onPaper(t *testing.T, c *liftChart, units checklists.Units) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, c.sheet(checklists.Mill{Name: "Fernhollow", Units: units}).Write(&out))
	return out.Bytes()
}

// printed is the chart itself in the same form.
func printed(c *liftChart) printedChart {
	p := printedChart{heads: c.Heads, shortest: c.Shortest, limits: map[string][]string{}}
	for _, row := range c.Rows {
		p.limits[row.Name] = row.Limits
	}
	return p
}
