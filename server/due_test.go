package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// withJamList is a mill with a list due after a jam, besides its pre-shift list.
func withJamList(t *testing.T) *testMill {
	m := newMill(t)
	for _, l := range checklists.StarterLists(m.mill.SetUp, m.plant()) {
		if l.ID != checklists.AfterJam {
			continue
		}
		draft, err := store.DraftOf(store.Lists, string(l.ID), l.Title, l)
		require.NoError(t, err)
		if kept, err := m.desk().Draft(t.Context(), store.Lists, string(l.ID)); err == nil {
			draft.Revision = kept.Revision
		}
		require.NoError(t, m.desk().ReleaseList(t.Context(), store.NewID(), store.Release{Draft: draft}, m.people["sam"], m.clock.Now()))
	}
	return m
}

func TestWhatHappenedIsReportedAndMakesItsListDue(t *testing.T) {
	m := withJamList(t)
	ada := m.as("ada")
	ada.get("/due").says(t, "is not called for")
	for field, wrong := range map[string]string{"kind": "earthquake", "equipment": "boiler", "happened": "tomorrow", "pin": "0000"} {
		form := signed("ada", url.Values{"kind": {"jam"}, "equipment": {"head-saw"}, "note": {"slab of elm"}})
		form.Set(field, wrong)
		m.storesNothing(func() {
			reply := ada.post("/due/happened", form)
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
			reply.says(t, `href="#f-`+field+`"`)
			reply.says(t, "slab of elm</textarea>")
		})
	}
	reply := ada.post("/due/happened", signed("ada", url.Values{"kind": {"jam"}, "equipment": {"head-saw"}, "note": {"slab of elm"}}))
	require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
	require.Equal(t, "/due", reply.URL.Path)
	reply.says(t, "What is due after it stands below")
	reply.says(t, "After a jam: due")
	reply.says(t, "slab of elm")
	ada.get("/").says(t, "After a jam is due: jam cleared")
	m.storesNothing(func() {
		require.Equal(t, http.StatusForbidden, m.as("rita").post("/due/happened", signed("rita", url.Values{"kind": {"jam"}, "equipment": {"hoist"}})).Status)
	})
}

// Seen to fail while the page said that reporting it holds the machine.
func TestReportThatNoListAsksForSaysThatNothingIsHeld(t *testing.T) {
	m := withJamList(t)
	for name, draft := range map[string]bool{"ada": false, "sam": true} {
		reply := m.as(name).post("/due/happened", signed(name, url.Values{"kind": {"power-loss"}, "equipment": {"site"}}))
		require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
		reply.says(t, "No list in force asks for a check after this; nothing is held by it.")
		require.NotContains(t, reply.Body, "What is due after it stands below")
		_, card, _ := strings.Cut(reply.Body, "Nothing asks for a check after what you reported")
		card, _, _ = strings.Cut(card, "</p>")
		require.Equal(t, draft, strings.Contains(card, `href="/due/starters"`), name)
	}
	require.NotContains(t, m.as("ada").get("/due").Body, "Nothing asks for a check after what you reported")
}

func TestDuePageTellsTheNextShiftOfWhatIsDueNow(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	page := m.as("ada").get("/due")
	require.Contains(t, page.Body, "Due now")
	_, next, _ := strings.Cut(page.Body, "Comes next")
	require.Contains(t, next, "shift that starts")
	require.NotContains(t, next, "has a next time")
}

