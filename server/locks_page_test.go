package server

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// wroteProgram signs a program whose locks are red.
func (m *testMill) wroteProgram(affected ...procedures.Affected) {
	m.t.Helper()
	p := procedures.Program{Purpose: "Nobody is hurt.", Duty: "Everybody keeps to it.", InCharge: m.people["sam"].ID, Scope: "Every machine.", Enforcement: "Home for the day.",
		Law: procedures.LawUSFederal, LockColour: "red", TagStandard: "red card", Affected: affected}
	require.NoError(m.t, m.desk().KeepProgram(m.t.Context(), store.NewID(), p, m.people["sam"], m.clock.Now()))
}

func newLock(p *phone, pin string) url.Values {
	p.t.Helper()
	return with(p.get("/locks/new").filled(p.t, "/locks/new"), "number", "K-7", "pin", pin)
}

// 29 CFR 1910.147(c)(5)(ii): from the register to the machine.
func TestLockIsEnteredChangedRetiredAndItsNumberNeverUsedAgain(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.wroteProgram()
	sam := m.as("sam")
	form := with(newLock(sam, testSecrets["sam"]), "owner", string(m.people["bo"].ID))
	require.Equal(t, "red", form.Get("colour"), "as the program says")
	require.Equal(t, "/locks", sam.post("/locks/new", form).URL.Path)
	page := sam.get("/locks")
	page.says(t, "K-7")
	page.says(t, "A record is not a lock")
	m.storesNothing(func() {
		reply := sam.post("/locks/new", with(form, "submission", store.NewID(), "number", " k-7"))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "a number no lock has or had")
	})
	edit := "/locks/edit?number=K-7"
	mine, theirs := sam.get(edit).filled(t, edit), sam.get(edit).filled(t, edit)
	require.Equal(t, "/locks", sam.post(edit, with(theirs, "condition", "bad", "pin", testSecrets["sam"])).URL.Path)
	m.storesNothing(func() {
		sam.post(edit, with(mine, "colour", "red", "pin", testSecrets["sam"])).says(t, "Somebody changed this meanwhile")
	})
	sam.get("/locks").says(t, "isn&#39;t recorded as in good condition")
	require.Equal(t, "/locks", sam.post(edit, with(sam.get(edit).filled(t, edit), "retire", "yes", "pin", testSecrets["sam"])).URL.Path)
	sam.get("/locks").says(t, "their numbers aren&#39;t used again")
	m.storesNothing(func() {
		sam.post("/locks/new", with(form, "submission", store.NewID())).says(t, "a number no lock has or had")
		sam.post(edit, with(sam.get(edit).filled(t, edit), "retire", "", "pin", testSecrets["sam"])).says(t, "was retired")
	})
}

func TestLockFormNamesWhatIsWrongAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.wroteProgram()
	sam := m.as("sam")
	form := newLock(sam, testSecrets["sam"])
	for _, tc := range []struct{ field, value string }{
		{"number", ""}, {"kind", "cable tie"}, {"kind", "combination"}, {"colour", "blue"}, {"owner", string(m.people["rita"].ID)}, {"owner", ""}, {"condition", ""},
		{"issued", ""}, {"issued", m.day(1)}, {"issued", "then"}, {"pin", ""}, {"pin", "wrong"},
	} {
		m.storesNothing(func() {
			reply := sam.post("/locks/new", with(form, tc.field, tc.value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc.field+`"`, tc)
			reply.says(t, `id="f-`+tc.field, tc)
			if tc.field != "number" {
				require.Equal(t, "K-7", reply.filled(t, "/locks/new").Get("number"), "%v", tc)
			}
		})
	}
}

