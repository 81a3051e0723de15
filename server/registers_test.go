package server

import (
	"bytes"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func TestRegisterPagesRenderEmptyAndFull(t *testing.T) {
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	frame := func() *views.Frame { return &views.Frame{Title: plain.Say("a title")} }
	when := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	crack := 2.5 * plain.Inch
	act := checklists.BladeAct{Work: checklists.BladeFiled, On: when, Crack: &crack, Who: "Ned <Firth>", Note: "swaged"}
	gap := []procedures.Gap{{Why: plain.Say("c"), Clause: "WAC"}}
	saw := bladeLine{BladeStanding: checklists.BladeStanding{Blade: checklists.Blade{Serial: "A-1", Marked: 700, Note: "n"}, Looked: &act}, State: plain.Say("s"), Against: gap, Heeds: gap}
	due := []checklists.SafetyDue{{Work: checklists.SafetyLook, Over: true}, {Work: checklists.SafetyLook, Over: true, Last: when, By: when}, {Work: checklists.SafetyEmptied, Last: when, By: when, Soon: true}, {Work: checklists.SafetyHydrostatic, Last: when, By: when}}
	wrong := &safetyCheckLine{SafetyCheck: checklists.SafetyCheck{Item: "x", On: when, Missing: []string{"Gauze"}, Note: "damp"}, By: "Ada"}
	kit := safetyLine{SafetyItem: checklists.SafetyItem{ID: "x", Kind: checklists.ExtinguisherKind, Place: "Stand", Size: "10 lb", Serial: "7", Made: when, Throw: true, Contents: []string{"Gauze"}, Retired: when}, Due: due, Over: due[:2], Soon: due[2:3], Wrong: wrong}
	row, _ := checklists.ExtinguisherType("dry-stored").Row()
	for _, tc := range []struct {
		name string
		page any
		says string
	}{
		{"blades", bladesPage{Frame: frame()}, "No saw is entered"},
		{"blades", bladesPage{Frame: frame(), Read: plain.Say("d"), Spindle: 600, Works: true, Saws: []bladeLine{saw}, Scrapped: []bladeLine{saw}, Cautions: sawCautions()}, "The spindle turns 600 rpm"},
		{"blade", bladePage{Frame: frame()}, "Nothing is entered yet."},
		{"blade", bladePage{Frame: frame(), bladeLine: saw, Works: true, Edit: true, Acts: []bladeActLine{{BladeAct: act, By: "Ada", Over: true}, {BladeAct: checklists.BladeAct{Work: checklists.BladeReturned, Marked: 650}, By: "Ada"}}}, "Ned &lt;Firth&gt;"},
		{"blade-edit", bladeEditPage{Frame: frame()}, "As on the saw itself."},
		{"safety", safetyPage{Frame: frame()}, "Nothing is entered yet."},
		{"safety", safetyPage{Frame: frame(), safetyLine: kit, Row: row, Works: true, Edit: true, History: []safetyCheckLine{*wrong, {SafetyCheck: checklists.SafetyCheck{Right: true, Who: "Firth Fire"}, By: "Ada"}}}, "Missing: Gauze."},
		{"safety-edit", safetyEditPage{Frame: frame(), New: true}, "Of a first-aid kit"},
		{"safety-edit", safetyEditPage{Frame: frame(), Form: safetyForm{Kind: "extinguisher"}}, "It is no longer there"},
		{"registers", registersPage{Frame: frame()}, "No saw is entered."},
		{"registers", registersPage{Frame: frame(), Edit: true, Saws: []bladeLine{saw}, Fitted: "A-1", Locks: 3, OffLock: 1, Groups: []safetyGroup{{Name: "kits", Lines: []safetyLine{kit}}, {Name: "none"}}, Gone: []safetyLine{kit}, Lapses: []personLapses{{Name: "Ada", Said: []plain.Sentence{plain.Say("e")}}}}, "Saw A-1 is reported fitted."},
		{"roles", rolesPage{Frame: frame()}, "People under 18"},
		{"roles", rolesPage{Frame: frame(), Settled: true, Minors: []plain.Sentence{plain.Say("f")}, Deeds: []deedLine{{What: plain.Say("g"), More: plain.Say("h"), Operator: true, Deputy: true, Supervisor: true, Reader: true, Visitor: true}, {}}}, "Also without signing in."},
		{"roles", rolesPage{Frame: frame(), Sign: true, Allowed: true}, "I take it back"},
		{"roles", rolesPage{Frame: frame(), Sign: true}, "I have read the law"},
		{"person", personPage{Frame: frame(), Lapses: []procedures.Lapse{{Said: plain.Say("k"), Over: true}}, On: []lockLine{{Number: "7", Device: "Disconnect"}, {Number: "8"}}}, "Locks of theirs reported on"},
	} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, tc.name, tc.page), tc.name)
		require.Contains(t, out.String(), tc.says, tc.name)
	}
}

