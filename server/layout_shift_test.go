package server

import (
	"testing"
	"time"

	"github.com/chromedp/cdproto/fetch"
	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// notesShifts adds up what the browser itself measures (Layout Instability API),
// those that follow a touch aside.
const notesShifts = `globalThis.shifted = 0;
new PerformanceObserver((list) => {
  for (const one of list.getEntries()) if (!one.hadRecentInput) globalThis.shifted += one.value;
}).observe({ type: "layout-shift", buffered: true });`

const allIsThere = `document.documentElement.hasAttribute("data-ready") && [...document.images].every((i) => i.complete) &&
  new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))`

// What comes after the page, photos, scripts and their style, moves nothing that
// is there.
func TestNothingMovesWhileAPageComes(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	form, files := w.good(checklists.Stopped)
	form.Set("state", "stopped")
	form.Set("saved", "10")
	require.Equal(t, 204, w.phone.postFiles(w.at+"/autosave", form, files).Status)
	lockout := m.lockOut("ada", "head-rig")
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	_, err := chromedp.Call(b.ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: notesShifts})
	require.NoError(t, err)
	b.signIn(m, "ada")
	b.within("all of a page is in sight", chromedp.EmulateViewport(390, 6000))
	_, err = chromedp.Call(b.ctx, fetch.Enable, fetch.EnableParams{Patterns: []*fetch.RequestPattern{{URLPattern: "*/photos/*"}}})
	require.NoError(t, err)
	require.NoError(t, chromedp.Listen(b.ctx, func(event any) {
		if held, is := event.(*fetch.EventRequestPaused); is {
			go b.once(`performance.getEntriesByName("first-contentful-paint").length > 0`, func() {
				_, _ = chromedp.Call(b.ctx, fetch.ContinueRequest, fetch.ContinueRequestParams{RequestID: held.RequestID})
			})
		}
	}))
	photos := 0.0
	for _, path := range []string{"/", w.at + "?state=stopped", "/lifts/new", "/lockouts/" + string(lockout), "/inspections/new?list=pre-shift", "/stop-it"} {
		b.open(path)
		require.Eventually(t, func() bool {
			there, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`Promise.resolve(`+allIsThere+`).then(Boolean)`, chromedp.EvalAwaitPromise))
			return err == nil && there
		}, 30*time.Second, 50*time.Millisecond, path)
		found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]float64](`[shifted, document.querySelectorAll("img.photo").length]`))
		require.NoError(t, err)
		require.InDelta(t, 0, found[0], 0.001, path)
		photos += found[1]
	}
	require.Positive(t, photos, "photos were among them")
}

// once does what it is given when the page answers yes, and at the test's end.
func (b *browser) once(asked string, act func()) {
	for b.ctx.Err() == nil {
		if yes, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](asked)); err == nil && yes {
			break
		}
	}
	act()
}
