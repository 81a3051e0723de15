package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/views"
)

// defectToService takes an open defect through the screens: given to who mends
// it, a part noted, reported mended, returned to service by another person.
func (m *testMill) defectToService(at, mender, second string) {
	m.t.Helper()
	sam, by := m.as("sam"), m.as(mender)
	reply := sam.post(at+"/assign", signed("sam", url.Values{"assigned": {string(m.people[mender].ID)}, "due": {m.dayAfter(2)}}))
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
	reply = by.post(at+"/note", signed(mender, url.Values{"kind": {"used"}, "text": {"two bolts, M10"}}))
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
	reply = by.post(at+"/mend", signed(mender, url.Values{"note": {"new bolts"}}))
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
	reply = m.as(second).post(at+"/return", signed(second, nil))
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
}

// dayAfter is a day as a form takes it.
func (m *testMill) dayAfter(days int) string {
	return m.clock.Now().AddDate(0, 0, days).Format("2006-01-02")
}

func TestDefectIsGivenNotedAndItsStoryTold(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam, ada := m.as("sam"), m.as("ada")
	at := m.stopped(ada, "head-saw", "splitter loose")
	m.storesNothing(func() {
		reply := sam.post(at+"/assign", signed("sam", url.Values{"due": {"soon"}}))
		require.Equal(t, 422, reply.Status)
		reply.says(t, `href="#f-assigned"`)
		reply.says(t, `href="#f-due"`)
		require.Equal(t, 422, ada.post(at+"/assign", signed("ada", url.Values{"assigned": {string(m.people["bo"].ID)}, "due": {m.dayAfter(1)}})).Status, "only taken on by oneself")
		require.Equal(t, 422, sam.post(at+"/date", signed("sam", url.Values{"mend_by": {m.dayAfter(9)}, "reason": {"waits"}, "stop_gap": {"wired"}})).Status, "a stop has no date")
		require.Equal(t, http.StatusForbidden, ada.post(at+"/date", signed("ada", nil)).Status)
		require.Equal(t, 422, ada.post(at+"/note", signed("ada", url.Values{"text": {"bolt"}})).Status)
	})
	m.defectToService(at, "ada", "bo")
	shown := m.as("rita").get(at)
	for _, said := range []string{"Given to Ada Rook", "Part used", "two bolts, M10", "Reported as mended", "Returned to service", "Was open for"} {
		shown.says(t, said)
	}
	require.NotContains(t, shown.Body, "?act=note", "a reader signs nothing")
	list := sam.get("/defects?show=back&equipment=head-saw")
	list.says(t, "splitter loose")
	sam.get("/defects?show=mine").says(t, "None of that kind.")
}

func TestIncidentHoldsIsFollowedUpAndClosed(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	bo, sam := m.as("bo"), m.as("sam")
	typed := url.Values{"kind": {"hurt"}, "what": {"hand caught by a knee"}, "equipment": {"carriage"}, "where": {"front headblock"}, "happened": {"2026-03-03"}, "time": {"05:40"},
		"present": {"Bo Lind"}, "harmed": {"Ira Voss, one finger"}, "harm": {"hospital"}, "hold": {"nothing"}}
	m.storesNothing(func() {
		reply := bo.post("/incidents/new", signed("bo", typed))
		require.Equal(t, 422, reply.Status, "somebody was hurt: it is held")
		reply.says(t, `href="#f-hold"`)
		reply.says(t, "Ira Voss, one finger</textarea>")
	})
	typed.Set("hold", "stop")
	reply := bo.postFiles("/incidents/new", signed("bo", typed), map[string][]byte{"photo": picture(t, 60, 60)})
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Equal(t, "Somebody hurt: hand caught by a knee", reply.title())
	reply.says(t, "29 CFR 1904.39(a): to be reported to the authorities by Wed 4 Mar 2026, 05:40:00 -05:00")
	at := reply.URL.Path
	held := m.openDefect("carriage")
	reply.says(t, `href="`+held+`"`)
	bo.get("/").says(t, `href="`+held+`"`)

	reply = sam.post(at+"/actions", signed("sam", url.Values{"action": {"guard at the knee"}, "person": {string(m.people["ada"].ID)}, "due": {m.dayAfter(3)}}))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	m.storesNothing(func() {
		require.Equal(t, 422, sam.post(at+"/close", signed("sam", url.Values{"reason": {"all well"}})).Status, "not done yet")
		require.Equal(t, http.StatusForbidden, bo.post(at+"/close", signed("bo", nil)).Status)
	})
	actions, err := m.desk().OpenIncidentActions(t.Context())
	require.NoError(t, err)
	require.Len(t, actions, 1)
	reply = m.as("ada").post(at+"/actions/"+string(actions[0].ID), signed("ada", url.Values{"done": {"guard bolted on"}}))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply = sam.post(at+"/close", signed("sam", url.Values{"reason": {"the guard keeps hands out"}}))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply.says(t, "guard bolted on")
	reply.says(t, "the guard keeps hands out")
	m.as("rita").get("/incidents").says(t, "Closed lately")
	require.Contains(t, bo.get(held).title(), "holds Carriage", "closing frees nothing")
	later := url.Values{"harm": {"amputation"}, "known": {"2026-03-03T05:50"}}
	m.storesNothing(func() {
		require.Equal(t, http.StatusForbidden, bo.post(at+"/harm", signed("bo", later)).Status)
		require.Equal(t, 422, sam.post(at+"/harm", signed("sam", url.Values{"harm": {"hospital"}, "known": {"yesterday"}})).Status)
	})
	reply = sam.post(at+"/harm", signed("sam", later))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply.says(t, "29 CFR 1904.39(b)(7) (from memory): to be reported to the authorities by Wed 4 Mar 2026, 05:50:00 -05:00")
	require.Equal(t, http.StatusNotFound, sam.get("/incidents/none").Status)
}

// openDefect is the address of the newest open defect on a machine.
func (m *testMill) openDefect(machine string) string {
	m.t.Helper()
	open, err := m.desk().Defects(m.t.Context(), true, 50)
	require.NoError(m.t, err)
	for _, d := range open {
		if string(d.Equipment) == machine {
			return "/defects/" + string(d.ID)
		}
	}
	m.t.Fatal("no open defect on " + machine)
	return ""
}

func TestTrendsShowWhatWasMeasuredAndWhatIsOpen(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.preShift("ada", nil, everyMachine...)
	m.stopped(m.as("ada"), "hoist", "hook bent")
	page := m.as("rita").get("/trends")
	require.Equal(t, 200, page.Status)
	page.says(t, "Not enough readings")
	page.says(t, "<svg")
	page.says(t, "Still open")
	page.says(t, "not yet half")
	require.NotContains(t, page.Body, "NaN")
	require.Positive(t, strings.Count(page.Body, "<circle"))
}

// Every page of these screens stands up with nothing in it.
func TestIncidentAndTrendPagesRenderEmpty(t *testing.T) {
	s, _, _ := newServer(t, "")
	engine, err := views.NewEngine(s.assets)
	require.NoError(t, err)
	f := &views.Frame{}
	for name, page := range map[string]any{"incidents": incidentsPage{Frame: f}, "incident-new": newIncidentPage{Frame: f}, "incident": incidentPage{Frame: f}, "trends": trendsPage{Frame: f},
		"defects": defectsPage{Frame: f}, "defect": defectPage{Frame: f, Care: defectCare{Form: careForm{Opened: "assign"}, MayNote: true}, D: checklists.Defect{}}} {
		var out strings.Builder
		require.NoError(t, engine.Render(&out, name, page), name)
		require.NotContains(t, out.String(), "%!", name)
	}
}
