package server

import (
	"context"
	"fmt"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// before has a script run first in every page from now on.
func (r *runner) before(script string) {
	r.t.Helper()
	_, err := chromedp.Call(r.b.ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	require.NoError(r.t, err)
}

// waits puts a thing into the outbox of the page.
func (r *runner) waits(person, who, action, fields, more string) {
	r.t.Helper()
	// Until it is on the disk: a page left before takes it along.
	r.is("it waits on the phone", fmt.Sprintf(`outbox.put("outbox", { id: outbox.uuid(), person: %s, who: %q, what: "Thing of "+%q, page: "/", action: %q, at: outbox.tick(), fields: %s, files: [], %s }).then(() => true)`, person, who, who, action, fields, more))
}

// Answers of a check whose person is signed in no more, and one at which the mill's
// computer always fails, hold up neither a stop nor what is of another check.
func TestAStopGoesWhateverBecomesOfTheRest(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, false, "ada")
	r.before(`{ const real = globalThis.fetch.bind(globalThis); globalThis.asked = []; globalThis.replies = 401;
	  globalThis.fetch = (to, how) => { if (!new Headers(how?.headers).has("Stillsaw-Outbox")) return real(to, how);
	    asked.push(to);
	    const status = to.startsWith("/inspections/poisoned") ? globalThis.replies : to === "/stop-it" && how.body.get("poisoned") ? 500 : 204;
	    return Promise.resolve(new Response(status === 204 ? null : "<p>no</p>", { status, headers: { "Content-Type": "text/html" } })); } }`)
	r.b.open("/phone")
	r.knows()
	me, none := "document.body.dataset.person", "[]"
	r.waits(me, "Ada Rook", "/inspections/poisoned/answers", none, "")
	r.waits(me, "Ada Rook", "/inspections/poisoned/finish", none, "")
	r.waits(me, "Ada Rook", "/departures/new", none, "")
	r.waits(me, "Ada Rook", "/stop-it", `[["poisoned", "yes"]]`, "")
	r.waits(`"another"`, "Bo", "/stop-it", none, "")
	r.is("only the stops go where somebody else is signed in", `outbox.send().then(() => asked.join() === "/stop-it,/stop-it,/inspections/poisoned/answers")`)
	r.is("the other stop has gone", `outbox.waits().then((w) => w.length === 4)`)
	r.script(`asked.length = 0; globalThis.replies = 500`)
	r.is("the rest goes, and of that check nothing out of order", `outbox.send().then(() => asked.join() === "/stop-it,/inspections/poisoned/answers,/departures/new")`)
	r.is("it is not yet for a person", `outbox.waits().then((w) => w.length === 3 && w.every((t) => !t.said))`)
	r.is("it has failed for an hour", `outbox.waits().then(async (w) => { for (const t of w) if (t.failed) await outbox.put("outbox", { ...t, failed: { times: 4, since: Date.now() - 3600001 } }); return true })`)
	r.is("what fails for an hour needs its person, and is not dropped", `outbox.send().then(() => outbox.waits()).then((w) => w.length === 3 && w.filter((t) => t.said?.status === 500).length === 2)`)
	r.b.open("/phone")
	r.knows()
	r.says("failed at this again and again (error 500)")
	r.script(`globalThis.replies = 204`)
	r.is("it is tried on", `outbox.send().then(() => outbox.waits()).then((w) => w.length === 1 && w[0].action === "/stop-it")`)
}

// Of what another person entered on this phone only how much and whose it is.
func TestAPhoneTellsNobodyWhatAnotherEntered(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, false, "ada")
	r.b.open("/phone")
	r.knows()
	r.waits(`"another"`, "Bo Fell", "/inspections/x/finish", "[]", `said: { status: 409, text: "a secret of Bo" }`)
	r.waits(`"another"`, "Bo Fell", "/departures/new", "[]", "")
	r.b.open("/phone")
	r.knows()
	r.says("Entered by Bo Fell: 2.")
	r.is("and no more", `(() => { const li = document.querySelectorAll("#togo li"); return li.length === 1 && !li[0].querySelector("a, button") && !/secret|Thing/.test(li[0].textContent) && !document.querySelector("a.togo").textContent.includes("Needs you") })()`)
}

