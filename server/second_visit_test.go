package server

import (
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// The server says that what a page loads is for ever (see [phone.weigh]); that a
// browser takes it at its word is seen here: of a second visit no byte of style or
// script comes over the wire, nor is one asked for.
func TestASecondVisitToACheckBringsNoStyleAndNoScript(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts browsers")
	}
	m := newMill(t)
	m.shortList()
	ada := m.as("ada")
	first := ada.get("/inspections/new?list=short")
	begun := ada.post("/inspections/new", url.Values{"submission": {first.submission()}, "list": {"short"}})
	r := &runner{testMill: m, way: faultyBetween(t, onTheNetwork(t, m.server), "127.0.0.1", nil)}
	var lock sync.Mutex
	var asked []string
	r.way.late = func(q *http.Request) bool {
		lock.Lock()
		defer lock.Unlock()
		if strings.HasPrefix(q.URL.Path, "/assets/") {
			asked = append(asked, q.URL.Path)
		}
		return false
	}
	r.b = newBrowser(t, r.way.url, true)
	r.b.carries(ada)
	// What came of each style and script: how much over the wire, and how much it is.
	const came = `performance.getEntriesByType("resource").filter((e) => /\.(css|js)$/.test(new URL(e.name).pathname))`
	visit := func() {
		t.Helper()
		r.b.open(begun.URL.Path)
		r.is("all of it is there", "document.readyState === 'complete' && document.documentElement.hasAttribute('data-ready') && words.step")
		r.is("style and scripts are noted", came+".filter((e) => e.decodedBodySize > 0).length >= 4")
	}
	visit()
	r.is("the first time they come over the wire", came+".every((e) => e.transferSize > 0)")
	lock.Lock()
	require.GreaterOrEqual(t, len(asked), 4)
	asked = nil
	lock.Unlock()
	r.b.within("another page", chromedp.Navigate("about:blank"))
	visit()
	r.is("the second time none does", came+".every((e) => e.transferSize === 0)")
	lock.Lock()
	defer lock.Unlock()
	require.Empty(t, asked)
}
