package server

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// Who signs out and hands the phone on leaves no PIN in it: a browser may keep the
// pages that were left as they were, and Back shows them.
func TestNoPINIsLeftOnAPageThatWasLeft(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts browsers")
	}
	m := newMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	asked := func(of string) string {
		t.Helper()
		answer, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](of))
		require.NoError(t, err)
		return answer
	}
	// watched notes what stands in the field once the page is left.
	watched := func() {
		b.ready()
		require.NotEmpty(t, asked(`document.querySelector("[name=pin]").value`))
		b.script(`addEventListener("pagehide", () => localStorage.setItem("left", "PIN: " + document.querySelector("[name=pin]").value))`)
	}
	b.open("/sign-in")
	b.choose("person", string(m.people["ada"].ID))
	b.write("pin", testSecrets["ada"])
	watched()
	b.press(`form[action="/sign-in"] button`)
	require.Equal(t, "/", b.path(), "what was sent had the PIN in it")
	require.Equal(t, "PIN: ", asked(`localStorage.getItem("left")`))

	b.open("/departures/new")
	b.write("pin", testSecrets["ada"])
	watched()
	b.script(`dispatchEvent(new PageTransitionEvent("pageshow", { persisted: true }))`)
	require.Empty(t, asked(`document.querySelector("[name=pin]").value`), "brought back from the browser's memory")
	b.write("pin", testSecrets["ada"])
	b.open("/")
	require.Equal(t, "PIN: ", asked(`localStorage.getItem("left")`))
}
