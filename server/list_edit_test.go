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
	"stillsaw/server/store"
)

const preShiftPublish = "/lists/pre-shift/publish"

func itemPage(id string) string { return "/lists/pre-shift/items/" + id }

// draftOf is the list's draft as it is kept.
func (m *testMill) draftList(id string) (checklists.List, int) {
	m.t.Helper()
	draft, err := m.desk().Draft(m.t.Context(), store.Lists, id)
	require.NoError(m.t, err)
	return documentOf[checklists.List](m.t, draft.Doc), draft.Revision
}

func (m *testMill) inForce(id string) checklists.List {
	m.t.Helper()
	p, err := m.desk().ListInForce(m.t.Context(), checklists.ListID(id), m.clock.Now())
	require.NoError(m.t, err)
	return documentOf[checklists.List](m.t, p.Doc)
}

// edits keeps one item of the pre-shift list with fields changed.
func edits(t *testing.T, p *phone, id string, pairs ...string) page {
	t.Helper()
	form := p.get(itemPage(id)).filled(t, itemPage(id))
	return p.post(itemPage(id), with(with(form, pairs...), "do", "save"))
}

// publishes signs the draft as its page shows it.
func publishes(t *testing.T, p *phone, pairs ...string) page {
	t.Helper()
	form := p.get(preShiftPublish).filled(t, preShiftPublish)
	return p.post(preShiftPublish, with(with(form, "pin", testSecrets["sam"]), pairs...))
}

func TestAStarterListIsReadEditedAndPublished(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	require.Contains(t, p.get(preShiftEdit).title(), "a draft to read and publish")
	start, _ := m.draftList("pre-shift")
	first := string(start.Items[0].ID)
	reply := edits(t, p, first, "prompt", "Our own words")
	require.Equal(t, preShiftEdit, reply.URL.Path, reply.Body)
	reply.says(t, "Saved by Sam Ordway")
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, publishes(t, p, "pin", "wrong").Status)
	})
	reply = publishes(t, p)
	require.Equal(t, "/lists/pre-shift", reply.URL.Path, firstProblem(reply))
	l := m.inForce("pre-shift")
	require.Equal(t, 1, l.Version)
	require.Equal(t, "Our own words", l.Items[0].Prompt)
	reading := m.as("ada").get("/lists/pre-shift")
	require.Contains(t, reading.title(), "in force, version 1")
	reading.says(t, "Our own words")
	require.Equal(t, http.StatusNotFound, p.get("/lists/pre-shift?version=7").Status)
	require.Equal(t, http.StatusOK, p.get("/lists/pre-shift?version=1").Status)
}

