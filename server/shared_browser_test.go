package server

import (
	"context"
	"os"
	"os/exec"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// wholeBrowsers are the names of Chromium as people have it. Its headless shell is
// the same engine without the browser around it, at half the cost of a page.
func wholeBrowsers() []string {
	return []string{"chromium", "chromium-browser", "google-chrome", "chrome"}
}

func anyBrowser() []string {
	return append([]string{"chromium-headless-shell", "chrome-headless-shell"}, wholeBrowsers()...)
}

// notNeeded is chromedp's own list and what a whole browser makes ready for somebody
// who sits before it: two processes more for each window, a tenth of its work.
const notNeeded = "site-per-process,Translate,BlinkGenPropertyTrees,PreloadTopChromeWebUI,WebUIOmniboxPopup"

// startBrowser starts the first of these there is; it runs until stop. Where there
// is none the test is skipped, but not in CI.
func startBrowser(t *testing.T, names []string, more ...chromedp.ExecAllocatorOption) (ctx context.Context, stop func()) {
	t.Helper()
	found := ""
	for _, name := range names {
		if path, err := exec.LookPath(name); err == nil {
			found = path
			break
		}
	}
	if found == "" {
		require.Empty(t, os.Getenv("CI"), "CI must have a browser")
		t.Skip("no Chromium on this machine")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(found), chromedp.NoSandbox, chromedp.WindowSize(390, 844), chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("force-prefers-reduced-motion", true),
		chromedp.Flag("disable-features", notNeeded))
	allocator, free := chromedp.NewExecAllocator(context.Background(), append(options, more...)...)
	ctx, leave := chromedp.NewContext(allocator)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	return ctx, func() {
		leave()
		free()
	}
}

// shared is the browser in which tests have a window each: a start takes longer
// than most of them. It ends with all of them ([EndBrowser]).
var shared struct {
	sync.Mutex
	ctx  context.Context
	stop func()
}

func sharedBrowser(t *testing.T) context.Context {
	t.Helper()
	shared.Lock()
	defer shared.Unlock()
	if shared.ctx == nil || shared.ctx.Err() != nil { // it may have crashed
		shared.ctx, shared.stop = startBrowser(t, anyBrowser())
	}
	return shared.ctx
}

// EndBrowser is called once all tests are through.
func EndBrowser() {
	if shared.stop != nil {
		shared.stop()
	}
}
