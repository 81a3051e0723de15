package server

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/server/sample"
)

// A screen is one address and the name its picture gets.
type Screen struct{ Name, Path string }

// lookAtScreens opens each screen at phone and desktop size, signed in as the
// person with that name and secret, and requires that it fits the window, that
// the browser had nothing to complain of (the content policy, above all), that
// axe-core finds nothing, that a thumb in a glove hits every target, that each
// stylesheet is loaded that says anything of the page, and that it goes at 320 px in
// large type. Outside CI one screen in ten is looked at so, and at a desk; of the
// others every fourth is opened at phone size.
// Pictures are kept where STILLSAW_SHOTS names a folder.
func lookAtScreens(t *testing.T, url, name, secret string, screens []Screen) {
	b := newBrowser(t, url, true)
	complaints := b.complaints()
	b.open("/sign-in")
	b.choose("person", b.valueOf(name))
	b.write("pin", secret)
	b.press(`form[action="/sign-in"] button`)
	wrong, small, narrow, bare := findings{}, findings{}, findings{}, findings{}
	sheets := sheetsAt(t, url)
	for _, size := range []struct {
		name          string
		width, height int64
	}{{"phone", 390, 844}, {"desk", 1280, 900}} {
		b.within("size", chromedp.EmulateViewport(size.width, size.height))
		for i, screen := range screens {
			closely, shots := sample.Has(i, 10), os.Getenv("STILLSAW_SHOTS") != ""
			if !closely && !shots && (size.name == "desk" || i%4 != 0) {
				continue
			}
			response, err := chromedp.RunResponse(b.ctx, chromedp.Navigate(url+screen.Path))
			require.NoError(t, err, screen.Path)
			if response.Status != http.StatusOK {
				require.Fail(t, "a screen does not come", "%d %s:\n%s", response.Status, screen.Path, b.text())
			}
			b.within("wait", chromedp.WaitReady("main"))
			wide, err := chromedp.Run(b.ctx, chromedp.Evaluate[int64]("document.documentElement.scrollWidth"))
			require.NoError(t, err)
			require.LessOrEqual(t, wide, size.width, "%s is wider than a %s", screen.Path, size.name)
			if size.name == "phone" && closely {
				found := b.lookHard(true)
				wrong.add(screen.Path, found.Wrong)
				small.add(screen.Path, found.Small)
				bare.add(screen.Path, b.lookUnstyled(sheets))
				narrow.add(screen.Path, b.lookNarrow())
			} else if os.Getenv("STILLSAW_LONG") != "" {
				wrong.add(screen.Path+" "+size.name, b.lookHard(false).Wrong)
			}
			if dir := os.Getenv("STILLSAW_SHOTS"); dir != "" {
				picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(85))
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(filepath.Join(dir, screen.Name+"-"+size.name+".png"), picture, 0o600))
			}
			require.Empty(t, complaints(), screen.Path)
		}
	}
	assert.Empty(t, wrong.String(), "axe-core finds")
	assert.Empty(t, small.String(), "under 56 px")
	assert.Empty(t, bare.String(), "without its style")
	assert.Empty(t, narrow.String(), "at 320 px")
}

// complaints collects what the browser logs as an error from now on.
func (b *browser) complaints() func() []string {
	b.t.Helper()
	var mu sync.Mutex
	var said []string
	require.NoError(b.t, chromedp.Listen(b.ctx, func(event any) {
		if e, ok := event.(*log.EventEntryAdded); ok && e.Entry.Level == log.EntryLevelError && !strings.Contains(e.Entry.URL, "/events") {
			mu.Lock()
			defer mu.Unlock()
			said = append(said, e.Entry.Text+" "+e.Entry.URL)
		}
	}))
	ctx, cancel := context.WithTimeout(b.ctx, 10*time.Second)
	defer cancel()
	_, err := chromedp.Call(ctx, log.Enable, cdp.Empty{})
	require.NoError(b.t, err)
	return func() []string {
		mu.Lock()
		defer mu.Unlock()
		return said
	}
}

// valueOf is the value of the choice that shows text.
func (b *browser) valueOf(text string) string {
	b.t.Helper()
	found := regexp.MustCompile(`value="([^"]+)"[^>]*>\s*` + regexp.QuoteMeta(text)).FindStringSubmatch(b.html("main"))
	require.NotNil(b.t, found, "no choice says %s:\n%s", text, b.html("main"))
	return found[1]
}
