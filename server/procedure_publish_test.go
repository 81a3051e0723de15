package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// publishing is the form of a draft's page of publishing.
func (m *testMill) publishing(p *phone, id string, said procedures.Renewal) url.Values {
	m.t.Helper()
	page := p.get("/procedures/" + id + "/publish")
	require.Equal(m.t, http.StatusOK, page.Status)
	form := url.Values{"submission": {page.submission()}, "revision": {hidden(page, "revision")}, "why": {said.Why}, "pin": {testSecrets["sam"]}}
	if said.Said {
		form.Set("substance", map[bool]string{true: "yes", false: "no"}[said.Substance])
	}
	return form
}

// hidden is the value of a hidden field.
func hidden(p page, name string) string {
	_, after, _ := strings.Cut(p.Body, `name="`+name+`" value="`)
	value, _, _ := strings.Cut(after, `"`)
	return value
}

func (m *testMill) published(p *phone, id string, said procedures.Renewal) page {
	m.t.Helper()
	return p.post("/procedures/"+id+"/publish", m.publishing(p, id, said))
}

// reworded keeps a draft in which only words differ; changed one in which a
// step is gone that no rule asks for.
func (m *testMill) reworded(p *phone, id string) {
	m.t.Helper()
	form := m.edited(p, id)
	form.Set("scope", "In plain words: "+form.Get("scope"))
	require.Equal(m.t, http.StatusOK, p.post("/procedures/"+id+"/edit", form).Status)
}

func (m *testMill) changed(p *phone, id string) {
	m.t.Helper()
	form := m.edited(p, id)
	form.Set("step.new2", "Ring the bell twice.")
	form.Set("proof.new2", "tick")
	form.Set("clause.new2", "29 CFR 1910.147(c)(9)")
	require.Equal(m.t, http.StatusOK, p.post("/procedures/"+id+"/edit", form).Status)
}

func (m *testMill) beginsBy(who, id string) page {
	m.t.Helper()
	p := m.as(who)
	return p.post("/lockouts/new", url.Values{"submission": {store.NewID()}, "procedure": {id}, "task": {"look at it"}, "hours": {"2"}, "pin": {testSecrets[who]}})
}

// 29 CFR 1910.147(c)(7)(iii)(A): retraining whenever there is a change that
// presents a new hazard or in the procedures.
func TestChangeOfWordsUntrainsNobodyAndOneOfSubstanceDoes(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	m.reworded(sam, "hoist")
	sam.get("/procedures/hoist/publish").says(t, "Only words, a first photo or the mark in one: nobody trains again for it")
	reply := m.published(sam, "hoist", procedures.Renewal{Said: true, Why: "Easier to read."})
	require.Equal(t, "Hoist: procedure, version 2 in force", reply.title(), reply.Body)
	reply.says(t, "only words changed")
	require.NotContains(t, reply.Body, "To be trained before they lock out by it")
	begun := m.beginsBy("ada", "hoist")
	require.Equal(t, http.StatusOK, begun.Status, begun.Body)
	require.True(t, strings.HasPrefix(begun.URL.Path, "/lockouts/"), begun.URL.Path)
	require.NotEqual(t, "/lockouts/new", begun.URL.Path)

	m.changed(sam, "carriage")
	page := sam.get("/procedures/carriage/publish")
	require.NotContains(t, page.Body, "nobody trains again", "not offered where it isn't so")
	page.says(t, "Ada Rook")
	page.says(t, "Bo Lind")
	page.says(t, "trained on version 1; version 2 will change what is done")
	require.NotContains(t, page.Body, "changed what is done", "it isn't published yet")
	reply = m.published(sam, "carriage", procedures.Renewal{Said: true, Substance: true, Why: "The bell is new."})
	require.Equal(t, "Carriage: procedure, version 2 in force", reply.title(), reply.Body)
	reply.says(t, "To be trained before they lock out by it")
	reply.says(t, "Ada Rook")
	m.storesNothing(func() {
		refused := m.beginsBy("ada", "carriage")
		require.Equal(t, http.StatusUnprocessableEntity, refused.Status, refused.Body)
		refused.says(t, "version 2 changed what is done")
	})
	said, err := m.desk().Renewal(t.Context(), "carriage", 2)
	require.NoError(t, err)
	require.Equal(t, procedures.Renewal{Said: true, Substance: true, Why: "The bell is new."}, said)
}

