package server

import (
	"encoding/json"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	proto "github.com/chromedp/cdproto/cdp"
	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// onAPhone is a browser at phone size, over a way that can be cut, with who signed
// in.
func onAPhone(t *testing.T, m *testMill, secured bool, who string) *runner {
	t.Helper()
	if testing.Short() {
		t.Skip("starts browsers")
	}
	r := &runner{testMill: m, dir: t.TempDir(), secured: secured}
	if secured {
		at := overHTTPS(t, m.server)
		r.way, r.flags = faultyBetween(t, at.plain, "localhost", at.keeper), at.flags
	} else {
		r.way = faultyBetween(t, onTheNetwork(t, m.server), "mill.test", nil)
		r.flags = []chromedp.ExecAllocatorOption{chromedp.Flag("host-resolver-rules", "MAP mill.test 127.0.0.1"), chromedp.UserDataDir(t.TempDir())}
	}
	r.b = newBrowser(t, r.way.url, true, r.flags...)
	r.b.signIn(m, who)
	return r
}

// knows waits until the page has its scripts, their words and, encrypted, the worker
// with the pages it is to keep.
func (r *runner) knows() {
	r.t.Helper()
	r.is("the scripts are there", "document.documentElement.hasAttribute('data-ready') && globalThis.words?.notSent && drafts.ready.then(() => true)")
	if r.secured {
		// One page may be too early for the worker, or its fetching the assets too slow; the next one has it.
		r.is("the worker is there", `navigator.serviceWorker.controller || navigator.serviceWorker.register("/sw.js").then((worker) => worker.active && !navigator.serviceWorker.controller && location.reload())`)
		r.is("the worker has the pages", "outbox.get('kept', 'pages').then((p) => p?.person === document.body.dataset.person)")
	}
}

// cuts ends contact, and the phone notices.
func (r *runner) cuts() {
	r.t.Helper()
	r.way.set(refuses)
	r.script(`dispatchEvent(new Event("offline"))`)
	r.is("the phone knows that there is no contact", "!outbox.contact")
}

// mends brings contact back, and nothing waits that can go.
func (r *runner) mends() {
	r.t.Helper()
	r.heal()
	r.is("all that can go has gone", "outbox.send().then(() => outbox.waits()).then((w) => w.every((t) => t.said))")
}

func (r *runner) says(text string) {
	r.t.Helper()
	r.is("the page says "+text, fmt.Sprintf("document.body.innerText.toLowerCase().includes(%q)", strings.ToLower(text)))
}

func TestASignatureCutOffLeavesItsPageAndCountsOnce(t *testing.T) {
	t.Parallel()
	for name, secured := range map[string]bool{"https": true, "plain": false} {
		t.Run(name, func(t *testing.T) {
			m := newMill(t)
			m.shortList()
			to := m.finishedShort("ada")
			r := onAPhone(t, m, secured, "ada")
			press := func() { r.script(`document.querySelector('form[action$="/sign"] button.main').click()`) }
			typed := fmt.Sprintf(`document.querySelector('[name="pin"]').value === %q`, testSecrets["ada"])
			if secured { // the worker keeps the pages before it takes this one
				r.b.open("/phone")
				r.knows()
			}
			r.b.open(to + "?state=sign")
			r.knows()
			before := r.size()
			r.b.write("pin", testSecrets["ada"])
			r.way.set(refuses)
			press()
			r.says("Not sent: no contact. Nothing is signed.")
			r.is("what was typed is still there", typed)
			require.Equal(t, before, r.size())
			r.heal()
			if secured {
				r.way.set(losesForms)
				press()
				r.says("No answer came, so take it as not done and not signed.")
				r.is("the page is as it was", typed)
				require.Equal(t, before+1, r.size(), "it arrived all the same")
				r.heal()
			}
			press()
			r.says("Short check: signed")
			require.Equal(t, before+1, r.size(), "once")
			require.Len(t, r.inspections(), 1)
		})
	}
}

// enters fills a form of the page in, as a person would.
func (r *runner) enters(form string, fields url.Values) {
	r.t.Helper()
	all, err := json.Marshal(fields)
	require.NoError(r.t, err)
	r.script(fmt.Sprintf(`for (const [name, [value]] of Object.entries(%s)) for (const i of document.querySelector(%q).querySelectorAll('[name="' + CSS.escape(name) + '"]')) {
		if (i.type === "hidden") continue;
		if (i.type === "radio" || i.type === "checkbox") { if (i.value !== value) continue; i.checked = true } else i.value = value;
		i.dispatchEvent(new Event("input", { bubbles: true })); i.dispatchEvent(new Event("change", { bubbles: true }));
	}`, all, form))
}

func TestALiftTypedWithoutContactIsJudgedWhenThereIsSome(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, false, "ada")
	r.b.open("/lifts/new")
	r.knows()
	r.cuts()
	r.enters("form.lift", redOakCant())
	r.script(`document.querySelector('form.lift button[name="keep"][value=""]').click()`)
	r.says("It is kept on this phone and goes to the mill's computer by itself.")
	r.is("nothing says GO", `!document.querySelector(".badge.go")`)
	waits, err := r.desk().LiftWaits(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, waits)
	r.mends()
	r.is("nothing waits", "outbox.waits().then((w) => !w.length)")
	waits, err = r.desk().LiftWaits(t.Context(), "")
	require.NoError(t, err)
	require.Len(t, waits, 1)
	require.Equal(t, "7 ft 6 in", waits[0].Fields.Get("length"))
	r.b.open("/lifts")
	r.b.sees("Typed without contact, without an answer yet")
	r.b.open("/lifts/new?waiting=" + waits[0].ID)
	r.b.sees("The answer is of now, not of then")
	r.is("it is judged now", `document.querySelector("#answer .badge")`)
}