// A kept page shows nothing as fresh: after half a minute nor does one that never had
// contact; and a picture kept for another is not shown.
func TestAKeptPageGoesOutOfDateToo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, true, "ada")
	r.before(`{ const after = setTimeout; globalThis.heldBack = []; globalThis.setTimeout = (act, time, ...rest) => time === 30000 ? (heldBack.push(act), -1) : after(act, time, ...rest) }`)
	r.b.open("/phone")
	r.knows()
	r.script(`fetch("/assets/none").catch(() => {}).then(async () => { const svg = () => new Response('<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>', { headers: { "Content-Type": "image/svg+xml" } });
	  await (await caches.open("pages:another")).put("/photos/theirs", svg()); await (await caches.open("pages:" + document.body.dataset.person)).put("/photos/mine", svg()); })`)
	r.is("both are there", `caches.match("/photos/theirs").then((a) => caches.match("/photos/mine").then((b) => !!a && !!b))`)
	r.cuts()
	seen := func(at string) string {
		return fmt.Sprintf(`new Promise((done) => { const i = new Image(); i.onload = () => done("seen"); i.onerror = () => done("not"); i.src = %q })`, at)
	}
	r.is("her picture is shown", seen("/photos/mine")+`.then((s) => s === "seen")`)
	r.is("another's is not", seen("/photos/theirs")+`.then((s) => s === "not")`)
	r.b.open("/")
	r.is("it is of before", `document.body.dataset.kept`)
	r.is("half a minute is counted from the start", `globalThis.heldBack?.length > 0`)
	r.script(`document.querySelector("main").insertAdjacentHTML("beforeend", '<strong class="badge small run-check" id="fresh">RUN CHECK ONLY</strong>'); heldBack.forEach((act) => act())`)
	r.is("then nothing is known", `document.getElementById("fresh").className === "badge not-known small"`)
}

// A phone that can't keep anything says so, and what is typed goes all the same.
func TestAFullPhoneSaysSoAndSends(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	r := onAPhone(t, m, false, "ada")
	r.before(`{ const put = IDBObjectStore.prototype.put; IDBObjectStore.prototype.put = function (...thing) { if (this.name === "drafts") throw new DOMException("", "QuotaExceededError"); return put.apply(this, thing) } }`)
	r.b.open(w.at + "?state=stopped")
	r.knows()
	r.script(`document.querySelector('input[value="ok"]').click()`)
	r.says("This phone can't keep what you enter")
	require.Eventually(t, func() bool {
		walks, err := m.desk().Walks(context.Background())
		return err == nil && len(walks) == 1 && len(walks[0].Answers) == 1
	}, 30*time.Second, 50*time.Millisecond)
	r.is("it says that it is kept there", `document.querySelector("[data-autosaved]").textContent === document.querySelector("[data-autosaved]").dataset.done`)
	r.cuts()
	r.script(`document.querySelectorAll('input[value="ok"]')[1].click()`)
	r.is("now it is kept nowhere", `document.querySelector("[data-autosaved]").textContent.startsWith("This phone can't keep")`)
}

// A slow answer is not taken for none, and a form not let go goes when pressed again.
func TestASlowMillHoldsUpNoActTwice(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.shortList()
	to := m.finishedShort("ada")
	r := onAPhone(t, m, false, "ada")
	r.b.open(to + "?state=sign")
	r.knows()
	r.b.write("pin", testSecrets["ada"])
	r.script(`{ const real = globalThis.fetch.bind(globalThis); globalThis.asked = []; const sign = document.querySelector('form[action$="/sign"]'); sign.dataset.needsContact = "";
	  AbortSignal.timeout = (time) => { const c = new AbortController(); if (time >= 5000) asked.push(time); if (time === 15000) globalThis.over = () => c.abort(new DOMException("", "TimeoutError")); return c.signal };
	  globalThis.fetch = (to, how) => to !== "/contact" ? real(to, how) : new Promise((_, no) => how.signal.addEventListener("abort", () => no(how.signal.reason)));
	  sign.querySelector("button.main").click() }`)
	r.is("it has a quarter of a minute", `asked.includes(15000)`)
	r.script(`over()`)
	r.says("Not sent: no contact. Nothing is signed.")
	r.is("the button is not taken away", `outbox.contact && !document.querySelector('form[action$="/sign"] button.main').disabled`)
	require.Empty(t, r.inspections())
	// Again and again: the page may hear from the server in between.
	r.is("without contact it is", `(outbox.hear(false), document.querySelector('form[action$="/sign"] button.main').disabled)`)
	r.script(`outbox.hear(true)`)
	r.is("heard again, it is back at once", `!document.querySelector('form[action$="/sign"] button.main').disabled`)
	r.script(`document.querySelector('form[action$="/sign"] button.main').click()`)
	r.says("Short check: signed")
	require.Len(t, r.inspections(), 1)
}