func TestTheFormOfAnItemGivesTheItemBack(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	before, _ := m.draftList("pre-shift")
	low, high := 2.0, 5.5
	before.Items = append(before.Items,
		checklists.Item{ID: "Q1", Station: "Yard", Equipment: "site", Prompt: "Which wood", How: "Look.", State: checklists.Stopped, Kind: checklists.Choice, Options: []string{"oak", "pine"}, Severity: checklists.Mend, Source: "common practice, no source", Repeat: checklists.Repeat{Per: checklists.PerHook, Count: 3}},
		checklists.Item{ID: "Q2", Station: "Yard", Equipment: "site", Prompt: "Hours", How: "Read.", State: checklists.Stopped, Kind: checklists.MeterReading, Meter: "engine", Limits: checklists.Limits{Unit: "h", Most: mostTyped}, Severity: checklists.Mend, Source: "common practice, no source", When: checklists.Condition{Item: "Q1", Choice: "oak"}},
		checklists.Item{ID: "Q3", Station: "Yard", Equipment: "site", Prompt: "Who", How: "Ask.", State: checklists.Stopped, Kind: checklists.Somebody, Qualified: checklists.ForLifting, Severity: checklists.Mend, Source: "common practice, no source", When: checklists.Condition{Item: "Q2", From: &low, To: &high}})
	d, err := store.DraftOf(store.Lists, "pre-shift", before.Title, before)
	require.NoError(t, err)
	d.Revision = 1
	require.NoError(t, m.desk().KeepList(t.Context(), d, 0, m.people["sam"], m.clock.Now()))
	for _, item := range append(before.Items[len(before.Items)-6:], before.Items[:6]...) {
		require.Equal(t, http.StatusOK, edits(t, p, string(item.ID)).Status, item.ID)
	}
	after, _ := m.draftList("pre-shift")
	require.Equal(t, before, after)
	digest, err := before.Digest()
	require.NoError(t, err)
	exported := p.get("/lists/pre-shift/export?version=draft")
	l, err := checklists.Import([]byte(exported.Body))
	require.NoError(t, err)
	again, err := l.Digest()
	require.NoError(t, err)
	require.Equal(t, digest, again, "what is exported is imported again as the same")

	m.storesNothing(func() {
		reply := p.post("/lists/import", url.Values{"text": {strings.Replace(exported.Body, "items:", "itmes:", 1)}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "itmes:")
		reply.says(t, "line ")
		_, revision := m.draftList("pre-shift")
		require.Equal(t, 2, revision, "nothing of a file that can't be read is taken")
	})
	asJSON := p.get("/lists/pre-shift/export?version=draft&format=json")
	require.Contains(t, p.post("/lists/import", url.Values{"text": {asJSON.Body}}).Body, "Keep", "a draft that stands is not overwritten by a file")
	renamed := strings.Replace(exported.Body, "id: pre-shift", "id: our-own", 1)
	reply := p.postFiles("/lists/import", url.Values{}, map[string][]byte{"file": []byte(renamed)})
	require.Equal(t, "/lists/our-own/edit", reply.URL.Path, firstProblem(reply))
	require.Equal(t, http.StatusOK, m.phone().get("/lists/schema.json").Status, "the form of the file is published to everybody")
}

func TestTheEditorsButtonsDoWhatTheySay(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	list := func() checklists.List { l, _ := m.draftList("pre-shift"); return l }
	press := func(pairs ...string) page {
		t.Helper()
		reply := p.post(preShiftEdit, with(p.get(preShiftEdit).filled(t, preShiftEdit), pairs...))
		require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
		return reply
	}
	start := list()
	sections := start.Sections()
	saw, _ := start.Item("S3")
	walked := func() (ids []string) { // two that stand beside each other as one walks
		for _, item := range checklists.Walked(list().Items) {
			if item.State == saw.State && item.Station == saw.Station && len(ids) < 2 {
				ids = append(ids, string(item.ID))
			}
		}
		return ids
	}
	a, b := walked()[0], walked()[1]
	press("do", "down."+a)
	require.Equal(t, []string{b, a}, walked())
	press("do", "up."+a)
	require.Equal(t, []string{a, b}, walked())
	press("do", "move."+b, "before", a)
	require.Equal(t, []string{b, a}, walked(), "as a drag sends it")
	press("do", "copy."+a)
	require.Len(t, list().Items, len(start.Items)+1)
	press("do", "remove.N1")
	press("do", "fit."+a)
	fitted, _ := list().Item(checklists.ItemID(a))
	was, _ := start.Item(checklists.ItemID(a))
	require.NotEqual(t, was.NotFitted, fitted.NotFitted)
	press("do", "section-rename.0", "rename.0", "Under the saw")
	require.Equal(t, "Under the saw", list().Sections()[0].Name)
	press("do", "section-split."+a, "split."+a, "Behind the saw")
	require.Len(t, list().Sections(), len(sections)+1)
	press("do", "section-add", "section", "Office", "section-equipment", "site")
	last := list().Items[len(list().Items)-1]
	require.Equal(t, "Office", last.Station)
	press("do", "add.0")
	press("do", "head", "title", "Morning walk", "schedule", "days", "schedule.days", "3")
	require.Equal(t, "Morning walk", list().Title)
	require.Equal(t, 3, list().Schedule.Days)
	press("do", "head", "schedule", "event", "on.jam", "yes", "schedule.grace", "2", "schedule.people", string(m.people["ada"].ID), "schedule.role", "supervisor")
	due := list().Schedule
	require.Equal(t, checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam}, Days: 3, Grace: 2, Holds: due.Holds, HoldsLate: due.HoldsLate,
		People: []procedures.PersonID{m.people["ada"].ID}, Role: procedures.Supervisor}, due)
	press("do", "head")
	require.Equal(t, due, list().Schedule, "who is expected stays ticked on the page")
	press("do", "head", "schedule", "hours", "schedule.hours", "250.5", "schedule.meter", "engine")
	require.Equal(t, 250.5, list().Schedule.Hours)
	reply := p.post(preShiftEdit, with(p.get(preShiftEdit).filled(t, preShiftEdit), "do", "section-add", "section", ""))
	require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
	m.storesNothing(func() {
		gaps := p.get(preShiftPublish)
		require.Contains(t, gaps.title(), "not ready to publish")
		gaps.says(t, itemPage(string(last.ID)))
	})
	m.storesNothing(func() {
		preview := p.get("/lists/pre-shift/preview?state=stopped")
		require.Equal(t, http.StatusOK, preview.Status)
		preview.says(t, "Nothing you tick here is kept.")
		require.NotContains(t, preview.Body, `name="next"`)
		walks, err := m.desk().Walks(t.Context())
		require.NoError(t, err)
		require.Empty(t, walks)
	})
}

