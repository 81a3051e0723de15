package server

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// In a walk OK brings the next item up, Defect stays for its fields, and an answer
// is taken back from the bar, at the mill's computer too.
func TestOKBringsTheNextItemAndIsTakenBack(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	b.undoStays()
	b.open(w.at + "?state=stopped")
	b.ready()
	items := asked(w.list, checklists.Stopped, nil)
	first := -1
	for i := range items[:len(items)-1] {
		if items[i].Kind == checklists.Choice && !items[i].AlwaysPhoto && items[i+1].Kind == checklists.Choice {
			first = i
			break
		}
	}
	require.GreaterOrEqual(t, first, 0)
	one, next := string(items[first].ID), string(items[first+1].ID)
	at := func() string {
		id, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.activeElement.closest("[data-ask]")?.id.slice(2) || ""`))
		require.NoError(t, err)
		return id
	}
	kept := func(result checklists.Result) func() bool {
		return func() bool { return w.answers()[checklists.ItemID(one)].Result == result }
	}
	b.choose(one, "ok")
	require.Equal(t, next, at(), "the next item has the keyboard")
	require.Eventually(t, kept(checklists.OK), 10*time.Second, 50*time.Millisecond)
	b.within("take it back", chromedp.SendKeys(".undo button", "\r"), chromedp.WaitNotPresent(".undo"))
	require.Equal(t, one, at(), "back at the item")
	require.Eventually(t, kept(""), 10*time.Second, 50*time.Millisecond, "no answer is kept")
	left, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](fmt.Sprintf(`!document.querySelector('[name="%s"]:checked')`, one)))
	require.NoError(t, err)
	require.True(t, left)
	b.choose(one, "defect")
	require.Equal(t, one, at(), "a defect has more to say")
	b.write(one+".note", "cracked")
	require.Eventually(t, kept(checklists.Found), 10*time.Second, 50*time.Millisecond)
	b.choose(one, "ok")
	b.within("take it back", chromedp.SendKeys(".undo button", "\r"))
	require.Eventually(t, kept(checklists.Found), 10*time.Second, 50*time.Millisecond, "the answer before, with what was wrong")
}

// An answer taken back stays so when its older sending comes late; another
// person's is not taken back.
func TestAnswerTakenBackStaysSo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	item := asked(w.list, checklists.Stopped, nil)[0]
	form, files := w.good(checklists.Stopped)
	send := func(on *phone, saved, back string, answers bool) {
		t.Helper()
		sent := map[string][]string{"state": {"stopped"}, "saved": {saved}}
		if answers {
			for name, values := range form {
				sent[name] = values
			}
			sent["saved"] = []string{saved}
		}
		if back != "" {
			sent["back"] = []string{back}
		}
		var with map[string][]byte
		if answers {
			with = files
		}
		reply := on.postFiles(w.at+"/autosave", sent, with)
		require.Equal(t, 204, reply.Status, reply.Body)
	}
	send(w.phone, "10", "", true)
	require.Contains(t, w.answers(), item.ID)
	send(w.phone, "30", string(item.ID), false)
	require.NotContains(t, w.answers(), item.ID)
	send(w.phone, "20", "", true)
	require.NotContains(t, w.answers(), item.ID, "an older sending")
	send(w.phone, "40", "", true)
	require.Contains(t, w.answers(), item.ID)
	send(m.as("bo"), "50", string(item.ID), false)
	require.Contains(t, w.answers(), item.ID, "somebody else's")
}

// A press is not enough for what can't be undone: it is held, or by keyboard
// pressed twice.
func TestWhatCantBeUndoneIsHeld(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	const button = `form[action="/sign-out"] button`
	begin := func() (x, y float64) {
		b.signIn(m, "ada")
		b.open("/sign-out")
		b.ready()
		place, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]float64](`(() => {
  const button = document.querySelector('`+button+`');
  button.dataset.hold = "Hold it";
  button.scrollIntoView({block: "center"});
  const box = button.getBoundingClientRect();
  return [box.left + box.width / 2, box.top + box.height / 2];
})()`))
		require.NoError(t, err)
		return place[0], place[1]
	}
	signedIn := func() bool {
		value, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body.dataset.person`))
		return err == nil && value != ""
	}
	x, y := begin()
	b.within("a tap", chromedp.MouseClickXY(x, y), chromedp.WaitReady(".hold-said"))
	require.True(t, signedIn())
	b.within("pressed", chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)), chromedp.WaitReady(".holding"))
	require.Eventually(t, func() bool { return !signedIn() }, 10*time.Second, 100*time.Millisecond, "held long enough")
	b.within("let go", chromedp.MouseEvent(chromedp.MouseReleased, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))

	begin()
	b.within("once", chromedp.SendKeys(button, "\r"), chromedp.WaitReady(".hold-said"))
	require.True(t, signedIn())
	_, err := chromedp.RunResponse(b.ctx, chromedp.SendKeys(button, "\r"))
	require.NoError(t, err)
	b.within("the page after", chromedp.WaitReady("main"))
	require.False(t, signedIn())
}

