package server

import (
	"fmt"
	"math"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// ownTime has a page's clock and its rounds go on only when told, later(ms), and
// keeps each stream it opens in streams.
const ownTime = `{
  let past = 0;
  const now = Date.now.bind(Date), start = now(), rounds = [];
  Date.now = () => start + past;
  globalThis.setInterval = (act) => rounds.push(act);
  globalThis.later = (ms) => { past += ms; for (const act of rounds) act(); };
  globalThis.streams = [];
  if (globalThis.EventSource) globalThis.EventSource = class extends EventSource { constructor(...a) { super(...a); streams.push(this); } };
}`

// onTheWall is a screen on the wall of a mill locked out overnight.
func onTheWall(t *testing.T, first string) (*testMill, *browser) {
	t.Helper()
	m := newMill(t)
	m.lockOvernight("ada", "head-rig", m.clock.Now().Add(-14*time.Hour))
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	_, err := chromedp.Call(b.ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: first + ownTime})
	require.NoError(t, err)
	b.open("/?wall")
	b.ready()
	return m, b
}

func (b *browser) script(text string) {
	b.t.Helper()
	b.within(text, chromedp.Evaluate[chromedp.Void](text))
}

// comes waits until what is asked of the page is so.
func (b *browser) comes(what, asked string) {
	b.t.Helper()
	require.Eventually(b.t, func() bool {
		yes, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](asked, chromedp.EvalAwaitPromise))
		return err == nil && yes
	}, 30*time.Second, 50*time.Millisecond, "%s\n%s", what, b.text())
}

const (
	allUnknown = `(badges => badges.length > 0 && document.querySelector("h1").textContent === "NOT KNOWN" && badges.every(b => b.textContent === "NOT KNOWN" && b.matches(".not-known")) && !document.getElementById("lost").hidden)([...document.querySelectorAll("[data-contact]")])`
	allKnown   = `(badges => badges.length > 0 && document.querySelector("h1").textContent === "All held" && badges.every(b => b.textContent !== "NOT KNOWN" && !b.matches(".not-known")) && document.getElementById("lost").hidden)([...document.querySelectorAll("[data-contact]")])`
)

// hoistStops reports a stop at the mill and tells how the wall shows it.
func (m *testMill) hoistStops(what string) string {
	m.t.Helper()
	_, err := m.desk().StopIt(m.t.Context(), store.NewID(), checklists.Defect{Equipment: "hoist", What: what}, m.people["bo"], m.clock.Now())
	require.NoError(m.t, err)
	return fmt.Sprintf(`document.getElementById("board").textContent.includes(%q)`, what)
}

// The wall says NOT KNOWN once it has heard nothing for 30 s, and not before; hears
// of a change by the stream; and takes a stream that was closed up again.
func TestTheWallSaysNotKnownOutOfContactAndGoesOn(t *testing.T) {
	t.Parallel()
	m, b := onTheWall(t, "")
	b.comes("it listens", `streams.length === 1 && streams[0].readyState === 1`)
	b.comes("it says how things stand", allKnown)
	b.comes("a change comes", m.hoistStops("first of three"))
	// The stream is cut where the page doesn't notice: nothing comes any more.
	b.script(`streams[0].close(); Object.defineProperty(streams[0], "readyState", { value: 1, configurable: true }); later(29000)`)
	b.comes("29 s are not too long", allKnown)
	b.script(`later(1500)`)
	b.comes("after 30 s nothing is known", allUnknown)
	second := m.hoistStops("second of three")
	b.script(`Object.defineProperty(streams[0], "readyState", { value: 2 }); later(5000)`)
	b.comes("another stream is opened", `streams.length === 2`)
	b.comes("and says what changed meanwhile", second)
	b.comes("all is known again", allKnown)
	b.comes("it goes on", m.hoistStops("third of three"))
}

// Where the browser has no streams the wall asks every 15 s; where it gets no answer
// it says so at once. With scripts off the browser loads the page each minute.
func TestAWallWithoutStreamsAsks(t *testing.T) {
	t.Parallel()
	m, b := onTheWall(t, `delete globalThis.EventSource;`)
	b.comes("it says how things stand", allKnown)
	said := m.hoistStops("hook bent")
	b.script(`later(14000)`)
	b.comes("not sooner", `!document.getElementById("board").textContent.includes("hook bent")`)
	b.script(`later(1500)`)
	b.comes("it asked", said)
	b.script(`globalThis.fetch = () => Promise.reject(new TypeError("no network")); later(15500)`)
	b.comes("no answer", allUnknown)
	require.Contains(t, m.phone().get("/?wall").Body, `<noscript><meta http-equiv="refresh" content="60"></noscript>`)
}

