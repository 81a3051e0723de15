package server

import (
	"testing"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// What waits on the phone and what the mill's computer would not take: axe-core finds
// nothing on the panel that is opened by the bar, nor on the page of the phone.
func TestWhatNeedsSomebodyIsFitForAll(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	_, err := chromedp.Call(b.ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: `{
  const real = globalThis.fetch.bind(globalThis);
  globalThis.fetch = (what, how) => !new Headers(how?.headers).has("Stillsaw-Outbox") ? real(what, how) :
    Promise.resolve(new Response("<p>The check was signed meanwhile.</p>", { status: 409, headers: { "Content-Type": "text/html", "Stillsaw-Go-On": "/inspections/new?list=pre-shift" } }));
}`})
	require.NoError(t, err)
	b.open("/")
	b.ready()
	b.comes("the words have come", `!!globalThis.words?.queued`)
	b.script(`outbox.put("outbox", { id: outbox.uuid(), person: document.body.dataset.person, who: "Ada Rook", what: "Weekly check", page: "/", action: "/inspections/gone/finish", at: outbox.tick(), fields: [["submission", outbox.uuid()]], files: [] })`)
	b.comes("it was refused", `outbox.send().then(() => outbox.waits()).then((w) => w.length === 1 && w[0].said?.status === 409)`)
	b.open("/")
	b.ready()
	b.within("the bar says so", chromedp.WaitVisible(".bar a.togo"), chromedp.SendKeys(".bar a.togo", "\r"), chromedp.WaitVisible("dialog.panel[open] li.card"))
	b.hard("what needs somebody, from the bar")
	require.Empty(t, b.lookNarrow())
	b.open("/phone")
	b.ready()
	b.within("the page of the phone says so", chromedp.WaitVisible("#togo li.card"))
	b.hard("what needs somebody, on its page")
	require.Empty(t, b.lookNarrow())
}

// The very first page, empty and shown again.
func TestSettingUpIsFitForAll(t *testing.T) {
	t.Parallel()
	s, _, _ := newServer(t, "WREN-4821")
	url := onTheNetwork(t, s)
	b := newBrowser(t, url, true)
	b.open("/set-up")
	b.hard("set-up")
	require.Empty(t, b.lookNarrow())
	require.Empty(t, b.lookUnstyled(sheetsAt(t, url)))
	b.press(`form[action="/set-up"] button.main`)
	b.hard("set-up, shown again")
	require.Empty(t, b.lookNarrow())
}

// An item answered, with the way back of it in the bar above the lower edge; and what
// a button says that is to be held.
func TestTheWayBackAndWhatIsHeldAreFitForAll(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	b.undoStays()
	b.open(w.at + "?state=stopped")
	b.ready()
	b.within("answer", chromedp.Click(`input[value="ok"]`), chromedp.WaitReady(".undo"))
	b.hard("an item can be taken back")
	b.comes("it is said to who hears the page", `!!document.querySelector(".undo[role=status]")`)
	require.Empty(t, b.lookNarrow())

	b.signIn(m, "sam")
	b.open("/retention")
	b.ready()
	b.keyed(`form[action="/retention"] button[data-hold]`, "\r")
	b.within("it says so", chromedp.WaitVisible(".hold-said"))
	b.hard("to be held")
}

// A check finished without contact that is not to be signed.
func TestWhatIsNotToBeSignedIsFitForAll(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.shortList()
	to := m.finishedShort("ada")
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	b.open(to + "/set-aside")
	b.ready()
	b.sees("Why it is not to be signed")
	b.hard("a check not to be signed")
	require.Empty(t, b.lookNarrow())
}
