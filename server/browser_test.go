package server

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// browser is headless Chromium at phone size, driven by keys as a person
// without a mouse would: what can be reached so can be reached by thumb too.
type browser struct {
	t       *testing.T
	ctx     context.Context
	url     string
	scripts bool
	keys    bool // by Tab and the arrow keys alone, as keyboard_test.go has it
	shots   int
	looks   int // how often a page was looked at hard
}

// onTheNetwork serves the application at a real address until the test ends.
func onTheNetwork(t *testing.T, s *Server) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	// No phone waits here for what packing hard takes off a page, a tenth of all the
	// processor's work; what it comes to is seen to in TestFirstVisitWeighsAtMostTenKilobytes.
	s.packers.hardOnes = nil
	served := make(chan error, 1)
	go func() { served <- s.Serve(listener) }()
	open := []*Server{s} // see newServer
	t.Cleanup(func() {
		require.NoError(t, open[0].Stop())
		require.NoError(t, <-served)
		clear(open)
	})
	return "http://" + listener.Addr().String()
}

// newBrowser opens a window with cookies, storage and cache of its own; in a
// whole browser of its own where it needs more options.
func newBrowser(t *testing.T, url string, scripts bool, more ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	var ctx context.Context
	if len(more) > 0 {
		own, stop := startBrowser(t, wholeBrowsers(), more...)
		t.Cleanup(stop)
		ctx = own
	} else {
		window, leave := chromedp.NewContext(sharedBrowser(t), chromedp.WithNewBrowserContext())
		t.Cleanup(leave)
		ctx = window
	}
	b := &browser{t: t, ctx: ctx, url: url, scripts: scripts}
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank"), chromedp.EmulateViewport(390, 844)))
	// Of several windows only one has the keyboard; each page is to think it has it.
	_, err := chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
	require.NoError(t, err)
	if !scripts {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		require.NoError(t, err)
	}
	return b
}

// within bounds one step; a page that does not come fails the test where it stands.
func (b *browser) within(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
	defer cancel()
	err := chromedp.Do(ctx, steps...)
	b.well(err, what)
}

// well fails the test with the page as it stands. The page is read only then:
// reading it at every step cost a fifth of a walk.
func (b *browser) well(err error, what string) {
	b.t.Helper()
	if err != nil {
		require.NoError(b.t, err, "%s\non %s:\n%s", what, b.where(), b.text())
	}
}

func (b *browser) where() string {
	ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
	defer cancel()
	at, err := chromedp.Run(ctx, chromedp.Location())
	if err != nil {
		return err.Error()
	}
	return at
}

// text is what the page says, as a person would read it.
func (b *browser) text() string {
	ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Text("main"))
	if err != nil {
		return err.Error()
	}
	return text
}

func (b *browser) open(path string) {
	b.t.Helper()
	b.within("open "+path, chromedp.Navigate(b.url+path), chromedp.WaitReady("main"))
}

// write replaces what stands in the input called name.
func (b *browser) write(name, text string) {
	b.t.Helper()
	input := fmt.Sprintf(`[name="%s"]`, name)
	there := 0
	for _, i := range b.inputs("main") {
		if i["name"] == name {
			there = len([]rune(i["value"]))
		}
	}
	b.keyed(input, kb.End+strings.Repeat(kb.Backspace, there)+text)
}

// choose takes a radio button or tick by name and value, or a line of a list.
func (b *browser) choose(name, value string) {
	b.t.Helper()
	b.keyed(fmt.Sprintf(`input[name="%s"][value="%s"]`, name, value), " ")
}

func (b *browser) pick(name, value string) {
	b.t.Helper()
	if b.keys {
		b.keyed(fmt.Sprintf(`select[name="%s"]`, name), value)
		return
	}
	b.within("pick "+name+" "+value, chromedp.SetValue(fmt.Sprintf(`select[name="%s"]`, name), value))
}

// photograph chooses a picture for the file input called name.
func (b *browser) photograph(name string) {
	b.t.Helper()
	file := filepath.Join(b.t.TempDir(), "photo.jpg")
	require.NoError(b.t, os.WriteFile(file, testPhoto(b.t), 0o600))
	b.within("photograph "+name, chromedp.SetUploadFiles(fmt.Sprintf(`input[type=file][name="%s"]`, name), []string{file}))
	if b.scripts {
		time.Sleep(300 * time.Millisecond) // the phone shrinks it
	}
}

// press activates the control and waits for the page that follows. What can't be
// undone is pressed twice, once its script is there.
func (b *browser) press(selector string) {
	b.t.Helper()
	if b.scripts && b.held(selector) {
		b.ready()
		b.keyed(selector, "\r")
	}
	if b.keys {
		b.reach(selector)
	}
	ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
	defer cancel()
	_, err := chromedp.RunResponse(ctx, chromedp.SendKeys(selector, "\r"))
	b.well(err, "press "+selector)
	b.within("the page after "+selector, chromedp.WaitReady("main"))
}

// held tells whether the button is one to hold, as its form stands.
func (b *browser) held(selector string) bool {
	b.t.Helper()
	html := b.html(selector)
	if !strings.Contains(html, "data-hold-when=") {
		return strings.Contains(html, "data-hold=")
	}
	held, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](fmt.Sprintf(`(button => !!button.form.querySelector(button.dataset.holdWhen))(document.querySelector(%s))`, strconv.Quote(selector))))
	require.NoError(b.t, err)
	return held
}

func (b *browser) sees(texts ...string) {
	b.t.Helper()
	said := b.text()
	for _, text := range texts {
		if !strings.Contains(strings.ToLower(said), strings.ToLower(text)) {
			require.Fail(b.t, "the page does not say "+text, "%s:\n%s", b.where(), said)
		}
	}
}

// signIn goes through the sign-in page by name and PIN.
func (b *browser) signIn(m *testMill, who string) {
	b.t.Helper()
	b.open("/sign-in")
	b.choose("person", string(m.people[who].ID))
	b.write("pin", testSecrets[who])
	b.press(`form[action="/sign-in"] button`)
}

// seenNowhereElse are the states of a page that the walk over every screen doesn't
// meet.
func seenNowhereElse() []string {
	return []string{"front-held", "lift-go", "lift-no-go", "lockout-verified", "work-refused", "test-on", "absent", "list-conflict", "another-record", "trust-not-yet", "trust-yes", "trust-encrypted"}
}

// shot looks hard at the page as it stands, at one like others only with
// STILLSAW_LONG, and keeps a picture of it where STILLSAW_SHOTS names a folder.
func (b *browser) shot(name string) {
	b.t.Helper()
	if b.scripts && !b.keys && (slices.Contains(seenNowhereElse(), name) || os.Getenv("STILLSAW_LONG") != "") {
		b.hard(name)
	}
	dir := os.Getenv("STILLSAW_SHOTS")
	if dir == "" {
		return
	}
	b.shots++
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(90))
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%02d-%s.png", b.shots, name)), picture, 0o600))
}

// testPhoto is a picture a phone could have taken.
func testPhoto(t *testing.T) []byte {
	photo, err := photoOnce()
	require.NoError(t, err)
	return photo
}

var photoOnce = sync.OnceValues(func() ([]byte, error) {
	picture := image.NewRGBA(image.Rect(0, 0, 2000, 1500))
	for x := range 2000 {
		for y := range 1500 {
			picture.Set(x, y, color.RGBA{uint8(x / 8), uint8(y / 6), 90, 255})
		}
	}
	var out bytes.Buffer
	err := jpeg.Encode(&out, picture, nil)
	return out.Bytes(), err
})