// hurried has pages take what comes after half a minute at once.
func (r *runner) hurried() {
	r.t.Helper()
	_, err := chromedp.Call(r.b.ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: `{ const after = setTimeout; globalThis.setTimeout = (act, time, ...rest) => after(act, time === 30000 ? 10 : time, ...rest) }`})
	require.NoError(r.t, err)
}

const unknownBadges = `[...document.querySelectorAll("main .badge")].length > 0 && [...document.querySelectorAll("main .badge")].every((b) => b.classList.contains("not-known") && b.textContent.includes("NOT KNOWN"))`

func TestAPageOutOfContactSaysNotKnownAndIsNobodyElses(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, true, "ada")
	r.hurried()
	r.b.open("/phone")
	r.knows()
	r.b.open("/")
	r.knows()
	r.is("it says how things stand", `document.querySelector("main .badge.held")`)
	r.cuts()
	r.is("out of contact nothing is known", unknownBadges)
	r.b.open("/") // as it was kept
	r.is("it is of before", `document.body.dataset.kept && document.querySelector(".lost")`)
	r.is("and nothing of it is known now", unknownBadges)
	r.is("nor over them", `document.querySelector("h1").textContent === "NOT KNOWN"`)
	r.b.open("/lifts/chart")
	r.is("the chart is kept", `document.body.dataset.kept`)

	r.heal()
	r.b.open("/sign-out")
	r.b.press(`form[action="/sign-out"] button`)
	r.is("what was kept for her is gone", fmt.Sprintf(`caches.keys().then((names) => !names.includes("pages:%s"))`, m.people["ada"].ID))
	r.b.signIn(m, "bo")
	r.knows()
	r.is("only his is kept", fmt.Sprintf(`caches.keys().then((names) => names.filter((n) => n.startsWith("pages:")).join() === "pages:%s")`, m.people["bo"].ID))
	r.cuts()
	r.b.open("/")
	r.is("it is his page", fmt.Sprintf(`document.body.dataset.kept && document.body.dataset.person === %q`, m.people["bo"].ID))
	r.b.doesNotSee("Ada Rook")
}

