package server

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// sheetOf is a stylesheet as the server sends it.
type sheetOf struct {
	Href string `json:"href"`
	Text string `json:"text"`
}

var sheetName = regexp.MustCompile(`/assets/[a-z.-]+\.[0-9a-f]+\.css`)

// sheetsAt are all stylesheets but that for paper, which every page has.
func sheetsAt(t *testing.T, url string) (all []sheetOf) {
	t.Helper()
	read := func(path string) string {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url+path, nil)
		require.NoError(t, err)
		reply, err := http.DefaultClient.Do(request)
		require.NoError(t, err)
		body, err := io.ReadAll(reply.Body)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		require.Equal(t, http.StatusOK, reply.StatusCode, path)
		return string(body)
	}
	for _, href := range sheetName.FindAllString(read("/sw.js"), -1) {
		if !regexp.MustCompile(`-print\.`).MatchString(href) {
			all = append(all, sheetOf{href, read(href)})
		}
	}
	require.Greater(t, len(all), 5)
	return all
}

// lookUnstyled finds elements that a stylesheet the page does not load would style.
func (b *browser) lookUnstyled(sheets []sheetOf) []string {
	b.t.Helper()
	text, err := json.Marshal(sheets)
	require.NoError(b.t, err)
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](fmt.Sprintf(`((sheets) => {
  const missed = [];
  if (document.querySelector("head > style")) return missed; // a page kept by itself has its style in it
  for (const { href, text } of sheets) {
    if (document.querySelector('link[href="' + href + '"]')) continue;
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(text);
    const look = (rules) => {
      for (const rule of rules) {
        if (rule.media?.mediaText.includes("print")) continue;
        if (rule.cssRules?.length) look(rule.cssRules);
        if (!rule.selectorText) continue;
        const selector = rule.selectorText.replace(/::[a-z-]+(\([^)]*\))?/g, "").replace(/:(hover|focus-visible|focus|active|target)\b/g, "");
        let at = null;
        try { at = document.querySelector(selector); } catch { /* of a pseudo-element alone */ }
        if (at) missed.push(href.replace(/\.[0-9a-f]+\.css/, "") + " is not loaded, and says " + rule.selectorText + " of " + at.outerHTML.slice(0, 80));
      }
    };
    look(sheet.cssRules);
  }
  return missed;
})(%s)`, text)))
	require.NoError(b.t, err, b.where())
	return found
}

// narrowest is the width of WCAG 2.2 1.4.10: 320 CSS px, which is also 1280 px at
// four times the size.
const narrowest = 320

// lookNarrow looks at the page at 320 px, in ordinary and in large type: nothing is
// to be scrolled sideways (1.4.10) or cut off (1.4.4), targets stay as large, and
// where the keyboard goes is not hidden by the bar at the bottom (2.4.11). What
// scrolls in a frame of its own (a table, a drawing) is let off by 1.4.10.
func (b *browser) lookNarrow() (wrong []string) {
	b.t.Helper()
	b.within("size", chromedp.EmulateViewport(narrowest, 568))
	for _, size := range []string{"", "large"} {
		found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](fmt.Sprintf(`((size) => {
  const root = document.documentElement, given = root.dataset.size, wrong = [];
  if (size) root.dataset.size = size;
  const say = (what, e) => wrong.length < 12 && wrong.push((size || "ordinary") + " type at 320 px: " + what + " " + e.outerHTML.slice(0, 140));
  const rolls = (e) => { for (let p = e.parentElement; p && p !== document.body; p = p.parentElement) if (/auto|scroll/.test(getComputedStyle(p).overflowX)) return true; return false; };
  if (root.scrollWidth > innerWidth) wrong.push((size || "ordinary") + " type: " + root.scrollWidth + " px wide");
  for (const e of document.querySelectorAll("body *")) {
    if (e.closest("svg") && e.localName !== "svg" || e.matches(".skip, script, option, .heard, .heard *, thead, thead *") || !e.checkVisibility({visibilityProperty: true})) continue;
    const box = e.getBoundingClientRect(), style = getComputedStyle(e);
    if (box.right > innerWidth + 1 && box.width > 0 && !rolls(e)) say("reaches " + Math.round(box.right), e);
    if (/hidden|clip/.test(style.overflowX) && !e.matches("input, select, svg, video, img") && e.scrollWidth > e.clientWidth + 1) say("cut off", e);
  }
  for (const thing of (%s)()) wrong.push((size || "ordinary") + " type at 320 px: " + thing);
  for (const e of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
    if (e.disabled || e.tabIndex < 0 || !e.checkVisibility({visibilityProperty: true})) continue;
    e.focus();
    if (document.activeElement !== e) continue;
    const target = e.closest("label") || e, boxes = [...target.getClientRects()];
    const seen = boxes.some((box) => [0.1, 0.5, 0.9].some((part) => {
      const top = document.elementFromPoint(box.left + Math.min(box.width / 2, 40), box.top + box.height * part);
      return top && (target.contains(top) || top.contains(target));
    }));
    if (!seen) say("covered or out of sight when the keyboard is there:", e);
  }
  document.activeElement?.blur();
  scrollTo(0, 0);
  if (given) root.dataset.size = given;
  else delete root.dataset.size;
  return wrong;
})(%q)`, smallTargets, size)))
		require.NoError(b.t, err, b.where())
		wrong = append(wrong, found...)
	}
	b.within("size", chromedp.EmulateViewport(390, 844))
	return wrong
}
