package server

import (
	"fmt"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/views"
)

func TestRecordIsSearchedAndWhatWasFoundIsMarked(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.stop("ada", "hoist", "chain <b>worn</b> near the hook")
	m.clock.Advance(24 * time.Hour)
	m.stop("bo", "head-saw", "splitter worn")
	reader := m.as("rita")
	look := func(query, more string) page { return reader.get("/record?q=" + url.QueryEscape(query) + more) }

	page := look("worn", "")
	page.says(t, "chain &lt;b&gt;<mark>worn</mark>&lt;/b&gt; near the hook")
	page.says(t, "splitter <mark>worn</mark>")
	page = look("worn rook", "")
	page.says(t, "Ada <mark>Rook</mark>")
	require.NotContains(t, page.Body, "splitter")
	for _, query := range []string{"worn 3 Mar 2026", "stopped hoist worn"} {
		page := look(query, "")
		require.Contains(t, page.Body, "near the hook", query)
		require.NotContains(t, page.Body, "splitter", query)
	}
	page = look("worn", "&equipment=head-saw")
	page.says(t, "splitter")
	page.says(t, `name="equipment" value="head-saw"`)
	require.NotContains(t, page.Body, "near the hook")

	look("worn unheard", "").says(t, "Nothing was found for: worn unheard")
	require.Equal(t, 422, look("–", "").Status)
	for i := range 55 {
		m.stop("ada", "carriage", fmt.Sprintf("slack cable %d", i))
	}
	page = look("slack", "")
	page.says(t, "q=slack")
	page.says(t, "cable 54")
	require.NotContains(t, page.Body, "cable 4<")
}

func TestWordsOfEntriesFromBeforeTheUpgradeComeInTheBackground(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	left, err := m.server.fillStep(t.Context())
	require.NoError(t, err)
	require.Zero(t, left, "a new mill has nothing to catch up with")
}

func TestEntryKeepsThePhonesClockBesideTheServers(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	stop := func(what string, phone time.Time) page {
		form := url.Values{"equipment": {"hoist"}, "what": {what}, "submission": {store.NewID()}, "pin": {testSecrets["ada"]}}
		if !phone.IsZero() {
			_, east := phone.Zone()
			form.Set("phone", fmt.Sprintf("%d %d", phone.UnixMilli(), east/60))
		}
		require.Equal(t, 200, ada.post("/stop-it", form).Status)
		return m.as("rita").get("/record/" + itoa(m.size()-1))
	}
	mill := time.FixedZone("", -5*3600)
	page := stop("behind", m.clock.Now().Add(-6*time.Minute).In(mill))
	page.says(t, "Tue 3 Mar 2026, 05:54:00 -05:00")
	page.says(t, "phone 6 min behind the server")
	m.as("rita").get("/record?kind=defect").says(t, "phone 6 min behind the server")
	stop("elsewhere", m.clock.Now().In(time.FixedZone("", -6*3600))).says(t, "phone set to the zone -06:00, the mill&#39;s was -05:00")
	stop("right", m.clock.Now().In(mill)).says(t, "agreed to within 2 min")
	stop("scripts off", time.Time{}).says(t, "The phone&#39;s clock is not known.")
}

func TestAmendmentShowsWhatItWasBesideWhatItBecame(t *testing.T) {
	was := checklists.Answer{Item: "C1", Result: checklists.NotChecked, Note: "in the dark", By: "a"}
	became := checklists.Answer{Item: "C1", Result: checklists.OK, By: "b"}
	p := signedPage{Frame: &views.Frame{}, list: checklists.List{ID: "l", Items: []checklists.Item{{ID: "C1", Prompt: "Dogs bite"}}}}
	given := map[checklists.ItemID]checklists.Answer{"C1": was}
	p.amend(amended{Amendment: checklists.Amendment{Signer: "b", Answers: []checklists.Answer{became}}}, map[procedures.PersonID]string{"a": "Ada", "b": "Bo"}, given)
	line := p.Amendments[0].Lines[0]
	require.Equal(t, "OK", line.Answer)
	require.Equal(t, "Not checked", line.Was.Answer)
	require.Equal(t, "in the dark", line.Was.Note)
	require.Equal(t, "Ada", line.Was.By)
	require.Equal(t, became, given["C1"])
}
