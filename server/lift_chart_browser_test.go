package server

import (
	"bytes"
	"context"
	"testing"
	"time"

	onpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"
)

// onPages prints what the browser shows, paper in inches, and counts the pages.
func (b *browser) onPages(wide, high float64) int {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
	defer cancel()
	yes := true
	out, err := chromedp.Call(ctx, onpage.PrintToPDF, onpage.PrintToPDFParams{PaperWidth: wide, PaperHeight: high, PreferCSSPageSize: &yes, PrintBackground: &yes})
	require.NoError(b.t, err)
	r, err := pdf.NewReader(bytes.NewReader(out.Data), int64(len(out.Data)))
	require.NoError(b.t, err)
	return r.NumPage()
}

func (b *browser) count(selector string) int64 {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 10*time.Second)
	defer cancel()
	n, err := chromedp.Run(ctx, chromedp.Evaluate[int64](`[...document.querySelectorAll("`+selector+`")].filter(e => e.checkVisibility()).length`))
	require.NoError(b.t, err)
	return n
}

// Once the page has come the server is gone, and the chart is read all the same.
func TestChartIsReadWithNoServer(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	b.open("/lifts/chart")
	require.NoError(t, m.server.Stop())
	all := b.count("details[data-kind]")
	require.EqualValues(t, 118, all)
	b.within("sift", chromedp.SendKeys("#sift", "Red Oak"))
	require.EqualValues(t, 2, b.count("details[data-kind]"), "northern and southern red oak")
	b.within("open a kind", chromedp.SendKeys(`details[data-kind="northern red oak"] > summary`, "\r"))
	b.sees("northern red oak", "8 ft 8 in")
	b.shot("chart-sifted")
}

func TestChartIsReadWithNoServerAndNoScript(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), false)
	b.signIn(m, "ada")
	b.open("/lifts/chart")
	require.NoError(t, m.server.Stop())
	b.within("open a kind", chromedp.SendKeys(`details[data-kind="northern red oak"] > summary`, "\r"))
	b.sees("northern red oak", "8 ft 8 in")
}

// As the page's own style prints it, on Letter (8.5 by 11 in) and on A4.
func TestChartPrintsOnOnePageFromTheBrowser(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	for _, query := range []string{"", "?signed=yes&shape=squared", "?kind=white+oak&kind=white+ash"} {
		b.open("/lifts/chart" + query)
		require.Equal(t, 1, b.onPages(8.5, 11), "Letter %s", query)
		require.Equal(t, 1, b.onPages(210/25.4, 297/25.4), "A4 %s", query)
	}
	b.open("/equipment")
	require.Greater(t, b.onPages(4, 3), 1, "the count can tell more pages from one")
}
