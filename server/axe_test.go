package server

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// axe is axe-core 4.14.1 as its makers publish it (MPL-2.0, Deque Systems), of
// use to tests only.
var axe = sync.OnceValues(func() (string, error) {
	body, err := os.ReadFile(filepath.Join("..", "testdata", "axe", "axe.min.js"))
	return string(body), err
})

// hardLook is what was found on one page.
type hardLook struct {
	Wrong []string // by axe-core: rule, what it is about, where
	Small []string // targets under 56 px
}

// lookHard runs axe-core's rules for WCAG 2.2 A and AA and its best practices
// over the page as it stands, its contrast in every scheme (of one page in six,
// unless STILLSAW_LONG is set: each colour is held against each other elsewhere),
// and measures every target. Where not whole, it runs only what the width of the
// window may change.
// Animations come to their end first, and the bar at the bottom stands at the end
// of the page: what it covers comes from under it as the page is scrolled.
func (b *browser) lookHard(whole bool) hardLook {
	b.t.Helper()
	source, err := axe()
	require.NoError(b.t, err)
	b.looks++
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[hardLook](source+fmt.Sprintf(`;(async (whole, schemes) => {
  for (const a of document.getAnimations()) a.finish();
  const root = document.documentElement, wrong = [], given = root.dataset.scheme;
  const still = new CSSStyleSheet();
  still.replaceSync("*, ::before, ::after { transition: none !important } .bar { position: static !important }");
  document.adoptedStyleSheets = [still];
  const run = async (runOnly, scheme) => {
    if (scheme) root.dataset.scheme = scheme;
    const said = await axe.run(document, {runOnly, resultTypes: ["violations"]});
    for (const v of said.violations) for (const n of v.nodes) wrong.push((scheme ? scheme + " " : "") + v.id + ": " + n.target.join(" ") + " " + n.html.slice(0, 160) + " " + (n.any[0] || n.all[0] || n.none[0])?.message);
  };
  if (whole) {
    await run({type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]});
    if (schemes) await run({type: "rule", values: ["color-contrast"]}, "dark");
    if (schemes) await run({type: "rule", values: ["color-contrast-enhanced"]}, "sun");
  } else await run({type: "rule", values: ["target-size", "region", "landmark-unique", "landmark-no-duplicate-main", "scrollable-region-focusable", "heading-order", "skip-link", "bypass"]});
  if (given) root.dataset.scheme = given;
  else delete root.dataset.scheme;
  const small = (%s)();
  document.adoptedStyleSheets = [];
  return {Wrong: wrong, Small: small};
})(%t, %t)`, smallTargets, whole, os.Getenv("STILLSAW_LONG") != "" || b.looks%6 == 0), chromedp.EvalAwaitPromise))
	b.well(err, "look hard")
	return found
}

// smallTargets are the targets under 56 px either way, less what WCAG 2.2 2.5.8
// lets be smaller: a link in a sentence or a line of text (Inline), and a day of the
// calendar's grid, whose page the lines below it lead to as well (Equivalent). A tick or choice is
// hit by its label, and a label beside its field is no target of its own.
const smallTargets = `() => {
  const small = [];
  for (const e of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, label")) {
    if (!e.checkVisibility({visibilityProperty: true}) || e.matches(".skip, .stand, [tabindex='-1']")) continue;
    if (e.matches("label") && !e.querySelector("input")) continue;
    const target = e.matches("[type=radio], [type=checkbox]") ? e.closest("label") || e : e;
    const box = target.getBoundingClientRect(), block = e.parentElement.closest("p, li, dd, td, th, h1, h2, h3, figcaption, caption, div, section");
    const inline = e.matches("a") && getComputedStyle(e).display === "inline" && (block?.textContent || "").trim().length > e.textContent.trim().length + 2;
    if (!inline && (box.height < 55.5 || box.width < 55.5)) small.push(Math.round(box.width) + "x" + Math.round(box.height) + " " + target.outerHTML.slice(0, 160));
  }
  return small;
}`

// findings collects by page what is wrong, each thing once.
type findings map[string][]string

func (s findings) add(where string, things []string) {
	for _, thing := range things {
		if !slices.Contains(s[thing], where) {
			s[thing] = append(s[thing], where)
		}
	}
}

func (s findings) String() string {
	var lines []string
	for thing, where := range s {
		lines = append(lines, fmt.Sprintf("%s\n    at %s", thing, strings.Join(where[:min(4, len(where))], ", ")))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}