func TestADiscardedDraftLeavesWhatIsInForceAndWhatIsTypedElsewhere(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.as("sam")
	const discard = "/lists/pre-shift/discard"
	require.NotContains(t, p.get(preShiftEdit).Body, discard, "there is no draft yet")
	before := m.inForce("pre-shift")
	require.Equal(t, http.StatusOK, edits(t, p, "S3", "prompt", "Their words").Status)
	mine := p.get(itemPage("S3")).filled(t, itemPage("S3"))
	stale := p.get(preShiftEdit).filled(t, discard)
	require.Equal(t, http.StatusOK, edits(t, p, "S4", "prompt", "Written since").Status)
	require.Equal(t, http.StatusUnprocessableEntity, p.post(discard, stale).Status, "what was written since is not thrown away unread")
	form := p.get(preShiftEdit).filled(t, discard)
	require.Equal(t, http.StatusForbidden, m.as("ada").post(discard, form).Status)
	reply := p.post(discard, form)
	require.Equal(t, "/lists", reply.URL.Path, firstProblem(reply))
	reply.says(t, "The draft is gone")
	_, err := m.desk().Draft(t.Context(), store.Lists, "pre-shift")
	require.ErrorIs(t, err, store.ErrNotFound)
	require.Equal(t, before, m.inForce("pre-shift"))
	require.Equal(t, http.StatusOK, p.post(discard, form).Status, "sent twice")

	require.Equal(t, http.StatusOK, edits(t, p, "S3", "prompt", "A draft begun anew").Status)
	reply = p.post(itemPage("S3"), with(mine, "prompt", "My words", "do", "save"))
	require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "a form of the discarded draft is not taken for one of this")
	reply.says(t, "My words")
	reply.says(t, "A draft begun anew")
	require.Equal(t, "/lists", p.post(discard, p.get(preShiftEdit).filled(t, discard)).URL.Path)
	reply = p.post(itemPage("S3"), with(mine, "prompt", "My words", "do", "save"))
	reply.says(t, "The draft was discarded while you were writing")
	kept := p.post("/lists/pre-shift/merge", with(reply.filled(t, "/lists/pre-shift/merge"), "take.S3", "mine"))
	require.Equal(t, http.StatusOK, kept.Status, firstProblem(kept))
	l, _ := m.draftList("pre-shift")
	item, _ := l.Item("S3")
	require.Equal(t, "My words", item.Prompt)
}

func TestAnItemNamesBadInputAtItsFieldAndLosesNothing(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	_, before := m.draftList("pre-shift")
	form := p.get(itemPage("S3")).filled(t, itemPage("S3"))
	require.Equal(t, "number", form.Get("kind"))
	for field, bad := range map[string][]string{
		"prompt": {"", strings.Repeat("x", 400)}, "severity": {"shrug"}, "state": {"flying"}, "kind": {"song"}, "equipment": {"nothing"}, "limits.unit": {""},
		"limits.low": {"-3", "NaN", "1e99", "many"}, "limits.high": {"x", "99999999"}, "limits.stop_at": {"y"}, "repeat.count": {"-1", "two"},
	} {
		for _, value := range bad {
			reply := p.post(itemPage("S3"), with(form, "repeat", "hook", field, value, "how", "with a <gauge>", "do", "check"))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%s %q", field, value)
			reply.says(t, `href="#f-`+field+`"`, field, value)
			reply.says(t, "with a &lt;gauge&gt;", field)
			if field != "severity" && field != "state" && field != "kind" && field != "equipment" {
				require.Equal(t, value, reply.filled(t, itemPage("S3")).Get(field))
			}
		}
	}
	look := p.post(itemPage("S3"), with(form, "prompt", "Look only", "do", ""))
	require.Equal(t, http.StatusOK, look.Status)
	look.says(t, "S3 · Look only")
	_, after := m.draftList("pre-shift")
	require.Equal(t, before, after)
	kept := p.postFiles(itemPage("S3"), with(form, "do", "save"), map[string][]byte{"new_picture": picture(t, 60, 40)})
	require.Equal(t, http.StatusOK, kept.Status, firstProblem(kept))
	l, _ := m.draftList("pre-shift")
	item, _ := l.Item("S3")
	require.Len(t, item.Picture, 64)
	p.get("/lists/pre-shift/preview?state="+string(item.State)).says(t, "/photos/"+item.Picture)
}