// From the register to the head saw: entered, filed, fitted, cracked, held.
func TestSawIsFittedByTheRegisterAndACrackHoldsTheHeadSaw(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	form := with(ada.get("/blades/new").filled(t, "/blades/new"), "serial", "A-1", "diameter", "52", "gauge", "8", "marked", "590", "teeth", "40", "note", "from <Ned>", "pin", testSecrets["ada"])
	for field, value := range map[string]string{"serial": "", "diameter": "2", "marked": "fast", "teeth": "1", "gauge": "", "pin": "wrong"} {
		m.storesNothing(func() {
			reply := ada.post("/blades/new", with(form, field, value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
			reply.says(t, `href="#f-`+field+`"`)
			require.Equal(t, "from <Ned>", reply.filled(t, "/blades/new").Get("note"))
		})
	}
	reply := ada.post("/blades/new", form)
	at := reply.URL.Path
	require.Contains(t, at, "/blades/0", reply.Body)
	do := func(p *phone, pin string, pairs ...string) page {
		return p.post(at, with(with(p.get(at).filled(t, at), pairs...), "pin", pin))
	}
	m.storesNothing(func() { do(ada, testSecrets["ada"], "work", "filed").says(t, `href="#f-crack"`) })
	require.Equal(t, http.StatusOK, do(ada, testSecrets["ada"], "work", "filed", "crack", "0").Status)
	m.storesNothing(func() { do(ada, testSecrets["ada"], "work", "fitted").says(t, "WAC 296-78-575") })
	edit := at + "/edit"
	require.Equal(t, at, sam.post(edit, with(sam.get(edit).filled(t, edit), "marked", "700", "pin", testSecrets["sam"])).URL.Path)
	require.Equal(t, http.StatusOK, do(ada, testSecrets["ada"], "work", "fitted").Status)
	require.Contains(t, m.as("rita").get("/blades").title(), "A-1 is reported fitted")
	require.Equal(t, http.StatusOK, do(ada, testSecrets["ada"], "work", "looked", "crack", "2 1/2").Status)
	m.as("rita").get("/").says(t, "only a sawsmith mends it")
	m.as("rita").get("/").says(t, `href="`+at+`"`)
	m.as("rita").get("/registers").says(t, "Saw A-1 is reported fitted.")
}

func TestSafetyEquipmentIsDueUntilItIsLookedAt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	form := with(sam.get("/safety/new?kind=first-aid").filled(t, "/safety/new"), "place", "Office", "contents", "Tourniquet\nGauze\n", "pin", testSecrets["sam"])
	m.storesNothing(func() { sam.post("/safety/new", with(form, "contents", "")).says(t, `href="#f-contents"`) })
	reply := sam.post("/safety/new", form)
	at := reply.URL.Path
	require.Contains(t, reply.title(), "one thing")
	m.as("rita").get("/registers").says(t, "visual inspection: not entered")
	look := with(ada.get(at).filled(t, at), "right", "no", "missing", "Gauze", "pin", testSecrets["ada"])
	m.storesNothing(func() { ada.post(at, with(look, "right", "yes")).says(t, `href="#f-right"`) })
	require.Contains(t, ada.post(at, look).title(), "not right")
	m.as("rita").get("/registers").says(t, "Missing: Gauze.")
	require.Contains(t, ada.post(at, with(ada.get(at).filled(t, at), "right", "yes", "pin", testSecrets["ada"])).title(), "nothing is due")
	m.clock.Advance(32 * 24 * time.Hour)
	require.Contains(t, m.as("rita").get(at).title(), "overdue")
}

// What has ended has ended for whoever is signed in: the deputy's screens are
// gone, the hoist is not returned.
func TestDaysOfAPersonAreKeptAndEnd(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	at := "/people/" + string(m.people["bo"].ID)
	form := with(sam.get(at).filled(t, at), "deputy", "yes", "deputy_until", m.day(2), "qualified_lifting", "yes", "lifting_note", "rigger's <course>", "lifting_until", m.day(2), "pin", testSecrets["sam"])
	m.storesNothing(func() { sam.post(at, with(form, "lifting_until", "soon")).says(t, `href="#f-lifting_until"`) })
	require.Equal(t, "/people", sam.post(at, form).URL.Path)
	kept := sam.get(at).filled(t, at)
	require.Equal(t, m.day(2), kept.Get("lifting_until"))
	require.Equal(t, "rigger's <course>", kept.Get("lifting_note"))
	require.Equal(t, http.StatusOK, m.as("bo").get("/people/new").Status)
	sam.get(at).says(t, "Qualified for lifting gear only until")
	m.clock.Advance(48 * time.Hour)
	require.Equal(t, http.StatusForbidden, m.as("bo").get("/people/new").Status)
	sam = m.as("sam")
	sam.get(at).says(t, "No longer qualified for lifting gear")
	sam.get("/registers").says(t, "No longer deputy of the supervisor")
}

// 29 CFR 570.54: nobody under 18 is authorized, or goes through a list.
func TestWhoIsUnder18IsKeptFromTheMachines(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	at := "/people/" + string(m.people["bo"].ID)
	form := with(sam.get(at).filled(t, at), "minor", "yes", "minor_until", m.day(40), "pin", testSecrets["sam"])
	m.storesNothing(func() {
		reply := sam.post(at, form)
		reply.says(t, `href="#f-authorized"`)
		reply.says(t, "570.55")
	})
	require.Equal(t, "/people", sam.post(at, with(form, "authorized", "")).URL.Path)
	sam.get("/people").says(t, "under 18")
	require.NotContains(t, m.as("rita").get("/people").Body, "under 18")
	bo := m.as("bo")
	m.storesNothing(func() {
		reply := bo.post("/inspections/new", with(bo.get("/inspections/new?list=pre-shift").filled(t, "/inspections/new"), "pin", testSecrets["bo"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "570.54")
	})
	sam.get("/people/roles").says(t, "570.58")
	m.storesNothing(func() {
		sam.post("/people/roles", map[string][]string{"submission": {"01990000-0000-7000-8000-0000000000aa"}, "allowed": {"yes"}, "pin": {testSecrets["sam"]}}).says(t, "Nobody here can allow it")
	})
}
