package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// finishedShort is the short check as who finished it without contact, with a stop
// found at its guard.
func (m *testMill) finishedShort(who string) string {
	m.t.Helper()
	p, id := m.as(who), m.people[who].ID
	start := p.get("/inspections/new?list=short")
	to := "/inspections/" + start.hidden("walk")
	require.Equal(m.t, given{Status: 204}, p.gives("/inspections/new", url.Values{"submission": {start.submission()}, "list": {"short"}, "version": {start.hidden("version")}, "walk": {start.hidden("walk")}}, nil, id, 10*time.Minute))
	photos := map[string][]byte{"S1.photo": testPhoto(m.t), "S3.photo": testPhoto(m.t)}
	answers := url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "saved": {"1"}, "S1": {"defect"}, "S1.note": {"guard loose"}, "S1.severity": {"stop"}, "S2": {"ok"}, "S2.number": {"4"}, "S3": {"ok"}, "S4": {"ok"}}
	require.Equal(m.t, given{Status: 204}, p.gives(to+"/answers", answers, photos, id, 9*time.Minute))
	running := url.Values{"submission": {store.NewID()}, "state": {"running"}, "saved": {"2"}, "R1": {"not-checked"}, "R1.note": {"later"}, "R2": {"not-checked"}, "R2.note": {"later"}}
	require.Equal(m.t, given{Status: 204}, p.gives(to+"/answers", running, nil, id, 8*time.Minute))
	require.Equal(m.t, given{Status: 204}, p.gives(to+"/finish", url.Values{"submission": {store.NewID()}}, nil, id, 7*time.Minute))
	return to
}

// holdKinds are the kinds of hold on a machine that name the walk at address to, or
// are a defect.
func (m *testMill) holdKinds(machine procedures.EquipmentID, to string) (kinds []checklists.HoldKind) {
	m.t.Helper()
	facts, err := m.desk().Facts(m.t.Context(), m.clock.Now())
	require.NoError(m.t, err)
	for _, r := range checklists.Ready(facts, m.clock.Now()) {
		for _, h := range r.Holds {
			if r.Equipment == machine && (h.Kind == checklists.HeldByDefect || "/inspections/"+h.Ref == to) {
				kinds = append(kinds, h.Kind)
			}
		}
	}
	return kinds
}

func TestACheckNotToBeSignedStaysOnTheRecordAndReleasesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.shortList()
	to := m.finishedShort("ada")
	require.Equal(t, []checklists.HoldKind{checklists.HeldByFinding, checklists.HeldUnsigned}, m.holdKinds("head-saw", to))

	ada, bo := m.as("ada"), m.as("bo")
	ada.get(to+"?state=sign").says(t, `href="`+to+`/set-aside"`)
	require.NotContains(t, bo.get(to+"?state=sign").Body, "/set-aside", "only who may sign it")
	form := url.Values{"submission": {store.NewID()}, "reason": {"Bo held the phone"}, "pin": {testSecrets["bo"]}}
	m.storesNothing(func() {
		require.Equal(t, http.StatusConflict, bo.post(to+"/set-aside", form).Status)
		ask := ada.get(to + "/set-aside")
		ask.says(t, "It then counts as no check")
		ask.says(t, "1 stop was found in it")
		form = url.Values{"submission": {ask.submission()}, "reason": {""}, "pin": {testSecrets["ada"]}}
		require.Equal(t, http.StatusUnprocessableEntity, ada.post(to+"/set-aside", form).Status, "a reason")
		form.Set("reason", "Bo held the phone")
		form.Set("pin", "0000")
		wrong := ada.post(to+"/set-aside", form)
		require.Equal(t, http.StatusUnprocessableEntity, wrong.Status, "the PIN")
		wrong.says(t, "Bo held the phone")
	})
	form.Set("pin", testSecrets["ada"])
	before := m.size()
	for range 2 {
		done := ada.post(to+"/set-aside", form)
		require.Equal(t, 200, done.Status, firstProblem(done))
		done.says(t, "not to be signed")
	}
	require.Equal(t, before+1, m.size(), "once, however often it is sent")

	page := bo.get(to)
	page.says(t, "This counts as no check")
	page.says(t, "Bo held the phone")
	page.says(t, "guard loose")
	page.says(t, `href="/inspections/new?list=short"`)
	require.NotContains(t, page.Body, "Signed by")
	require.Equal(t, []checklists.HoldKind{checklists.HeldByDefect, checklists.HeldUnsigned}, m.holdKinds("head-saw", to), "held as before, the stop as a defect")
	open, err := m.desk().Defects(t.Context(), true, 9)
	require.NoError(t, err)
	require.Len(t, open, 1)
	require.Equal(t, m.people["ada"].ID, open[0].By)
	require.NotEmpty(t, open[0].Photo)
	bo.get("/").says(t, "not to be signed, says Ada Rook")
	require.NotContains(t, ada.get("/inspections/waiting").Body, to)

	late := ada.gives(to+"/answers", url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "S1": {"ok"}}, nil, m.people["ada"].ID, time.Minute)
	require.Equal(t, http.StatusConflict, late.Status, "answers that come after are told, not lost")
	require.Contains(t, late.Said, "it is not to be signed")
	require.Equal(t, to, late.GoOn)
	require.Equal(t, http.StatusConflict, ada.post(to+"/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["ada"]}}).Status)
	begun := ada.gives("/inspections/new", url.Values{"submission": {store.NewID()}, "list": {"short"}, "walk": {to[len("/inspections/"):]}}, nil, m.people["ada"].ID, time.Minute)
	require.Equal(t, given{Status: 204}, begun, "the same begun again is not another check under its name")
	require.Empty(t, mustWalks(t, m))

	m.clock.Advance(time.Minute)
	again := m.finishedShort("bo")
	m.clock.Advance(time.Minute)
	signed := bo.post(again+"/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["bo"]}})
	require.Equal(t, 200, signed.Status, firstProblem(signed))
	require.Equal(t, []checklists.HoldKind{checklists.HeldByDefect}, m.holdKinds("head-saw", to), "gone through anew and signed; the defect is still to mend")
	bo.get(to).says(t, "was gone through anew and signed since")
}

func mustWalks(t *testing.T, m *testMill) []store.Walk {
	t.Helper()
	walks, err := m.desk().Walks(t.Context())
	require.NoError(t, err)
	return walks
}

func TestThePageOfACheckNotToBeSignedRendersEmptyAndFull(t *testing.T) {
	t.Parallel()
	for says, page := range map[string]asidePage{
		"Back to the check":                 {Frame: &views.Frame{}},
		"2 stops were found in it":          {Frame: &views.Frame{}, Said: plain.Say("x"), Stops: 2},
		"&lt;Bo&gt; held the phone":         {Frame: &views.Frame{}, Reason: "<Bo> held the phone"},
		`action="/inspections/x/set-aside"`: {Frame: &views.Frame{}, Address: "/inspections/x"},
	} {
		var out strings.Builder
		require.NoError(t, testPages().Render(&out, "set-aside", page))
		require.Contains(t, out.String(), says)
		require.NotContains(t, out.String(), "%!")
	}
}