func TestMissedCheckIsExcusedByASupervisorWithAReason(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.clock.Advance(36 * time.Hour)
	sam := m.as("sam")
	page := sam.get("/due")
	page.says(t, "missed")
	address := linkOf(page, `<p><a class="reach"`)
	require.Contains(t, address, "/due/excuse?list=")
	form := sam.get(address).filled(t, "/due/excuse")
	m.storesNothing(func() {
		reply := sam.post("/due/excuse", with(form, "pin", testSecrets["sam"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-reason"`)
	})
	reply := sam.post("/due/excuse", with(form, "pin", testSecrets["sam"], "reason", "Road was shut by snow"))
	require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
	reply.says(t, "Road was shut by snow")
	reply.says(t, "Signed by Sam Ordway.")
	require.Equal(t, http.StatusForbidden, m.as("ada").get(address).Status)
}

func TestStartersAMillLacksBecomeDraftsToRead(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	have := map[string]bool{}
	drafts, err := m.desk().Drafts(t.Context())
	require.NoError(t, err)
	for _, d := range drafts {
		have[d.ID] = true
	}
	form := sam.get("/due/starters").filled(t, "/due/starters")
	reply := sam.post("/due/starters", url.Values{"submission": form["submission"], "starter": {"weekly", "no such list"}})
	require.Equal(t, http.StatusOK, reply.Status)
	drafts, err = m.desk().Drafts(t.Context())
	require.NoError(t, err)
	for _, d := range drafts {
		require.True(t, have[d.ID] || d.ID == "weekly", d.ID)
		have[d.ID] = true
	}
	require.True(t, have["weekly"])
	require.Equal(t, http.StatusUnprocessableEntity, sam.post("/due/starters", url.Values{"submission": form["submission"]}).Status)
}

func TestTheMillKeepsClosuresChangesOfZoneAndWhoIsExpected(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get("/mill").filled(t, "/mill"), "pin", testSecrets["sam"],
		"closed.1.from", "2026-12-24T00:00", "closed.1.until", "2027-01-02T00:00", "closed.1.reason", "Between the years",
		"zones.1.zone", "America/Chicago", "zones.1.from", "2026-07-01T12:00", "shifts.1.people", string(m.people["ada"].ID))
	for field, wrong := range map[string]string{"closed.1.until": "2026-12-23T00:00", "closed.1.reason": "", "zones.1.zone": "Mars/Olympus", "zones.1.from": "noon"} {
		m.storesNothing(func() {
			reply := sam.post("/mill", with(form, field, wrong))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
			reply.says(t, `href="#f-`+field+`"`)
		})
		form = with(form, "closed.1.until", "2027-01-02T00:00", "closed.1.reason", "Between the years", "zones.1.zone", "America/Chicago", "zones.1.from", "2026-07-01T12:00")
	}
	reply := sam.post("/mill", form)
	require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
	mill, err := m.store.TheMill(t.Context())
	require.NoError(t, err)
	require.Len(t, mill.Closed, 1)
	require.Equal(t, "2026-12-24 05:00", mill.Closed[0].From.UTC().Format("2006-01-02 15:04"))
	require.Equal(t, "2026-07-01 16:00", mill.Zones[0].From.UTC().Format("2006-01-02 15:04"))
	require.Equal(t, m.people["ada"].ID, mill.Shifts[0].People[0])
	m.as("rita").get("/due").says(t, "Expected: Ada Rook.")
	kept := sam.get("/mill").filled(t, "/mill")
	require.Equal(t, "2026-12-24T00:00", kept.Get("closed.1.from"))
	require.Equal(t, "2026-07-01T12:00", kept.Get("zones.1.from"))
}

// Every page of these screens stands up with nothing in it, and full.
func TestDuePagesRender(t *testing.T) {
	s, _, _ := newServer(t, "")
	engine, err := views.NewEngine(s.assets)
	require.NoError(t, err)
	now := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	f := func() *views.Frame { return &views.Frame{Now: now} }
	said := plain.Say("Weekly check is due until %s.", now)
	event := happenedLine{Said: plain.Say("The whole mill: %s", checklists.PowerLoss.Said()), Who: "Ada", At: now}
	line := dueLine{Title: "Weekly check", Word: plain.Say("due"), Said: said, Who: plain.Say("Expected: %s.", []string{"Ada"}), Calls: []happenedLine{event}, Fewer: said, Check: "/c", Excuse: "/e"}
	missed := dueLine{Title: "Pre-shift check", Word: plain.Say("missed"), Shift: "Day", Opens: now, By: "Sam", Said: said}
	full := f()
	for name, pages := range map[string][]any{
		"due":          {duePage{Frame: f()}, duePage{Frame: full, Waits: []dueLine{line}, Coming: []dueLine{line}, Later: []dueLine{line}, Missed: []dueLine{missed}, Events: []happenedLine{event}, Hoist: true, Closed: said}},
		"due-happened": {happenedPage{Frame: f()}, happenedPage{Frame: full, Hoist: true, Fields: []views.Field{full.TextField("kind", "k", "v")}}},
		"due-excuse":   {excusePage{Frame: f()}, excusePage{Frame: full, Said: said, Shift: "Day", Reason: "snow"}},
		"due-starters": {startersPage{Frame: f()}, startersPage{Frame: full, Lists: []starterLine{{Title: "Weekly check", Name: "weekly", Every: said, Items: 3}}}},
	} {
		for _, page := range pages {
			var out strings.Builder
			require.NoError(t, engine.Render(&out, name, page), name)
			require.NotContains(t, out.String(), "%!", name)
		}
	}
}