// Pages on which an act can't be undone have its button held, and the stop has not.
func TestHeldButtonsAreWhereNothingIsUndone(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	lockout := m.lockOut("ada", "head-rig")
	at := "/lockouts/" + string(lockout)
	require.NotContains(t, m.as("ada").get(at).Body, "data-hold=")
	require.NoError(t, m.desk().LockoutEvents(t.Context(), store.NewID(), lockout, []procedures.Event{{Kind: procedures.WorkBegan}, {Kind: procedures.WorkEnded}}, m.people["ada"], m.clock.Now()))
	m.carryOn("ada", lockout, procedures.RemoveLocks)
	require.Contains(t, m.as("ada").get(at).Body, "data-hold=")
	require.NotContains(t, m.as("ada").get("/stop-it").Body, "data-hold=")
	require.NotContains(t, m.as("ada").get("/inspections/new?list=pre-shift").Body, "data-hold=")
}

// fakeReader stands in for what a phone's browser brings: it reads window.code.
const fakeReader = `window.BarcodeDetector = class {
  static async getSupportedFormats() { return ["qr_code", "code_128"]; }
  async detect() { return window.code ? [{rawValue: window.code}] : []; }
}`

// A lock's number is read into its field, a placard's code opens its page, and an
// address that is not the mill's is shown and not followed.
func TestCameraReadsNumbersAndOwnAddressesOnly(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	url := onTheNetwork(t, m.server)
	b := newBrowser(t, url, true, chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true))
	b.signIn(m, "sam")
	b.open("/locks/new")
	b.ready()
	shown := func() bool {
		yes, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`!document.querySelector("[data-scan]").hidden`))
		require.NoError(t, err)
		return yes
	}
	require.False(t, shown(), "this browser can't")
	_, err := chromedp.Call(b.ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: fakeReader})
	require.NoError(t, err)
	read := func(code string) chromedp.Action[chromedp.Void] {
		quoted, err := json.Marshal(code)
		require.NoError(t, err)
		return chromedp.Evaluate[chromedp.Void](fmt.Sprintf("window.code = %s", quoted))
	}
	b.open("/locks/new")
	require.Eventually(t, shown, 10*time.Second, 50*time.Millisecond)
	b.within("read it", chromedp.SendKeys("[data-scan]", "\r"), chromedp.WaitReady("dialog.scan[open]"), read(" L-7 "), chromedp.WaitNotPresent("dialog.scan"))
	number, err := chromedp.Run(b.ctx, chromedp.Value(`[name="number"]`))
	require.NoError(t, err)
	require.Equal(t, "L-7", number)

	b.open("/lockouts")
	require.Eventually(t, shown, 10*time.Second, 50*time.Millisecond)
	b.within("begin", chromedp.SendKeys("[data-scan]", "\r"), chromedp.WaitReady("dialog.scan[open]"))
	for _, elsewhere := range []string{"https://elsewhere.example/procedures/head-saw", "javascript:alert(1)", "http://127.0.0.1.elsewhere.example/", "http://somebody@127.0.0.1/"} {
		b.within("read", read(elsewhere))
		require.Eventually(t, func() bool {
			said, err := chromedp.Run(b.ctx, chromedp.Text("dialog.scan p"))
			return err == nil && said == elsewhere
		}, 10*time.Second, 50*time.Millisecond, elsewhere)
		require.Equal(t, "/lockouts", b.path())
	}
	b.hard("camera")
	b.within("read", read(url+"/procedures/head-saw/placard"))
	require.Eventually(t, func() bool { return b.path() == "/procedures/head-saw/placard" }, 10*time.Second, 50*time.Millisecond)
}

// Without contact, with something still to go: axe-core finds nothing.
func TestWithoutContactIsFitForAll(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	b.open("/stop-it")
	b.ready()
	require.Eventually(t, func() bool {
		said, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`!!globalThis.words?.queued`))
		return err == nil && said
	}, 10*time.Second, 50*time.Millisecond, "the words have come")
	b.within("no contact", chromedp.Evaluate[chromedp.Void](`globalThis.fetch = () => Promise.reject(new TypeError("no network"))`), chromedp.SendKeys(`button[value="head-saw"]`, "\r"), chromedp.WaitVisible("#lost"), chromedp.WaitReady(".bar a.togo:not([hidden])"))
	b.hard("without contact")
}

// hard requires that axe-core finds nothing on the page as it stands, and that no
// target is small.
func (b *browser) hard(what string) {
	b.t.Helper()
	found := b.lookHard(true)
	require.Empty(b.t, found.Wrong, what)
	require.Empty(b.t, found.Small, what)
}

// undoStays has the bar that takes an answer back stay on pages opened from now on:
// by itself it goes sooner than a loaded machine may have looked at it.
func (b *browser) undoStays() {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, cdp.AddScriptToEvaluateOnNewDocument, cdp.AddScriptToEvaluateOnNewDocumentParams{Source: `{ const after = setTimeout; globalThis.setTimeout = (act, time, ...rest) => after(act, time === 8000 ? 1e9 : time, ...rest); }`})
	require.NoError(b.t, err)
}