func TestChangeOfWhatIsDoneCantBeCalledWords(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	m.changed(sam, "hoist")
	for name, wrong := range map[string]struct {
		said procedures.Renewal
		says string
	}{
		"called words": {procedures.Renewal{Said: true, Why: "Only words <really>."}, "29 CFR 1910.147(c)(7)(iii)(A)"},
		"not said":     {procedures.Renewal{Why: "Only words <really>."}, `href="#f-substance"`},
		"no reason":    {procedures.Renewal{Said: true, Substance: true}, `href="#f-why"`},
	} {
		m.storesNothing(func() {
			reply := m.published(sam, "hoist", wrong.said)
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, name)
			reply.says(t, wrong.says, name)
			if wrong.said.Why != "" {
				reply.says(t, "Only words &lt;really&gt;.", name)
			}
		})
	}
	form := m.publishing(sam, "hoist", procedures.Renewal{Said: true, Substance: true, Why: "A bell."})
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, sam.post("/procedures/hoist/publish", with2(form, "pin", "wrong")).Status, "unsigned")
	})
	require.Equal(t, "Hoist: procedure, version 2 in force", sam.post("/procedures/hoist/publish", form).title())
	m.storesNothing(func() {
		require.Equal(t, "Hoist: procedure, version 2 in force", sam.post("/procedures/hoist/publish", form).title(), "sent twice, published once")
	})
}

// The page where many drafts are published at once asks no word on a change, so
// a next version isn't published there.
func TestNextVersionIsPublishedOnlyWithAWordOnTheChange(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	m.reworded(sam, "hoist")
	page := sam.get("/published")
	page.says(t, "/procedures/hoist/publish")
	require.NotContains(t, page.Body, `name="publish.procedure.hoist"`)
	m.storesNothing(func() {
		reply := sam.post("/published", url.Values{"submission": {page.submission()}, "publish.procedure.hoist": {"yes"}, "revision.procedure.hoist": {"1"}, "pin": {testSecrets["sam"]}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
	})
	require.Equal(t, 1, m.procedure("hoist").Version)
	require.Equal(t, http.StatusForbidden, m.as("ada").get("/procedures/hoist/publish").Status)
	require.Equal(t, "/procedures/carriage/edit", sam.get("/procedures/carriage/publish").URL.Path, "no draft, nothing to publish")
}

func TestVersionsAreShownSideBySide(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	m.changed(sam, "hoist")
	reply := m.as("ada").get("/procedures/hoist/compare")
	require.Equal(t, "Hoist: one difference, of substance", reply.title())
	reply.says(t, "Ring the bell twice.")
	reply.says(t, "of substance: what is done changes")
	m.published(sam, "hoist", procedures.Renewal{Said: true, Substance: true, Why: "The bell is new."})
	m.reworded(sam, "hoist")
	reply = m.as("rita").get("/procedures/hoist/compare")
	require.Equal(t, "Hoist: one difference, of wording", reply.title())
	reply = m.as("rita").get("/procedures/hoist/compare?from=1&to=2")
	reply.says(t, "Why: The bell is new.")
	require.Equal(t, "Hoist: no difference", m.as("rita").get("/procedures/hoist/compare?from=2&to=2").title())
	for _, none := range []string{"?from=7&to=1", "?from=x", "?from=-1"} {
		require.Equal(t, http.StatusNotFound, m.as("rita").get("/procedures/hoist/compare"+none).Status, none)
	}
	old := m.as("rita").get("/procedures/hoist?version=1")
	require.Equal(t, "Hoist: procedure, version 1, no longer in force", old.title())
	require.NotContains(t, old.Body, "Ring the bell twice.")
	require.NotContains(t, m.as("ada").get("/procedures/hoist?version=1").Body, "/lockouts/new?procedure", "nobody locks out by it")
	require.Equal(t, http.StatusNotFound, m.as("rita").get("/procedures/hoist?version=9").Status)
}
