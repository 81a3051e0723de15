package server

import (
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
	"stillsaw/server/store/lent"
)

// forked removes the entries from the place of head on behind the server's back
// and lets as many others be written, and more.
func (m *testMill) forked(head record.Head) {
	m.t.Helper()
	grown := m.size() - head.Size
	for _, table := range []string{"entries", "entry_equipment", "openings"} {
		m.tamper(fmt.Sprintf("DELETE FROM %s WHERE seq >= %d", table, head.Size))
	}
	m.tamper(fmt.Sprintf("DELETE FROM tree_hashes WHERE place >= %d", tlog.StoredHashCount(head.Size)))
	m.tamper(fmt.Sprintf("UPDATE log_heads SET size = %d, root = %s", head.Size, lent.Bytes(head.Root[:])))
	for range grown + 2 {
		m.stop("ada", "hoist", "another story")
	}
}

// A phone that saw the record says so on every page when it was made anew behind
// the server's back, until whoever has the phone ends that; one that saw only
// what is there stays quiet.
func TestPhoneThatSawAnotherRecordSaysSoAndOneThatDidNotStaysQuiet(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.withKey()
	url := onTheNetwork(t, m.server)
	fork, err := m.desk().Head(t.Context())
	require.NoError(t, err)
	m.stop("ada", "hoist", "hook bent")
	m.stop("ada", "hoist", "chain worn")

	b := newBrowser(t, url, true)
	b.signIn(m, "rita")
	comesTo := func(what, script string) {
		t.Helper()
		require.Eventually(t, func() bool {
			yes, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](script))
			return err == nil && yes
		}, 15*time.Second, 50*time.Millisecond, what)
	}
	quietAt := func(size int64) string {
		return fmt.Sprintf(`document.querySelector("[data-newest]").textContent.endsWith(", %d") && !document.querySelector("[data-agrees]").hidden && document.getElementById("other-record").hidden`, size)
	}
	b.open("/verify")
	comesTo("the phone has kept what it saw", quietAt(m.size()))
	m.stop("bo", "hoist", "and on")
	b.open("/verify")
	comesTo("the record went on as it should: the phone is quiet", quietAt(m.size()))

	m.forked(fork)
	b.open("/verify")
	b.within("the notice", chromedp.WaitVisible("#other-record"))
	b.open("/record")
	b.within("the notice on any page", chromedp.WaitVisible("#other-record"))
	b.shot("another-record")
	b.open("/") // which shows the two checkpoints, as Verify does
	b.within("the notice on the front page", chromedp.WaitVisible("#other-record"))
	kept, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.querySelector("#other-record pre").textContent`))
	require.NoError(t, err)
	compared, err := m.desk().Compare(t.Context(), kept)
	require.NoError(t, err)
	require.Len(t, compared, 1)
	require.Contains(t, compared[0].Said().String(), "The record was changed", "what the phone gives out proves it")

	b.open("/verify")
	b.within("ending the notice", chromedp.WaitVisible("[data-differs]"), chromedp.SendKeys("[data-read]", " "), chromedp.SendKeys("[data-end]", "\r"))
	comesTo("the notice is ended, and said to have been", quietAt(m.size())+` && !document.querySelector("[data-ended]").hidden`)
}