func TestCrewKeepsOwnLocksAndSeesNoOthers(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam, bo, rita := m.as("sam"), m.as("bo"), m.as("rita")
	require.Equal(t, "/locks", sam.post("/locks/new", newLock(sam, testSecrets["sam"])).URL.Path)
	require.NotContains(t, bo.get("/locks").Body, "K-7")
	require.Equal(t, http.StatusNotFound, bo.get("/locks/edit?number=K-7").Status)
	m.storesNothing(func() {
		require.Equal(t, http.StatusNotFound, bo.post("/locks/edit?number=K-7", url.Values{"pin": {testSecrets["bo"]}}).Status)
	})
	page := bo.get("/locks/new")
	require.NotContains(t, page.Body, `name="owner"`)
	form := with(newLock(bo, testSecrets["bo"]), "number", "B-1", "owner", string(m.people["ada"].ID))
	require.Equal(t, "/locks", bo.post("/locks/new", form).URL.Path)
	register, err := m.desk().Locks(t.Context())
	require.NoError(t, err)
	require.Len(t, register, 2)
	require.Equal(t, m.people["bo"].ID, register[0].Owner, "whatever is sent, it is the own")
	rita.get("/locks").says(t, "K-7")
	require.NotContains(t, rita.get("/locks").Body, "/locks/edit")
}

