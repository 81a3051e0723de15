package server

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// A check gone through without contact under a version that was replaced meanwhile,
// too long ago to be signed: its person is told, what it found holds, and the check
// goes on under the version in force with all that was entered.
func TestACheckOvertakenWithoutContactIsToldAndGoesOn(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.shortList()
	ada, id := m.as("ada"), m.people["ada"].ID
	start := ada.get("/inspections/new?list=short")
	to := "/inspections/" + start.hidden("walk")
	begin := url.Values{"submission": {start.submission()}, "list": {"short"}, "version": {start.hidden("version")}, "walk": {start.hidden("walk")}}

	m.clock.Advance(time.Hour)
	list := shortList()
	list.Items[1].Prompt = "Gap of the guide at the rim"
	draft, err := store.DraftOf(store.Lists, "short", list.Title, list)
	require.NoError(t, err)
	require.NoError(t, m.desk().ReleaseList(t.Context(), store.NewID(), store.Release{Draft: draft, Over: 1}, m.people["sam"], m.clock.Now()))
	m.clock.Advance(12 * time.Hour)
	ada = m.as("ada") // a session lasts 14 hours

	age := 13*time.Hour - time.Minute
	require.Equal(t, given{Status: 204}, ada.gives("/inspections/new", begin, nil, id, age))
	photos := map[string][]byte{"S1.photo": testPhoto(t), "S3.photo": testPhoto(t)}
	stopped := url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "saved": {"1"}, "S1": {"defect"}, "S1.note": {"guard loose"}, "S1.severity": {"stop"}, "S2": {"ok"}, "S2.number": {"4"}, "S3": {"ok"}, "S4": {"ok"}}
	require.Equal(t, given{Status: 204}, ada.gives(to+"/answers", stopped, photos, id, age))
	running := url.Values{"submission": {store.NewID()}, "state": {"running"}, "saved": {"2"}, "R1": {"not-checked"}, "R1.note": {"later"}, "R2": {"not-checked"}, "R2.note": {"later"}}
	require.Equal(t, given{Status: 204}, ada.gives(to+"/answers", running, nil, id, age))
	finish := url.Values{"submission": {store.NewID()}}
	for range 2 {
		told := ada.gives(to+"/finish", finish, nil, id, age)
		require.Equal(t, http.StatusConflict, told.Status)
		require.Contains(t, told.Said, "A later version of this list is in force")
		require.Equal(t, "/inspections/new?list=short", told.GoOn)
	}
	require.Equal(t, []checklists.HoldKind{checklists.HeldByFinding}, m.holdKinds("head-saw", to), "the stop holds, signed or not")

	ada.get(to+"?state=sign").says(t, `href="/inspections/new?list=short"`)
	again := ada.get("/inspections/new?list=short")
	again.says(t, `data-begins="/inspections/`)
	begun := ada.post("/inspections/new", url.Values{"submission": {again.submission()}, "list": {"short"}, "walk": {again.hidden("walk")}})
	require.Equal(t, 200, begun.Status, firstProblem(begun))
	begun.says(t, "guard loose")
	ada.get(to+"?state=stopped").says(t, "at the rim")
	require.Equal(t, []checklists.HoldKind{checklists.HeldByFinding}, m.holdKinds("head-saw", to), "begun anew it holds still")
	for _, state := range []url.Values{stopped, running} {
		state.Set("submission", store.NewID())
		state.Del("saved")
		files := photos
		if state.Get("state") == "running" {
			files = nil
		}
		taken := ada.postFiles(to+"/answers", state, files)
		require.Equal(t, 200, taken.Status, firstProblem(taken))
	}
	signed := ada.post(to+"/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["ada"]}})
	require.Equal(t, 200, signed.Status, firstProblem(signed))
	in, _, err := m.desk().Inspection(t.Context(), checklists.InspectionID(to[len("/inspections/"):]))
	require.NoError(t, err)
	require.Equal(t, 2, in.Version)
	require.Equal(t, []checklists.HoldKind{checklists.HeldByDefect}, m.holdKinds("head-saw", to))
}
