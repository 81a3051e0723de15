package server

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/sample"
)

// The whole of a shift by keys alone: Tab goes to each control, from wherever the
// keyboard stands, and at each stop one can see where it stands (WCAG 2.2, 2.1.1,
// 2.1.2, 2.4.7, 2.4.11). Only the pictures come another way: the browser's own
// dialog is not a part of the page.
func TestAShiftByKeyboardAlone(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("long: set STILLSAW_LONG")
	}
	walkAShift(t, true, true)
}

// Part of it: signing in, one state of a check, and a stop.
func TestACheckAndAStopByKeyboardAlone(t *testing.T) {
	t.Parallel()
	if !sample.Whole() {
		t.Skip("in CI, and with STILLSAW_LONG=1: a check by the same steps as in the shift, with keys")
	}
	m := newMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.keys = true
	b.open("/")
	b.ready()
	b.within("the first stop is the way past the head of the page", chromedp.KeyEvent(kb.Tab), chromedp.WaitReady("a.skip:focus"))
	b.within("it leads there", chromedp.KeyEvent("\r"), chromedp.WaitReady("main:target"))
	b.signIn(m, "ada")
	b.open("/inspections/new?list=pre-shift")
	b.press(`main form button`)
	b.answerAll(m, b.path(), checklists.Stopped)
	b.open("/")
	b.press(`nav.bar .stop-it`)
	b.press(`button[value="head-saw"]`)
	b.sees("Head saw")
	require.Equal(t, checklists.Held, m.status("head-saw"))
}

// ready waits for the scripts: a page can be used before, but brings nothing up.
func (b *browser) ready() {
	b.t.Helper()
	b.within("scripts", chromedp.WaitReady("html[data-ready]"))
}

// keyed presses keys at the control, which takes the keyboard there.
func (b *browser) keyed(selector, keys string) {
	b.t.Helper()
	if !b.keys {
		b.within("press "+selector, chromedp.SendKeys(selector, keys))
		return
	}
	b.reach(selector)
	b.within("press "+selector, chromedp.KeyEvent(keys))
}

// stop is where the keyboard stands.
type stop struct {
	There  bool   // at what was looked for
	Value  string // of a choice
	Wrong  string // what is wrong with how it shows
	Counts int    // how many places there are in all
}

// reach goes to the first of selector by Tab. A group of choices is one stop; the
// arrow keys go on within it.
func (b *browser) reach(selector string) {
	b.t.Helper()
	b.ready()
	b.within("there is "+selector, chromedp.WaitReady(selector))
	group := ""
	at := func() stop {
		s, err := chromedp.Run(b.ctx, chromedp.Evaluate[stop](fmt.Sprintf(`((wanted) => {
  const at = document.activeElement, same = at.name === wanted.name && at.type === "radio" && at.form === wanted.form, there = at === wanted || same;
  let wrong = "";
  if (at !== document.body && at.tabIndex >= 0) {
    const box = (at.closest("label") || at).getBoundingClientRect(), outline = [at, at.closest("label")].some((e) => e && getComputedStyle(e).outlineStyle !== "none");
    if (!outline) wrong = "nothing shows that the keyboard is at " + at.outerHTML.slice(0, 120);
    const seen = [0.1, 0.5, 0.9].some((part) => {
      const top = document.elementFromPoint(box.left + Math.min(box.width / 2, 40), box.top + box.height * part);
      return top && (at.contains(top) || top.contains(at) || (at.closest("label") || at).contains(top));
    });
    if (!seen && !at.matches("input[type=image]")) wrong = "covered or out of sight: " + at.outerHTML.slice(0, 120);
  }
  return {There: there, Value: same ? at.value : "", Wrong: wrong, Counts: document.querySelectorAll("a, button, input, select, textarea, summary, [tabindex]").length};
})(document.querySelector(%s))`, strconv.Quote(selector))))
		require.NoError(b.t, err)
		require.Empty(b.t, s.Wrong, "on %s", b.where())
		return s
	}
	now := at()
	for tabs := 0; !now.There; tabs++ {
		require.LessOrEqual(b.t, tabs, now.Counts+4, "Tab does not come to %s on %s, last at %q", selector, b.where(), now.Value)
		b.within("Tab", chromedp.KeyEvent(kb.Tab))
		now = at()
	}
	if _, after, found := strings.Cut(selector, `[value="`); found && now.Value != "" {
		group = strings.TrimSuffix(after, `"]`)
	}
	for range 12 {
		if group == "" || now.Value == group {
			return
		}
		b.within("the next of the group", chromedp.KeyEvent(kb.ArrowDown))
		now = at()
	}
	require.Fail(b.t, "the arrow keys don't come to "+selector, b.where())
}