func TestWhatTheServerWouldNotTakeStaysAndIsThrownAwayOnlyHeld(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, false, "ada")
	r.b.open("/lifts/new")
	r.knows()
	r.cuts()
	bad := redOakCant()
	bad.Set("length", "long")
	r.enters("form.lift", bad)
	r.script(`document.querySelector('form.lift button[name="keep"][value=""]').click()`)
	r.says("It is kept on this phone")
	gone := "/inspections/" + store.NewID() + "/finish" // of a check that is not there
	r.script(fmt.Sprintf(`outbox.put("outbox", { id: outbox.uuid(), person: document.body.dataset.person, who: "Ada Rook", what: "Weekly check", page: "/", action: %q, at: outbox.tick(), fields: [["submission", outbox.uuid()]], files: [] })`, gone))
	r.mends()
	refused := `outbox.waits().then((w) => w.map((t) => t.said?.status).join())`
	r.is("both were refused and are there", refused+`.then((s) => s === "422,409")`)

	r.b.open("/")
	r.knows()
	r.is("the bar says so", `document.querySelector(".bar a.togo")?.textContent.includes("Needs you")`)
	r.b.keyed(".bar a.togo", "\r")
	r.is("the panel is open", `document.querySelector("dialog.panel")?.open && document.querySelectorAll("dialog.panel li.card").length === 2`)
	r.is("each is said and leads on", `[...document.querySelectorAll("dialog.panel li.card")].every((li) => li.querySelector(".reason").textContent.startsWith("Needs you:") && li.querySelector(".problem").textContent && li.querySelector("a.button").href)`)
	r.is("the lift leads to itself, as typed", `document.querySelector("dialog.panel li.card a.button").getAttribute("href").startsWith("/lifts/new?") && document.querySelector("dialog.panel li.card a.button").href.includes("length=long")`)
	r.is("they are sent no more", `outbox.send().then(() => `+refused+`).then((s) => s === "422,409")`)

	away := "dialog.panel li.card:first-of-type button[data-hold]"
	r.b.keyed(away, "\r")
	r.is("once is not enough", `outbox.waits().then((w) => w.length === 2) && document.querySelector(".hold-said")`)
	r.b.keyed(away, "\r")
	r.is("twice is", `outbox.waits().then((w) => w.length === 1 && w[0].said.status === 409) && document.querySelectorAll("dialog.panel li.card").length === 1`)
	r.script(`{ const b = document.querySelector("dialog.panel button[data-hold]"); b.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true })); b.dispatchEvent(new PointerEvent("pointerup", { bubbles: true })); b.dispatchEvent(new MouseEvent("click", { bubbles: true, detail: 1 })) }`)
	r.is("nor is a tap", `outbox.waits().then((w) => w.length === 1)`)
	r.script(`document.querySelector("dialog.panel button[data-hold]").dispatchEvent(new PointerEvent("pointerdown", { bubbles: true }))`)
	r.is("held it is", `outbox.waits().then((w) => w.length === 0) && !document.querySelector("dialog.panel li.card")`)
}

func TestWhatWaitsGoesWhenThePageIsClosed(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, true, "ada")
	r.b.open("/stop-it?equipment=hoist")
	r.is("the scripts are there", "globalThis.words?.queued")
	r.is("the worker is there", "navigator.serviceWorker?.ready.then(() => true)")
	r.cuts()
	// Headless Chromium refuses to be asked; that it is asked is seen here, and the
	// event comes by hand.
	r.script(`SyncManager.prototype.register = async function (tag) { globalThis.askedFor = tag }`)
	r.script(`document.querySelector('form[action="/stop-it"] button').click()`)
	r.says("It is kept on this phone")
	r.is("the browser is asked to tell the worker", `globalThis.askedFor === "outbox"`)
	registered := make(chan serviceworker.RegistrationID, 9)
	require.NoError(t, chromedp.Listen(r.b.ctx, func(event any) {
		if e, is := event.(*serviceworker.EventWorkerRegistrationUpdated); is {
			for _, one := range e.Registrations {
				if !one.IsDeleted && strings.HasPrefix(one.ScopeURL, r.way.url) {
					select {
					case registered <- one.RegistrationID:
					default:
					}
				}
			}
		}
	}))
	_, err := chromedp.Call(r.b.ctx, serviceworker.Enable, proto.Empty{})
	require.NoError(t, err)
	id := <-registered
	r.b.within("the page is closed", chromedp.Navigate("about:blank"))
	r.way.set(heals)
	stopped := func() []checklists.Defect {
		open, err := m.desk().Defects(t.Context(), true, 9)
		require.NoError(t, err)
		return open
	}
	require.Eventually(t, func() bool {
		_, err := chromedp.Call(r.b.ctx, serviceworker.DispatchSyncEvent, serviceworker.DispatchSyncEventParams{Origin: r.way.url, RegistrationID: id, Tag: "outbox"})
		require.NoError(t, err)
		return len(stopped()) == 1
	}, 40*time.Second, 500*time.Millisecond)
	require.Equal(t, m.people["ada"].ID, stopped()[0].By)
}
