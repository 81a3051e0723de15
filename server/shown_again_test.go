package server

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/server/sample"
)

// emptied empties the form at a place of those a page sends, less what is hidden,
// and sends it without the browser's own checks. It tells where to.
const emptied = `((n) => {
  const form = [...document.forms].filter((f) => f.method === "post")[n];
  for (const e of form.elements) {
    if (/^(radio|checkbox)$/.test(e.type)) e.checked = false;
    else if (/^(text|password|number|date|time|datetime-local|search|email|url|textarea)$/.test(e.type) && e.type !== "hidden") e.value = "";
  }
  HTMLFormElement.prototype.submit.call(form);
})(%d)`

// lookAtForms sends the forms of each screen with nothing filled in. Each that is
// shown again, with what is to be put right, is looked at as the screens are: axe-core
// finds nothing, every target is large, and it goes at 320 px in large type. Outside
// CI one screen in seven is opened, and one form in two sent there.
func lookAtForms(t *testing.T, url, name, secret string, screens []Screen) {
	b := newBrowser(t, url, true)
	b.open("/sign-in")
	b.choose("person", b.valueOf(name))
	b.write("pin", secret)
	b.press(`form[action="/sign-in"] button`)
	wrong, seen, again := findings{}, map[string]bool{}, 0
	for i, screen := range screens {
		if !sample.Has(i, 7) {
			continue
		}
		b.open(screen.Path)
		forms, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`[...document.forms].filter((f) => f.method === "post").map((f) => new URL(f.action).pathname)`))
		require.NoError(t, err)
		for n, action := range forms {
			sort := sortOf(action)
			if seen[sort] || strings.HasPrefix(action, "/sign-") || strings.HasPrefix(action, "/settings") || strings.HasPrefix(action, "/verify") && action != "/verify/key" || strings.HasSuffix(action, "/discard") || strings.HasPrefix(action, "/stop-it") || strings.HasPrefix(action, "/mill/mail/") {
				continue
			}
			seen[sort] = true
			if !sample.Has(len(seen), 2) {
				continue
			}
			b.open(screen.Path)
			response, err := chromedp.RunResponse(b.ctx, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(emptied, n)))
			require.NoError(t, err, action)
			if response.Status != http.StatusUnprocessableEntity {
				require.Less(t, response.Status, int64(http.StatusInternalServerError), action)
				continue
			}
			b.within("wait", chromedp.WaitReady("main"))
			again++
			where := action + " sent empty"
			found := b.lookHard(true)
			wrong.add(where, found.Wrong)
			wrong.add(where, found.Small)
			wrong.add(where, b.lookNarrow())
		}
	}
	t.Log(again, "forms shown again")
	assert.Empty(t, wrong.String())
	require.Greater(t, again, map[bool]int{true: 25, false: 2}[sample.Whole()])
}

// sortOf is an address with its ids taken out.
func sortOf(address string) string {
	parts := strings.Split(address, "/")
	for i, part := range parts {
		if len(part) == 36 || strings.Trim(part, "0123456789") == "" {
			parts[i] = ""
		}
	}
	return strings.Join(parts, "/")
}