func TestTwoPeopleOnOneDraftAreToldAndNothingTypedIsLost(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	mine := p.get(itemPage("S3")).filled(t, itemPage("S3"))
	other := p.get(itemPage("S4")).filled(t, itemPage("S4"))
	require.Equal(t, http.StatusOK, edits(t, p, "S3", "prompt", "Their words").Status)
	reply := p.post(itemPage("S3"), with(mine, "prompt", "My words", "do", "save"))
	require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
	reply.says(t, "Sam Ordway saved this draft while you were writing")
	reply.says(t, "Their words")
	reply.says(t, "My words")
	l, revision := m.draftList("pre-shift")
	item, _ := l.Item("S3")
	require.Equal(t, "Their words", item.Prompt)

	merge := reply.filled(t, "/lists/pre-shift/merge")
	require.Empty(t, merge.Get("take.S3"), "what both changed is chosen by a person")
	asked := p.post("/lists/pre-shift/merge", merge)
	require.Equal(t, http.StatusUnprocessableEntity, asked.Status)
	require.Equal(t, http.StatusOK, p.post("/lists/pre-shift/merge", with(merge, "take.S3", "mine")).Status)
	l, after := m.draftList("pre-shift")
	item, _ = l.Item("S3")
	require.Equal(t, "My words", item.Prompt)
	require.Equal(t, revision+1, after)

	reply = p.post(itemPage("S4"), with(other, "prompt", "Other words", "do", "save"))
	merge = reply.filled(t, "/lists/pre-shift/merge")
	require.Equal(t, "theirs", merge.Get("take.S3"))
	require.Equal(t, "mine", merge.Get("take.S4"), "what only one changed stays as that one left it")
	require.Equal(t, http.StatusOK, p.post("/lists/pre-shift/merge", merge).Status)
	l, _ = m.draftList("pre-shift")
	item, _ = l.Item("S4")
	require.Equal(t, "Other words", item.Prompt)

	stale := p.get(preShiftPublish).filled(t, preShiftPublish)
	edits(t, p, "S4", "prompt", "Changed again")
	m.storesNothing(func() {
		reply := p.post(preShiftPublish, with(stale, "pin", testSecrets["sam"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "what was not read is not signed")
		reply.says(t, "after you had opened this page")
	})
}

func TestAnInspectionKeepsItsVersionAndALaterOneComesByItself(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.as("sam")
	require.Contains(t, p.get(preShiftEdit).title(), "no draft yet")
	_, err := m.desk().Draft(t.Context(), store.Lists, "pre-shift")
	require.ErrorIs(t, err, store.ErrNotFound, "looking makes no draft")
	under := m.walk("ada")
	before := under.list
	item, known := before.Item("S3")
	require.True(t, known)
	require.NotNil(t, item.Limits.High)
	edits(t, p, "S3", "limits.high", numeral(*item.Limits.High*2))
	p.get("/lists/pre-shift/compare").says(t, "highest")
	m.storesNothing(func() {
		reply := publishes(t, p)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-reasons.S3"`, "a stop of a rule is loosened only with a reason")
		reply.says(t, "Inspections under way: 1")
	})
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, publishes(t, p, "reasons.S3", "the maker's book allows it", "when", "later", "from", "2026-03-01T09:00").Status, "a time that is past")
	})
	reply := publishes(t, p, "reasons.S3", "the maker's book allows it", "when", "later", "from", "2026-03-03T09:30")
	require.Equal(t, "/lists/pre-shift/versions", reply.URL.Path, firstProblem(reply))
	reply.says(t, "comes into force")
	reply.says(t, "the maker&#39;s book allows it")
	require.Equal(t, 1, m.inForce("pre-shift").Version)
	require.Contains(t, p.get("/lists/pre-shift").title(), "in force, version 1")
	bo := m.walk("bo")
	require.Equal(t, 1, mustWalk(t, m, bo).Version)

	m.clock.Advance(4 * time.Hour) // half past nine of the mill's clock is over
	require.Equal(t, 2, m.inForce("pre-shift").Version)
	require.Equal(t, 1, mustWalk(t, m, under).Version, "an inspection under way keeps its version")
	sam := m.walk("sam")
	require.Equal(t, 2, mustWalk(t, m, sam).Version, "the next takes the one in force at its start")

	anew := p.get(preShiftPublish + "?version=1")
	require.Contains(t, anew.title(), "publish version 1 once more")
	reply = p.post(preShiftPublish, with(anew.filled(t, preShiftPublish), "pin", testSecrets["sam"]))
	require.Equal(t, "/lists/pre-shift", reply.URL.Path, firstProblem(reply))
	l := m.inForce("pre-shift")
	require.Equal(t, 3, l.Version)
	require.Equal(t, 1, l.Repeats)
	back, _ := l.Item("S3")
	require.Equal(t, item.Limits.High, back.Limits.High)
}

