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

const inspectHoist = "/procedures/hoist/inspections/new"

// inspects is the form, filled in by Sam as a careful inspector would.
func (m *testMill) inspects(p *phone) url.Values {
	m.t.Helper()
	form := with(p.get(inspectHoist).filled(m.t, inspectHoist), "watched", "none", "shown_by", string(m.people["ada"].ID), "pin", testSecrets["sam"])
	for _, who := range []string{"ada", "bo"} {
		form.Set("reviewed."+string(m.people[who].ID), reviewedThen)
	}
	return form
}

// The certificate holds the four contents of 29 CFR 1910.147(c)(6)(ii) and the
// version, and nothing changes it.
func TestInspectionOfAProcedureIsCertifiedForGood(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := m.inspects(sam)
	form.Set("reviewed."+string(m.people["bo"].ID), reviewedAway)
	form.Set("reviewed."+string(m.people["bo"].ID)+".day", m.day(3))
	for field, value := range map[string]string{"said": "Chain bag <full>", "kind": "hardware", "owner": string(m.people["ada"].ID), "due": m.day(5)} {
		form.Set("findings.2."+field, value) // the first is left empty
	}
	reply := sam.post(inspectHoist, form)
	require.True(t, strings.HasPrefix(reply.URL.Path, "/procedure-inspections/"), reply.Body)
	at := reply.URL.Path
	_, paper, _ := strings.Cut(reply.Body, `class="card certificate"`)
	paper, _, _ = strings.Cut(paper, "</section>")
	for _, text := range []string{"Hoist", "version 1", "Tue 3 Mar 2026", "Ada Rook, Tue 3 Mar 2026", "Sam Ordway"} {
		require.Contains(t, paper, text)
	}
	require.NotContains(t, paper, "Bo Lind", "who was away was not included")
	reply.says(t, "Bo Lind, Fri 6 Mar 2026")
	reply.says(t, "Chain bag &lt;full&gt;")
	before := reply.Body[strings.Index(reply.Body, "<dl"):strings.Index(reply.Body, "<h2>What was found")]
	for _, method := range []string{"", "/edit", "/amend"} {
		m.storesNothing(func() {
			status := sam.post(at+method, form).Status
			require.True(t, status == http.StatusNotFound || status == http.StatusMethodNotAllowed, "%s: %d", method, status)
		})
	}
	sam.get("/program").says(t, "Chain bag &lt;full&gt;")

	m.storesNothing(func() {
		bo := m.as("bo")
		require.NotContains(t, bo.get(at).Body, "?finding=")
		bo.post(at+"/findings", url.Values{"submission": {store.NewID()}, "finding": {"0"}, "note": {"done"}, "pin": {testSecrets["bo"]}}).says(t, "reports it seen to")
	})
	ada := m.as("ada")
	report := with(ada.get(at+"?finding=0").filled(t, at+"/findings"), "note", "Emptied", "pin", testSecrets["ada"])
	for field, value := range map[string]string{"note": "", "pin": "wrong"} {
		m.storesNothing(func() {
			reply := ada.post(at+"/findings", with(report, field, value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
			reply.says(t, `href="#f-`+field+`"`)
		})
	}
	reply = ada.post(at+"/findings", report)
	require.Equal(t, at, reply.URL.Path, reply.Body)
	reply.says(t, "Emptied")
	after := reply.Body[strings.Index(reply.Body, "<dl"):strings.Index(reply.Body, "<h2>What was found")]
	require.Equal(t, before, after, "the certificate stays as it was")
	require.NotContains(t, sam.get("/program").Body, "Chain bag")
	m.as("rita").get(at).says(t, "Emptied")
}

// (c)(6)(i)(A): an authorized person other than the ones using it.
func TestParticipantInspectsNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	begun := m.begins(ada, "hoist", testSecrets["ada"])
	id := strings.TrimPrefix(begun.URL.Path, "/lockouts/")
	require.NotContains(t, sam.get(inspectHoist).Body, `value="`+id+`"`, "nothing of it was proven at zero yet")
	m.storesNothing(func() {
		reply := sam.post(inspectHoist, with(m.inspects(sam), "watched", id))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "that came to a proof at zero")
	})
	lockout{m, procedures.LockoutID(id)}.to(ada, procedures.Work)
	require.Contains(t, sam.get(inspectHoist).Body, `value="`+id+`"`)
	form := with(ada.get(inspectHoist).filled(t, inspectHoist), "watched", id, "inspector", inspectedByMe, "pin", testSecrets["ada"])
	for _, who := range []string{"sam", "bo"} {
		form.Set("reviewed."+string(m.people[who].ID), reviewedThen)
	}
	m.storesNothing(func() {
		reply := ada.post(inspectHoist, form)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "can&#39;t be the one who inspects it")
		reply.says(t, "Another authorized person does")
	})
	reply := sam.post(inspectHoist, with(m.inspects(sam), "watched", id))
	require.True(t, strings.HasPrefix(reply.URL.Path, "/procedure-inspections/"), reply.Body)
	reply.says(t, begun.URL.Path)
}

