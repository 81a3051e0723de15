package views

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bench is a server with one page under test, behind the content policy of the
// real one. It answers POST as told and counts them.
type bench struct {
	t      *testing.T
	engine *Engine
	frame  *Frame
	posts  atomic.Int32
	seen   atomic.Int64
	sent   atomic.Value

	lock    sync.Mutex
	streams []chan int64 // one per event stream, those of pages long gone too
}

// move lets the record grow to n and tells every stream.
func (b *bench) move(n int64) {
	b.seen.Store(n)
	b.lock.Lock()
	defer b.lock.Unlock()
	for _, stream := range b.streams {
		stream <- n
	}
}

func (b *bench) stream() <-chan int64 {
	b.lock.Lock()
	defer b.lock.Unlock()
	b.streams = append(b.streams, make(chan int64, 10))
	return b.streams[len(b.streams)-1]
}

func (b *bench) page(w http.ResponseWriter, status int, text string) {
	f := *b.frame
	f.Seen, f.Live, f.Refresh, f.Problems = b.seen.Load(), "/events", 0, nil
	f.Sent, _ = b.sent.Load().(string)
	if status == http.StatusUnprocessableEntity {
		f.Problems = b.frame.Problems
	}
	var out bytes.Buffer
	if !assert.NoError(b.t, b.engine.Render(&out, "sample", samplePage{Frame: &f, Text: text})) {
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", "default-src 'self'")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	w.Write(out.Bytes())
}

func (b *bench) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if body, contentType, ok := b.engine.assets.Lookup(r.URL.Path); ok {
		w.Header().Set("Content-Type", contentType)
		w.Write(body)
		return
	}
	switch {
	case r.URL.Path == "/events":
		moved := b.stream()
		w.Header().Set("Content-Type", "text/event-stream")
		fmt.Fprintf(w, "event: moved\ndata: %d\n\n", b.seen.Load())
		w.(http.Flusher).Flush()
		for {
			select {
			case <-r.Context().Done():
				return
			case n := <-moved:
				fmt.Fprintf(w, "event: moved\ndata: %d\n\n", n)
				w.(http.Flusher).Flush()
			}
		}
	case r.Method == http.MethodPost:
		b.posts.Add(1)
		switch r.FormValue("length") {
		case "wrong":
			b.page(w, http.StatusUnprocessableEntity, "refused")
		case "crash":
			// Only the browser's own submission shows this page whole.
			b.page(w, http.StatusInternalServerError, "crashed")
		default:
			b.page(w, http.StatusOK, "answer to "+r.FormValue("length")+r.FormValue("keep"))
		}
	default:
		b.page(w, http.StatusOK, fmt.Sprint("record of ", b.seen.Load()))
	}
}

const benchPage = `
<section id="live" data-live>{{template "badge" (.StatusBadge 3)}}<p id="record">{{.Text}}</p></section>
<form id="form" method="post" action="/" data-into="#answer" data-draft="lift:1">
{{template "submission" (printf "id %s" .Text)}}
{{template "field" (.TextField "length" (.T "Length") "")}}{{template "field" (.SecretField "pin" "PIN")}}
{{template "field" (.TickField "tick" "Tick" false)}}{{template "field" (.PhotoField "photo" "Photo")}}
<button id="send" name="keep" value=" kept">Send</button></form>
<section id="answer">{{.Text}}</section>
<p id="clock" data-until="{{.Millis .Now}}" data-over="over">…</p>`

