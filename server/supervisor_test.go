package server

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// drag takes an item by its grip and lets it go at the lower edge of another.
func (b *browser) drag(item, onto string) {
	b.t.Helper()
	at := func(format string, id string) (x, y float64) {
		b.t.Helper()
		where, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]float64](fmt.Sprintf(format, id)))
		require.NoError(b.t, err)
		return where[0], where[1]
	}
	mouse := func(kind string, x, y float64) {
		b.t.Helper()
		_, err := chromedp.Call(b.ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventType(kind), X: x, Y: y, Button: "left", Buttons: 1, ClickCount: 1})
		require.NoError(b.t, err)
	}
	x, y := at(`(() => { const i = document.querySelector('[data-item="%s"]'); i.scrollIntoView({ block: "start" }); const r = i.querySelector("[data-grip]").getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`, item)
	mouse("mousePressed", x, y)
	_, low := at(`(() => { const r = document.querySelector('[data-item="%s"]').getBoundingClientRect(); return [r.left, r.bottom - 4]; })()`, onto)
	mouse("mouseMoved", x, low)
	mouse("mouseReleased", x, low)
}

// A supervisor's day in a browser, with scripts: a limit is changed on a draft,
// looked at as the phone will show it, compared and published. The inspection
// under way keeps its version, the next takes the new one. A defect runs to its
// return to service, and a reminder arrives.
func TestASupervisorsDay(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	t.Parallel()
	m := newMill(t)
	office := newPostOffice(t, true)
	m.mailing(office, "sam") // before it is served: the mail goes out beside the day's work
	under := m.walk("ada")
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "sam")

	b.open("/lists")
	b.sees("Pre-shift check", "Version 1 in force")
	b.shot("lists")
	b.open("/lists/pre-shift/edit")
	b.shot("list-edit")
	b.drag("K1-1", "K1-2")
	b.shows("The draft is kept")
	dragged, _ := m.draftList("pre-shift")
	require.Equal(t, []string{"K1-2", "K1-1"}, dogsOf(dragged)[:2], "dragged past the next one")
	b.open(itemPage("S3"))
	b.write("limits.high", "2")
	b.shot("list-item")
	b.press(`button[value="save"]`)
	b.sees("Saved by Sam Ordway", "draft of version 2")
	other := m.as("sam")
	for _, kept := range []string{"mine", "theirs"} { // two on one draft: either is taken
		b.open(itemPage("S3"))
		require.Equal(t, http.StatusOK, edits(t, other, "S3", "source", "their rule, "+kept).Status)
		b.write("source", "my rule, "+kept)
		b.within("save", chromedp.SendKeys(`button[value="save"]`, "\r"))
		b.shows("saved this draft while you were writing") // in place: nothing typed is left behind
		b.sees("Theirs", "their rule, "+kept, "Mine", "my rule, "+kept)
		b.shot("list-conflict")
		b.choose("take.S3", kept)
		b.press(`form[action="/lists/pre-shift/merge"] button.main`)
		b.sees("The draft is kept")
		merged, _ := m.draftList("pre-shift")
		item, _ := merged.Item("S3")
		require.Equal(t, map[string]string{"mine": "my rule, mine", "theirs": "their rule, theirs"}[kept], item.Source)
		require.Equal(t, 2.0, *item.Limits.High, "the limit changed before stays")
	}
	b.open("/lists/pre-shift/preview?state=locked-out")
	b.sees("under 2 in", "Nothing you tick here is kept")
	b.shot("list-preview")
	b.open("/lists/pre-shift/compare")
	b.sees("S3", "K1-", "2 differences")
	b.shot("list-compare")
	b.open(preShiftPublish)
	b.sees("Inspections under way: 1")
	b.write("pin", testSecrets["sam"])
	b.shot("list-publish")
	b.press(`form[action="` + preShiftPublish + `"] .sign button`)
	b.sees("in force, version 2")

	require.Equal(t, 1, mustWalk(t, m, under).Version, "the one under way keeps its version")
	next := m.walk("bo")
	require.Equal(t, 2, mustWalk(t, m, next).Version)
	item, _ := next.list.Item("S3")
	require.Equal(t, 2.0, *item.Limits.High)

	b.defectToService(m)

	b.open("/reminders")
	b.sees("Reminders for you", "no emergency card of its own", "Once a day from 06:00")
	b.shot("reminders")
	m.reminderArrives(office, "sam", "no emergency card of its own")
}

// defectToService stops the carriage as sam, who is signed in, and gives it to ada.
// She reports it mended, and may not return it; sam does.
func (b *browser) defectToService(m *testMill) {
	b.t.Helper()
	b.open("/stop-it")
	b.press(`button[name="equipment"][value="carriage"]`)
	at := m.openDefect("carriage")
	b.open(at)
	b.write("what", "rail loose")
	b.press(`form[action="` + at + `/describe"] button.main`)
	b.sees("rail loose: open, holds Carriage")
	b.open(at + "?act=assign")
	b.choose("assigned", string(m.people["ada"].ID))
	b.within("by which day", chromedp.SetValue(`input[name="due"]`, m.dayAfter(2)))
	b.write("pin", testSecrets["sam"])
	b.press(`form[action="` + at + `/assign"] .sign button`)
	b.sees("Ada Rook")

	b.signIn(m, "ada")
	b.open(at)
	b.write("note", "two bolts, tightened")
	b.write("pin", testSecrets["ada"])
	b.press(`form[action="` + at + `/mend"] .sign button`)
	b.sees("mended, waits for return to service")
	returns := `form[action="` + at + `/return"]`
	own, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("document.querySelector('"+returns+"') !== null"))
	require.NoError(b.t, err)
	require.False(b.t, own, "not by who mended it")

	b.signIn(m, "sam")
	b.open(at)
	b.shot("defect-return")
	b.write("pin", testSecrets["sam"])
	b.press(returns + ` .sign button`)
	b.sees("back in service", "two bolts, tightened")
	d := m.defect(at)
	require.Equal(b.t, m.people["ada"].ID, d.MendedBy)
	require.Equal(b.t, m.people["sam"].ID, d.ReturnedBy)
}

// dogsOf are the items at the dogs, as one walks.
func dogsOf(l checklists.List) (ids []string) {
	for _, item := range checklists.Walked(l.Items) {
		if item.Equipment == "dogs-and-knees" {
			ids = append(ids, string(item.ID))
		}
	}
	return ids
}