// (f)(2)(i): a firm's people wait until both sides have seen the other's procedures.
func TestFirmFromOutsideWaitsUntilProceduresAreExchanged(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	for _, tc := range []struct{ field, value string }{{"firm", ""}, {"ours_given", m.day(1)}, {"theirs_seen", "soon"}, {"pin", "wrong"}} {
		m.storesNothing(func() {
			form := with(sam.get("/contractors/new").filled(t, "/contractors/new"), "firm", "Tamarack Lane", "restrictions", "Keep <off> the main", "pin", testSecrets["sam"])
			reply := sam.post("/contractors/new", with(form, tc.field, tc.value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc.field+`"`, tc)
			require.Equal(t, "Keep <off> the main", reply.filled(t, "/contractors/new").Get("restrictions"))
		})
	}
	form := with(sam.get("/contractors/new").filled(t, "/contractors/new"), "firm", "Tamarack Lane", "pin", testSecrets["sam"])
	require.Equal(t, "/contractors", sam.post("/contractors/new", form).URL.Path)
	m.storesNothing(func() {
		sam.post("/contractors/new", with(form, "submission", store.NewID(), "firm", "tamarack lane ")).says(t, "a firm that isn&#39;t entered yet")
	})
	sam.get("/contractors").says(t, "Procedures not exchanged")

	bo := "/people/" + string(m.people["bo"].ID)
	require.Equal(t, "/people", sam.post(bo, with(sam.get(bo).filled(t, bo), "firm", "Tamarack Lane", "pin", testSecrets["sam"])).URL.Path)
	require.Equal(t, "Tamarack Lane", m.person("bo").Firm)
	worker := m.as("bo")
	m.storesNothing(func() {
		m.begins(worker, "hoist", testSecrets["bo"]).says(t, "1910.147(f)(2)(i)")
	})
	firms, err := m.desk().Contractors(t.Context())
	require.NoError(t, err)
	at := "/contractors/" + firms[0].ID
	mine, theirs := sam.get(at).filled(t, at), sam.get(at).filled(t, at)
	theirs["briefed"] = []string{string(m.people["ada"].ID), string(m.people["sam"].ID)}
	require.Equal(t, "/contractors", sam.post(at, with(theirs, "ours_given", m.day(0), "theirs_seen", m.day(-1), "pin", testSecrets["sam"])).URL.Path)
	m.storesNothing(func() {
		sam.post(at, with(mine, "restrictions", "none", "pin", testSecrets["sam"])).says(t, "Somebody changed this meanwhile")
	})
	page := m.as("rita").get("/contractors")
	page.says(t, "Ada Rook, Sam Ordway")
	require.NotContains(t, page.Body, "/contractors/new")
	require.Contains(t, m.begins(worker, "hoist", testSecrets["bo"]).URL.Path, "/lockouts/0")
}

func TestProgramIsTheSupervisorsAndSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	sam.get("/program").says(t, "isn&#39;t written yet")
	good := with(sam.get("/program/edit").filled(t, "/program/edit"), "purpose", "Nobody <is> hurt", "duty", "Everybody", "in_charge", string(m.people["sam"].ID), "scope", "All", "enforcement", "Home",
		"lock_colour", "red", "tag_standard", "red card", "pin", testSecrets["sam"])
	require.Equal(t, "us-federal", good.Get("law"), "as answered at set-up")
	good["affected.hoist"] = []string{string(m.people["ada"].ID), string(m.people["bo"].ID)}
	for field, value := range map[string]string{"purpose": "", "duty": "", "in_charge": string(m.people["rita"].ID), "scope": "", "enforcement": "", "law": "none", "lock_colour": "", "tag_standard": "", "pin": "wrong"} {
		m.storesNothing(func() {
			reply := sam.post("/program/edit", with(good, field, value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
			reply.says(t, `href="#f-`+field+`"`)
			kept := reply.filled(t, "/program/edit")
			require.Len(t, kept["affected.hoist"], 2, field)
			if field != "purpose" {
				require.Equal(t, "Nobody <is> hurt", kept.Get("purpose"), field)
			}
		})
	}
	mine := with(sam.get("/program/edit").filled(t, "/program/edit"), "purpose", "x", "pin", testSecrets["sam"])
	require.Equal(t, "/program", sam.post("/program/edit", good).URL.Path)
	m.storesNothing(func() {
		sam.post("/program/edit", with(mine, "purpose", "Other", "duty", "d", "in_charge", string(m.people["sam"].ID), "scope", "s", "enforcement", "e", "lock_colour", "red", "tag_standard", "t")).
			says(t, "Somebody changed this meanwhile")
	})
	page := m.as("bo").get("/program")
	page.says(t, "Nobody &lt;is&gt; hurt")
	page.says(t, "Ada Rook, Bo Lind")
	page.says(t, "Not written: only its owner takes a lock off")
	require.NotContains(t, page.Body, "/program/edit")
	deputy := m.deputize()
	m.storesNothing(func() {
		deputy.post("/program/edit", with(deputy.get("/program/edit").filled(t, "/program/edit"), "purpose", "Mine", "pin", testSecrets["bo"])).says(t, "a supervisor signs it")
	})
}

// A year on, the front page and the program say what is to be inspected,
// 29 CFR 1910.147(c)(6)(i).
func TestYearlyInspectionIsToldBeforeItIsLate(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	require.NotContains(t, m.as("sam").get("/").Body, "Procedures to inspect")
	m.clock.Advance(350 * 24 * time.Hour)
	sam := m.as("sam")
	sam.get("/").says(t, "due soon for its yearly inspection")
	sam.get("/program").says(t, "due soon for its yearly inspection")
	m.clock.Advance(30 * 24 * time.Hour)
	sam = m.as("sam")
	sam.get("/").says(t, "have it inspected at its next use")
	page := sam.get("/program")
	page.says(t, "have it inspected at its next use")
	page.says(t, "1910.147(c)(6)(i)")
	page.says(t, "procedures lack something")
}

// Nobody said what lock it is whose number was only put on.
func TestLockFirstSeenInALockoutIsOfNoKnownKind(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	m.atWork(ada)
	page := ada.get("/locks")
	page.says(t, "first seen in a lockout; not known")
	require.NotContains(t, page.Body, "keyed padlock")
	register, err := m.desk().Locks(t.Context())
	require.NoError(t, err)
	edit := "/locks/edit?number=" + url.QueryEscape(register[0].Number)
	form := with(ada.get(edit).filled(t, edit), "pin", testSecrets["ada"])
	require.NotContains(t, ada.get(edit).Body, ">Issued<")
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, ada.post(edit, form).Status, "what nobody said is not signed for by pressing a button")
	})
	require.Equal(t, "/locks", ada.post(edit, with(form, "kind", "keyed-padlock", "colour", "red", "only_here", "yes", "condition", "good")).URL.Path)
	ada.get("/locks").says(t, "keyed padlock")
}
