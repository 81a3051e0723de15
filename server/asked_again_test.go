package server

import (
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// firstLost is a way that breaks off the first answer to each address that has the
// word in it, and counts how often it was asked for.
type firstLost struct {
	word  string
	lock  sync.Mutex
	asked int
}

func (l *firstLost) late(r *http.Request) bool {
	if !strings.HasPrefix(r.URL.Path, l.word) {
		return false
	}
	l.lock.Lock()
	defer l.lock.Unlock()
	l.asked++
	return l.asked == 1
}

func (l *firstLost) times() int {
	l.lock.Lock()
	defer l.lock.Unlock()
	return l.asked
}

// toldTime has a page's waits of seconds, and its rounds, go on only when told:
// waited(ms) ends those of that length.
const toldTime = `{
  const waits = [], set = globalThis.setTimeout.bind(globalThis);
  globalThis.setTimeout = (act, ms, ...more) => ms >= 5000 ? waits.push({ act, ms, more }) : set(act, ms, ...more);
  globalThis.setInterval = (act, ms) => waits.push({ act, ms, more: [], again: true });
  globalThis.waiting = (ms) => waits.filter((w) => w.ms === ms && !w.over).length;
  globalThis.waited = (ms) => { for (const w of waits) if (w.ms === ms && !w.over) { w.over = !w.again; w.act(...w.more); } };
}`

// overALossyWay is a phone on a plain address whose way loses the first answer to
// what begins with word, signed in before that.
func overALossyWay(t *testing.T, word string) (*runner, *firstLost) {
	t.Helper()
	if testing.Short() {
		t.Skip("starts browsers")
	}
	m := newMill(t)
	m.shortList()
	r := &runner{testMill: m, dir: t.TempDir(), way: faultyBetween(t, onTheNetwork(t, m.server), "127.0.0.1", nil)}
	lost := &firstLost{word: word}
	r.way.late = lost.late
	r.b = newBrowser(t, r.way.url, true)
	r.b.carries(m.as("ada"))
	r.before(toldTime)
	return r, lost
}

// carries has the browser signed in as the phone is, without having seen a page.
func (b *browser) carries(p *phone) {
	b.t.Helper()
	mill, err := url.Parse("http://mill.test/")
	require.NoError(b.t, err)
	for _, cookie := range p.jar.Cookies(mill) {
		_, err := chromedp.Call(b.ctx, network.SetCookie, network.SetCookieParams{Name: cookie.Name, Value: cookie.Value, URL: b.url + "/"})
		require.NoError(b.t, err)
	}
}

func TestAScriptThatDidNotComeOverIsAskedForAgain(t *testing.T) {
	t.Parallel()
	r, lost := overALossyWay(t, "/assets/rest.")
	r.b.open("/inspections/new?list=short")
	r.is("it waits to ask again", "waiting(5000) === 1 && !document.documentElement.hasAttribute('data-ready')")
	require.Equal(t, 1, lost.times())
	r.script("waited(5000)")
	r.is("all have come", "document.documentElement.hasAttribute('data-ready') && globalThis.walk && words.step")
	require.Equal(t, 2, lost.times())
}

func TestASheetThatDidNotComeOverIsAskedForAgain(t *testing.T) {
	t.Parallel()
	r, lost := overALossyWay(t, "/assets/style-scripts.")
	r.b.open("/inspections/new?list=short")
	r.is("it waits to ask again", "waiting(5000) === 1 && !document.documentElement.hasAttribute('data-ready')")
	r.script("waited(5000)")
	r.is("all have come", "document.documentElement.hasAttribute('data-ready') && [...document.styleSheets].some((s) => s.href?.includes('style-scripts') && s.cssRules.length)")
	require.Equal(t, 2, lost.times())
}

// A page that shows how things stand would be wrong in the meantime.
func TestAPageThatShowsHowThingsStandLoadsItselfAnew(t *testing.T) {
	t.Parallel()
	r, lost := overALossyWay(t, "/assets/rest.")
	r.b.open("/")
	r.is("it waits to load itself", "waiting(5000) === 1 && waiting(Number(document.body.dataset.refresh) * 1000) === 1")
	r.script("globalThis.first = true; setTimeout(waited, 0, Number(document.body.dataset.refresh) * 1000)")
	r.is("it has loaded itself, with its scripts", "!globalThis.first && document.documentElement.hasAttribute('data-ready') && words.step")
	require.Equal(t, 2, lost.times())
}

func TestTheWordsThatDidNotComeOverAreAskedForAgain(t *testing.T) {
	t.Parallel()
	r, lost := overALossyWay(t, "/phone")
	r.b.open("/inspections/new?list=short")
	r.is("the scripts are there without their words", "document.documentElement.hasAttribute('data-ready') && globalThis.words && !words.step && waiting(15000) > 0")
	r.is("that is noticed", "!outbox.contact || words.step")
	r.is("the words come with the next contact", "(waited(15000), words.step && words.queued)")
	r.is("there is contact", "outbox.contact")
	require.Equal(t, 2, lost.times())
}