// A crew of one can't inspect itself: the page says to bring somebody.
func TestOneAloneBringsAnInspectorFromOutside(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for _, who := range []string{"ada", "bo"} {
		p := m.people[who]
		p.Authorized = false
		require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), p, "", m.people["sam"], m.clock.Now()))
	}
	sam := m.as("sam")
	page := sam.get(inspectHoist)
	page.says(t, "bring one in from outside")
	form := with(page.filled(t, inspectHoist), "watched", "none", "shown_by", string(m.people["sam"].ID), "pin", testSecrets["sam"])
	require.Equal(t, inspectedByOutside, form.Get("inspector"))
	form.Set("reviewed."+string(m.people["sam"].ID), reviewedThen)
	m.storesNothing(func() {
		reply := sam.post(inspectHoist, form)
		reply.says(t, `href="#f-outside"`)
		reply.says(t, `href="#f-firm"`)
		sam.post(inspectHoist, with(form, "inspector", inspectedByMe)).says(t, "only user can&#39;t inspect it")
	})
	reply := sam.post(inspectHoist, with(form, "outside", "Wren Abbot", "firm", "Sill Brook Mill"))
	require.True(t, strings.HasPrefix(reply.URL.Path, "/procedure-inspections/"), reply.Body)
	reply.says(t, "Wren Abbot, Sill Brook Mill")
}

func TestInspectionNamesWhatIsWrongAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := m.inspects(sam)
	bo := string(m.people["bo"].ID)
	for field, value := range map[string]string{"said": "Left <early>", "kind": "deviation", "person": bo, "owner": bo, "due": m.day(2)} {
		form.Set("findings.1."+field, value)
	}
	for _, tc := range []struct{ field, value, at string }{
		{"on", "", "on"}, {"on", m.day(1), "on"}, {"on", "once", "on"}, {"equipment", "", "equipment"}, {"equipment", "carriage", "equipment"}, {"watched", "", "watched"}, {"inspector", "", "inspector"},
		{"shown_by", "", "shown_by"}, {"shown_by", string(m.people["sam"].ID), "shown_by"},
		{"reviewed." + bo, "", "reviewed." + bo}, {"reviewed." + bo, reviewedOther, "reviewed." + bo},
		{"findings.1.said", "", "findings.1.said"}, {"findings.1.kind", "", "findings.1.kind"}, {"findings.1.person", "", "findings.1.person"}, {"findings.1.owner", "", "findings.1.owner"},
		{"findings.1.due", "", "findings.1.due"}, {"findings.1.due", m.day(-2), "findings.1.due"}, {"pin", "", "pin"}, {"pin", "wrong", "pin"},
	} {
		m.storesNothing(func() {
			reply := sam.post(inspectHoist, with(form, tc.field, tc.value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc.at+`"`, tc)
			reply.says(t, `id="f-`+tc.at, tc)
			if tc.at != "findings.1.said" {
				require.Equal(t, "Left <early>", reply.filled(t, inspectHoist).Get("findings.1.said"), "%v", tc)
			}
		})
	}
	reply := sam.post(inspectHoist, form)
	require.True(t, strings.HasPrefix(reply.URL.Path, "/procedure-inspections/"), reply.Body)
	m.storesNothing(func() {
		m.begins(m.as("bo"), "hoist", testSecrets["bo"]).says(t, "and no training since: Left &lt;early&gt;")
	})
	reply.says(t, trainForAsWritten(procedures.AuthorizedLevel, m.people["bo"].ID))
}

// trainForAsWritten is the address as it stands in a page.
func trainForAsWritten(level procedures.Level, who procedures.PersonID) string {
	return strings.ReplaceAll(trainFor(level, who, "hoist"), "&", "&amp;")
}