func mustWalk(t *testing.T, m *testMill, w *walker) checklists.List {
	t.Helper()
	walk, err := m.desk().Walk(t.Context(), w.inspection())
	require.NoError(t, err)
	return walk.List
}

// A list of every new kind is walked without scripts: what is repeated stands
// under one heading, and what depends on an answer is asked once it is given.
func TestWalkAsksEveryKindRepeatedAndOnCondition(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	item := func(id, prompt string, kind checklists.AnswerKind) checklists.Item {
		return checklists.Item{ID: checklists.ItemID(id), Station: "Yard", Equipment: "site", Prompt: prompt, How: "Look.", State: checklists.Stopped, Kind: kind, Severity: checklists.Mend, Source: "common practice, no source"}
	}
	wood, hooks, hours, who, shot := item("K1", "Which wood", checklists.Choice), item("K2", "Hook points sharp", checklists.Choice), item("K3", "Engine hours", checklists.MeterReading), item("K4", "Who drove it", checklists.Somebody), item("K5", "Tag of the chain", checklists.Photo)
	wood.Options = []string{"oak", "pine"}
	hooks.Repeat = checklists.Repeat{Per: checklists.PerHook}
	hooks.When = checklists.Condition{Item: "K1", Choice: "oak"}
	hours.Meter, hours.Limits = "engine", checklists.Limits{Unit: "h", Most: 1e6}
	l := checklists.List{ID: "kinds", Title: "Kinds", Schedule: checklists.Schedule{Every: checklists.EachWeek}, Items: []checklists.Item{wood, hooks, hours, who, shot}}
	d, err := store.DraftOf(store.Lists, "kinds", l.Title, l)
	require.NoError(t, err)
	require.NoError(t, m.desk().ReleaseList(t.Context(), store.NewID(), store.Release{Draft: d}, m.people["sam"], m.clock.Now()))
	p := m.as("ada")
	begun := p.post("/inspections/new", url.Values{"submission": {store.NewID()}, "list": {"kinds"}})
	at := begun.URL.Path
	require.NotContains(t, begun.Body, `data-ask id="f-K2`, "asked only once its condition is met")
	begun.says(t, `<template data-asks="K2#1" data-when="K1 choice=oak">`, "and kept for a phone without contact")
	begun.says(t, "What the meter shows")
	begun.says(t, "Bo Lind")
	form := url.Values{"state": {"stopped"}, "next": {"sign"}, "K1.text": {"oak"}, "K3.number": {"1204.5"}, "K4": {"ok"}, "K4.person": {string(m.people["bo"].ID)}, "K5": {"ok"}}
	reply := p.postFiles(at+"/answers", form, map[string][]byte{"K5.photo": picture(t, 40, 30)})
	require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
	reply.says(t, "An answer here asks for more")
	reply.says(t, "K2 · Hook points sharp")
	reply.says(t, "hook 2", "under one heading")
	unsigned := p.post(at+"/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusUnprocessableEntity, unsigned.Status)
	form.Set("K2#1", "ok")
	form.Set("K2#2", "defect")
	form.Set("K2#2.note", "blunt")
	form.Set("K2#2.severity", "stop")
	reply = p.post(at+"/answers", form)
	require.Equal(t, http.StatusOK, reply.Status, firstProblem(reply))
	signed := p.post(at+"/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusOK, signed.Status, firstProblem(signed))
	signed.says(t, "Hook points sharp (hook 2)")
	signed.says(t, "1,204.5 h")
	signed.says(t, "Bo Lind")
	again := p.post("/inspections/new", url.Values{"submission": {store.NewID()}, "list": {"kinds"}})
	behind := p.post(again.URL.Path+"/answers", url.Values{"state": {"stopped"}, "K3.number": {"1100"}})
	require.Equal(t, http.StatusUnprocessableEntity, behind.Status, "a meter does not run backwards")
	behind.says(t, `href="#f-K3.number"`)
}
