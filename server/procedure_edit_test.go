package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// draftOf is the draft of a procedure as it is kept.
func (m *testMill) draftOf(id string) procedures.Procedure {
	m.t.Helper()
	draft, err := m.desk().Draft(m.t.Context(), store.Procedures, id)
	require.NoError(m.t, err)
	return documentOf[procedures.Procedure](m.t, draft.Doc)
}

func stageOf(p procedures.Procedure, stage procedures.Stage) []procedures.Step {
	var steps []procedures.Step
	for _, s := range p.Steps {
		if s.Stage == stage {
			steps = append(steps, s)
		}
	}
	return steps
}

func TestStepsAreAddedMovedChangedAndTakenOutAndNothingTypedIsLost(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	before := m.procedure("head-saw")
	form := m.edited(sam, "head-saw")
	form.Set("rules", "Our own rule.")
	form.Set("step.new7", "Prove the new belt slack.")
	form.Set("proof.new7", "block-in")
	form.Set("clause.new7", "29 CFR 1910.147(d)(6)")
	form.Set("recheck.new7", "60")
	form.Set("photo.new7", "yes")
	form.Set("do", "add.7")
	reply := sam.post("/procedures/head-saw/edit", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	draft := m.draftOf("head-saw")
	verify := stageOf(draft, procedures.Verify)
	require.Len(t, verify, len(stageOf(before, procedures.Verify))+1)
	added := verify[len(verify)-1]
	require.Equal(t, procedures.Step{ID: added.ID, Stage: procedures.Verify, Text: "Prove the new belt slack.", Proof: procedures.BlockIn, Clause: "29 CFR 1910.147(d)(6)", Recheck: time.Hour, AsksPhoto: true}, added)
	require.Equal(t, "Our own rule.", draft.Rules, "the button kept what else was typed")
	reply = sam.post("/procedures/head-saw/edit", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	require.Len(t, stageOf(m.draftOf("head-saw"), procedures.Verify), len(verify), "sent twice, added once")

	form = m.edited(sam, "head-saw")
	form.Set("do", "up."+string(added.ID))
	form.Set("scope", "Moved and scoped.")
	reply = sam.post("/procedures/head-saw/edit", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	moved := stageOf(m.draftOf("head-saw"), procedures.Verify)
	require.Equal(t, added.ID, moved[len(moved)-2].ID)
	require.Equal(t, "Moved and scoped.", m.draftOf("head-saw").Scope)

	form = m.edited(sam, "head-saw")
	require.Equal(t, "yes", form.Get("photo."+string(added.ID)))
	form.Del("photo." + string(added.ID))
	form.Set("wait."+string(added.ID), "45")
	reply = sam.post("/procedures/head-saw/edit", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	for _, s := range m.draftOf("head-saw").Steps {
		if s.ID == added.ID {
			require.Equal(t, 45*time.Second, s.Wait)
			require.False(t, s.AsksPhoto)
		}
	}
	form = m.edited(sam, "head-saw")
	form.Set("do", "drop."+string(added.ID))
	require.Equal(t, http.StatusOK, sam.post("/procedures/head-saw/edit", form).Status)
	require.Equal(t, before.Steps, m.draftOf("head-saw").Steps, "all else is as it was")
	require.Equal(t, 1, m.procedure("head-saw").Version)
}

func TestGapsOfADraftStandBesideItAndKeepItFromBeingPublished(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := m.edited(sam, "hoist")
	form.Set("purpose", "")
	form.Set("do", "publish")
	reply := sam.post("/procedures/hoist/edit", form)
	require.Equal(t, "Hoist: not ready to publish, missing: 1", reply.title())
	edit := sam.get("/procedures/hoist/edit")
	edit.says(t, `href="#f-purpose"`)
	edit.says(t, "Keeps it from being published: 1")
	m.storesNothing(func() {
		reply := sam.post("/procedures/hoist/publish", url.Values{"submission": {store.NewID()}, "revision": {hidden(edit, "revision")}, "substance": {"no"}, "why": {"why not"}, "pin": {testSecrets["sam"]}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
	})
}

func TestProcedureIsDraftedFromTheRegister(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	page := sam.get("/procedures/new?equipment=dust-collection")
	page.says(t, `name="at.dust-collection" value="yes" checked`)
	form := url.Values{"submission": {page.submission()}, "title": {"Dust, anew"}, "at.dust-collection": {"yes"}}
	reply := sam.post("/procedures/new", form)
	require.Equal(t, "Dust, anew: editing the draft", reply.title(), reply.Body)
	id := strings.Split(reply.URL.Path, "/")[2]
	draft := m.draftOf(id)
	require.Equal(t, []procedures.EquipmentID{"dust-collection"}, draft.Equipment)
	require.Zero(t, draft.Version)
	require.NotEmpty(t, draft.Steps)
	require.Equal(t, reply.URL.Path, sam.post("/procedures/new", form).URL.Path, "sent twice, one draft")
	require.NotEqual(t, reply.URL.Path, sam.post("/procedures/new", with2(form, "at.hoist", "yes")).URL.Path, "gone back to, another draft")
	for field, wrong := range map[string]url.Values{"title": with2(form, "title", " "), "equipment": with2(form, "at.dust-collection", "")} {
		reply := sam.post("/procedures/new", wrong)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
		reply.says(t, `href="#f-`+field+`"`, field)
	}
	require.Equal(t, http.StatusForbidden, m.as("ada").get("/procedures/new").Status)

	require.Empty(t, gapsIn(draft), "%v", gapsIn(draft))
	published := m.published(sam, id, procedures.Renewal{})
	require.Equal(t, "Dust, anew: procedure, version 1 in force", published.title(), published.Body)
}

func TestWrittenAnewFromTheRegisterKeepsNameAndTexts(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := m.edited(sam, "hoist")
	form.Set("rules", "Our own rule.")
	form.Set("do", "anew")
	require.Equal(t, http.StatusOK, sam.post("/procedures/hoist/edit", form).Status)
	draft := m.draftOf("hoist")
	plant, err := m.desk().Plant(t.Context())
	require.NoError(t, err)
	fresh, err := plant.DraftProcedure("hoist", "Hoist", "hoist")
	require.NoError(t, err)
	require.Equal(t, fresh.Steps, draft.Steps)
	require.Equal(t, "Our own rule.", draft.Rules)
	require.Equal(t, 1, m.procedure("hoist").Version)
}

func TestAStepMovesToAnotherStageAsItsLast(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	moving := stageOf(m.procedure("head-saw"), procedures.ShutDown)[0]
	require.Equal(t, procedures.ShutDown.Clause(), moving.Clause)
	form := m.edited(sam, "head-saw")
	require.Equal(t, "3", form.Get("stage."+string(moving.ID)))
	for _, none := range []string{"8", "0", "99", "first"} { // the work itself has no steps
		reply := sam.post("/procedures/head-saw/edit", with(form, "stage."+string(moving.ID), none))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status, none)
		reply.says(t, `id="f-stage.`+string(moving.ID)+`-want"`)
	}
	reply := sam.post("/procedures/head-saw/edit", with(form, "stage."+string(moving.ID), "4", "do", "step."+string(moving.ID)))
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	isolate := stageOf(m.draftOf("head-saw"), procedures.Isolate)
	last := isolate[len(isolate)-1]
	require.Equal(t, moving.ID, last.ID)
	require.Equal(t, procedures.Isolate.Clause(), last.Clause, "its clause was that of the stage")
	require.NotContains(t, stageOf(m.draftOf("head-saw"), procedures.ShutDown), moving)
}

func TestADraftIsDiscardedAndWhatIsInForceStays(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	require.NotContains(t, sam.get("/procedures/hoist/edit").Body, "/procedures/hoist/discard", "there is no draft yet")
	m.changed(sam, "hoist")
	at := "/procedures/hoist/discard"
	require.Equal(t, http.StatusForbidden, m.as("ada").post(at, url.Values{"revision": {"1"}}).Status)
	stale := sam.post(at, url.Values{"revision": {"7"}})
	require.Equal(t, http.StatusUnprocessableEntity, stale.Status)
	_, err := m.desk().Draft(t.Context(), store.Procedures, "hoist")
	require.NoError(t, err, "somebody wrote on meanwhile")
	form := sam.get("/procedures/hoist/edit").filled(t, at)
	for range 2 { // sent twice is done once
		reply := sam.post(at, form)
		require.Equal(t, http.StatusOK, reply.Status, reply.Body)
		require.Equal(t, "/procedures/hoist", reply.URL.Path)
	}
	_, err = m.desk().Draft(t.Context(), store.Procedures, "hoist")
	require.ErrorIs(t, err, store.ErrNotFound)
	require.Equal(t, 1, m.procedure("hoist").Version)
}