// TestScriptsInABrowser drives the scripts in Chromium; without one on this
// machine there is nothing to run them in.
func TestScriptsInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	if _, err := exec.LookPath("chromium"); err != nil {
		require.Empty(t, os.Getenv("CI"), "CI must have a browser")
		t.Skip("no chromium on this machine")
	}
	b := &bench{t: t, engine: engine(t, map[string]string{"sample": benchPage}), frame: full(t)}
	b.seen.Store(41)
	server := httptest.NewServer(b)
	defer server.Close()
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.ExecPath("chromium"))...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx))
	ctx, cancel = context.WithTimeout(ctx, time.Minute)
	defer cancel()

	run := func(actions ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		require.NoError(t, chromedp.Do(ctx, actions...))
	}
	script := func(code string) { t.Helper(); run(chromedp.Evaluate[chromedp.Void](code)) }
	yes := func(condition string) {
		t.Helper()
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](condition))
		require.NoError(t, err)
		assert.True(t, ok, condition)
	}
	// until asks again and again, as a page may be on its way; the context ends it.
	until := func(condition string) {
		t.Helper()
		for {
			if ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](condition)); err == nil && ok {
				return
			}
			require.NoError(t, ctx.Err(), condition)
		}
	}
	text := func(id, want string) {
		t.Helper()
		until(fmt.Sprintf("document.getElementById(%q)?.textContent === %q", id, want))
	}
	typed := func(value string) {
		t.Helper()
		script("document.getElementById('f-length').value = ''")
		run(chromedp.SendKeys("#f-length", value))
	}

	run(chromedp.Navigate(server.URL))
	text("clock", "over")
	yes("getComputedStyle(document.querySelector('.badge')).fontWeight === '800'")

	// into.js: one part is swapped, the page stays, the button's value is sent.
	script("window.stays = true")
	typed("7 ft")
	run(chromedp.Click("#send"))
	text("answer", "answer to 7 ft kept")
	yes("window.stays")
	yes("document.querySelector('[name=submission]').value === 'id answer to 7 ft kept'")
	assert.EqualValues(t, 1, b.posts.Load())

	// Problems bring the whole of main, the first is in focus, and nothing is sent twice.
	typed("wrong")
	run(chromedp.Click("#send"))
	until("document.activeElement.id === 'f-length' && document.getElementById('f-length-want') !== null")
	yes("window.stays")
	assert.EqualValues(t, 2, b.posts.Load())

	// Any other surprise is sent plainly: the browser shows what came.
	typed("crash")
	run(chromedp.Click("#send"))
	until("window.stays === undefined && document.getElementById('answer')?.textContent === 'crashed'")

	// draft.js: what was typed comes back after the phone restarts; secrets don't.
	// The field is emptied by script, of which no draft knows: what was typed before has to be back first.
	run(chromedp.Navigate(server.URL))
	until("document.documentElement.hasAttribute('data-ready')")
	run(chromedp.Evaluate[chromedp.Void]("drafts.ready", chromedp.EvalAwaitPromise))
	typed("8 ft")
	run(chromedp.SendKeys("#f-pin", "1234"), chromedp.Click("#f-tick"))
	require.Eventually(t, func() bool {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("outbox.all('drafts').then((all) => all.some((d) => d.fields.some(([name]) => name === 'tick')))", chromedp.EvalAwaitPromise))
		return err == nil && ok
	}, 10*time.Second, 20*time.Millisecond)
	run(chromedp.Navigate("about:blank"), chromedp.Navigate(server.URL))
	until("document.getElementById('f-length').value === '8 ft' && document.getElementById('f-tick').checked")
	kept := func(what string) bool {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("outbox.all('drafts').then((all) => JSON.stringify(all).includes("+what+"))", chromedp.EvalAwaitPromise))
		return err == nil && ok
	}
	yes("document.getElementById('f-pin').value === ''")
	assert.True(t, kept("'8 ft'"))
	assert.False(t, kept("'1234'"), "a PIN is never kept")
	b.sent.Store("lift:1")
	run(chromedp.Navigate(server.URL))
	until("document.getElementById('f-length').value === ''")
	require.Eventually(t, func() bool { return !kept("'8 ft'") }, 10*time.Second, 20*time.Millisecond)

	// live.js: a longer record brings the part anew; silence says NOT KNOWN; contact mends it.
	b.move(42)
	text("record", "record of 42")
	script("window.real = Date.now; Date.now = () => window.real.call(Date) + 31000; document.dispatchEvent(new Event('visibilitychange'))")
	yes("document.querySelector('.badge.not-known')?.textContent === 'NOT KNOWN' && !document.getElementById('lost').hidden && document.querySelector('.may-run') === null")
	script("Date.now = window.real")
	b.move(42)
	until("document.querySelector('.badge.may-run')?.textContent === 'MAY RUN' && document.getElementById('lost').hidden")

	// shrink.js
	large := filepath.Join(t.TempDir(), "tag.png")
	file, err := os.Create(large)
	require.NoError(t, err)
	require.NoError(t, png.Encode(file, image.NewGray(image.Rect(0, 0, 3200, 1600))))
	require.NoError(t, file.Close())
	run(chromedp.SetUploadFiles("#f-photo", []string{large}))
	until("document.getElementById('f-photo').files[0].name === 'tag.jpg'")
	width, err := chromedp.Run(ctx, chromedp.Evaluate[int]("createImageBitmap(document.getElementById('f-photo').files[0]).then((picture) => picture.width)", chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	assert.Equal(t, 1600, width)
}