// What holds a machine changes with the time alone: a page that hears nothing new asks
// each minute.
func TestAPageAsksAnewAsTheTimeGoes(t *testing.T) {
	t.Parallel()
	m, b := onTheWall(t, "")
	b.comes("it says how things stand", allKnown)
	b.script(`globalThis.dueThen = document.getElementById("due").textContent; streams[0].close();
Object.defineProperty(streams[0], "readyState", { value: 1, configurable: true });
globalThis.hears = (ms) => { later(ms); streams[0].dispatchEvent(new MessageEvent("here", { data: document.body.dataset.seen })); };`)
	m.clock.Advance(25 * time.Hour)
	b.script(`hears(20000); hears(20000); hears(19000)`)
	b.comes("not sooner", `document.getElementById("due").textContent === dueThen`)
	b.script(`hears(2000)`)
	b.comes("it asked", `document.getElementById("due").textContent !== dueThen`)
}

// A page that finds no room for its stream asks as one without streams does, and comes
// back to it.
func TestAPageWithoutRoomForItsStreamAsks(t *testing.T) {
	t.Parallel()
	m, b := onTheWall(t, "")
	b.comes("it listens", `streams.length === 1 && streams[0].readyState === 1`)
	m.server.streams.limit(0)
	b.script(`streams[0].close()`)
	b.script(`later(5000)`)
	b.comes("refused", `streams.length === 2 && streams[1].readyState === 2`)
	said := m.hoistStops("hook bent")
	b.script(`later(11000)`)
	b.comes("it asked", said)
	b.comes("refused again", `streams.at(-1).readyState === 2`)
	b.script(`later(16000)`)
	b.comes("refused still", `streams.at(-1).readyState === 2`)
	b.script(`later(16000)`)
	b.comes("what it asked keeps it known", allKnown)
	m.server.streams.limit(streamsFrom)
	b.comes("refused at last, or in already", `streams.at(-1).readyState > 0`)
	b.script(`later(5000)`)
	b.comes("it listens again", `streams.at(-1).readyState === 1`)
}

// limit bounds the streams of an address from now on.
func (s *streams) limit(from int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.from = from
}

// minutesOfArc is the height of a letter h metres high from d metres away.
func minutesOfArc(h, d float64) float64 { return math.Atan(h/d) * 180 / math.Pi * 60 }

// Letters that are read from 5 m subtend at least 16 minutes of arc, the least that
// NUREG-0700 rev. 2, 1.3.1-4 takes (ISO 9241-303, from memory, prefers 20 to 22): states,
// machines and who has locks on. What holds a machine and what falls due is read from
// 3.5 m. The screen is a 43 in one, 952 mm wide and common for a wall (no source);
// letters grow with it. Capitals are measured as the browser draws them.
func TestTheWallIsReadAcrossTheMill(t *testing.T) {
	t.Parallel()
	const wide = 0.952
	require.InDelta(t, 16, minutesOfArc(0.02327, 5), 0.01) // 23.3 mm, by the same rule
	_, b := onTheWall(t, "")
	for _, size := range [][2]int64{{1280, 800}, {1920, 1080}} {
		b.within("size", chromedp.EmulateViewport(size[0], size[1]))
		capitals := func(selector string) float64 {
			px, err := chromedp.Run(b.ctx, chromedp.Evaluate[float64](fmt.Sprintf(`(all => Math.min(...all.map(e => {
  const style = getComputedStyle(e), pen = document.createElement("canvas").getContext("2d");
  pen.font = style.fontWeight + " " + style.fontSize + " " + style.fontFamily;
  return pen.measureText("H").actualBoundingBoxAscent;
})))([...document.querySelectorAll(%q)])`, selector)))
			require.NoError(t, err)
			require.Less(t, px, 1000.0, "nothing is %s", selector)
			return px / float64(size[0]) * wide
		}
		for _, far := range []string{"h1", ".wall-line .badge", ".wall-line h2", ".who-locks h2", ".who-locks li"} {
			require.GreaterOrEqual(t, minutesOfArc(capitals(far), 5), 16.0, "%s at %d", far, size[0])
		}
		for _, nearer := range []string{".wall-line p", ".wall-due p"} {
			require.GreaterOrEqual(t, minutesOfArc(capitals(nearer), 3.5), 16.0, "%s at %d", nearer, size[0])
		}
		b.comes("nothing is beside the screen", `document.documentElement.scrollWidth <= innerWidth`)
		// What doesn't fit comes by itself, a part of the old still in sight, and begins anew.
		b.script(`scrollTo(0, 0)`)
		for turns := 0; ; turns++ {
			end, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`scrollY + innerHeight >= document.documentElement.scrollHeight - 4`))
			require.NoError(t, err)
			if end {
				break
			}
			require.Less(t, turns, 6, "too long for a wall")
			b.script(`globalThis.was = scrollY; later(1)`)
			b.comes("turned on", `scrollY > was && scrollY < was + innerHeight`)
		}
		b.script(`later(1)`)
		b.comes("from the top", `scrollY === 0`)
	}
	// A hand on it stops the turning for two minutes (WCAG 2.2, 2.2.2).
	b.within("low", chromedp.EmulateViewport(1280, 300))
	b.script(`scrollTo(0, 0); dispatchEvent(new KeyboardEvent("keydown", { key: "a" })); later(60000)`)
	b.comes("it stays", `scrollY === 0`)
	b.script(`later(61000)`)
	b.comes("it goes on", `scrollY > 0`)
}
