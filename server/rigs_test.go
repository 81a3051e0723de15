package server

import (
	"encoding/json"
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

var (
	inputTags  = regexp.MustCompile(`<input [^>]*>`)
	selects    = regexp.MustCompile(`(?s)<select [^>]*name="([^"]+)".*?</select>`)
	selectedIs = regexp.MustCompile(`<option value="([^"]*)" selected>`)
	nameIs     = regexp.MustCompile(` name="([^"]*)"`)
	valueIs    = regexp.MustCompile(` value="([^"]*)"`)
)

// formOn is what a browser would send of the forms of a page as it stands.
func formOn(p page) url.Values {
	form := url.Values{}
	for _, input := range inputTags.FindAllString(p.Body, -1) {
		name, value := nameIs.FindStringSubmatch(input), valueIs.FindStringSubmatch(input)
		if name == nil || value == nil || strings.Contains(input, `type="password"`) {
			continue
		}
		if (strings.Contains(input, `type="radio"`) || strings.Contains(input, `type="checkbox"`)) && !strings.Contains(input, " checked") {
			continue
		}
		form.Set(name[1], html.UnescapeString(value[1]))
	}
	for _, list := range selects.FindAllStringSubmatch(p.Body, -1) {
		if picked := selectedIs.FindStringSubmatch(list[0]); picked != nil {
			form.Set(list[1], html.UnescapeString(picked[1]))
		}
	}
	return form
}

func (m *testMill) rigInForce() (lift.Rig, store.Publication) {
	m.t.Helper()
	r, p, err := m.desk().Rig(m.t.Context(), "main-hoist", 0)
	require.NoError(m.t, err)
	return r, p
}

func TestRigPageSaysWhatForbidsEveryLift(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	starter := m.as("ada").get("/rigs/main-hoist")
	starter.says(t, `class="badge no-go"`)
	starter.says(t, "no lift may be made with it")
	m.useRig(testRig(m.clock.Now()))
	full := m.as("ada").get("/rigs/main-hoist")
	assert.NotContains(t, full.Body, `class="badge no-go"`)
	full.says(t, "2,000 lb, one leg; chain 3/8 in, Grade 80")
	full.says(t, `href="/stop-it"`)
	assert.NotContains(t, full.Body, "/rigs/main-hoist/edit")
	assert.Equal(t, 404, m.as("ada").get("/rigs/none").Status)
	assert.Equal(t, 403, m.as("ada").get("/rigs/main-hoist/edit").Status)
	m.storesNothing(func() { assert.Equal(t, 403, m.as("rita").post("/rigs/main-hoist/edit", url.Values{}).Status) })
	assert.Equal(t, 404, m.as("sam").get("/rigs/none/edit").Status)
}

// A rig shown for editing and published without a touch is the same rig.
func TestRigComesThroughItsFormUnchanged(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := testRig(m.clock.Now())
	r.HouseMargin, r.FloorAngle, r.HouseFloor = 0.75, 35, 50
	r.Links[5].ChokerLoad = 1500 * float64(plain.Pound)
	const in = float64(plain.Inch)
	r.SecondLeg, r.Headroom, r.HookToYoke, r.Clearance = 32*in, 130*in, 16*in, 10*in
	r.Settings = []lift.Setting{{Name: "2nd hole", YokeWidth: 48 * in, LegLength: 28 * in}, {Name: "third hole", YokeWidth: r.YokeWidth, LegLength: r.LegLength, SecondLeg: 32 * in}}
	zone, err := m.mill.Location()
	require.NoError(t, err)
	for i := range r.Links { // days, as the form has them
		r.Links[i].Inspected = time.Date(2026, 2, 3, 0, 0, 0, 0, zone)
		r.Links[i].InspectionDue = time.Date(2027, 2, 3, 23, 59, 59, 0, zone)
	}
	m.useRig(r)
	sam := m.as("sam")
	form := formOn(sam.get("/rigs/main-hoist/edit"))
	form.Set("pin", testSecrets["sam"])
	reply := sam.post("/rigs/main-hoist/edit", form)
	require.Equal(t, "/rigs/main-hoist", reply.URL.Path, firstProblem(reply))
	now, published := m.rigInForce()
	require.Equal(t, 3, published.Version)
	assert.InDelta(t, r.YokeWidth, now.YokeWidth, 1e-9)
	assert.InDelta(t, r.LegLength, now.LegLength, 1e-9)
	now.YokeWidth, now.LegLength = r.YokeWidth, r.LegLength
	for _, one := range []struct{ want, got *float64 }{{&r.SecondLeg, &now.SecondLeg}, {&r.Headroom, &now.Headroom}, {&r.HookToYoke, &now.HookToYoke}, {&r.Clearance, &now.Clearance},
		{&r.Settings[0].YokeWidth, &now.Settings[0].YokeWidth}, {&r.Settings[0].LegLength, &now.Settings[0].LegLength},
		{&r.Settings[1].YokeWidth, &now.Settings[1].YokeWidth}, {&r.Settings[1].LegLength, &now.Settings[1].LegLength}, {&r.Settings[1].SecondLeg, &now.Settings[1].SecondLeg}} {
		assert.InDelta(t, *one.want, *one.got, 1e-9)
		*one.got = *one.want
	}
	for i := range r.Links {
		assert.InDelta(t, r.Links[i].RatedLoad, now.Links[i].RatedLoad, 1e-6)
		assert.InDelta(t, r.Links[i].OwnMass, now.Links[i].OwnMass, 1e-6)
		assert.InDelta(t, r.Links[i].ChokerLoad, now.Links[i].ChokerLoad, 1e-6)
		assert.True(t, r.Links[i].Inspected.Equal(now.Links[i].Inspected))
		assert.True(t, r.Links[i].InspectionDue.Equal(now.Links[i].InspectionDue), "due to the end of its day")
		l := &now.Links[i]
		l.RatedLoad, l.OwnMass, l.ChokerLoad = r.Links[i].RatedLoad, r.Links[i].OwnMass, r.Links[i].ChokerLoad
		l.Inspected, l.InspectionDue = r.Links[i].Inspected, r.Links[i].InspectionDue
	}
	assert.Equal(t, r, now)
}

func TestRigDraftIsKeptAndPublishedOnce(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.useRig(testRig(m.clock.Now()))
	sam := m.as("sam")
	form := typing(formOn(sam.get("/rigs/main-hoist/edit")), "do", "save", "setting", "fourth hole")
	m.storesNothing(func() {
		saved := sam.post("/rigs/main-hoist/edit", form)
		saved.says(t, "not in force until you publish it")
		saved.says(t, `value="fourth hole"`)
		stale := sam.post("/rigs/main-hoist/edit", typing(form, "setting", "fifth hole"))
		assert.Equal(t, 422, stale.Status, "somebody saved meanwhile")
		stale.says(t, `value="fifth hole"`)
		r, _ := m.rigInForce()
		assert.Equal(t, "third hole", r.Setting)
	})
	form = formOn(sam.get("/rigs/main-hoist/edit"))
	m.storesNothing(func() {
		unsigned := sam.post("/rigs/main-hoist/edit", typing(form, "leg-length", "31 in"))
		assert.Equal(t, 422, unsigned.Status)
		assert.Contains(t, unsigned.Body, `href="#f-pin"`)
		unsigned.says(t, `value="31 in"`)
	})
	before := m.size()
	for range 2 { // the answer was lost on the way
		reply := sam.post("/rigs/main-hoist/edit", typing(form, "pin", testSecrets["sam"]))
		assert.Equal(t, "/rigs/main-hoist", reply.URL.Path, firstProblem(reply))
	}
	r, published := m.rigInForce()
	assert.Equal(t, "fourth hole", r.Setting)
	assert.InDelta(t, 31*float64(plain.Inch), r.LegLength, 1e-12)
	assert.Equal(t, 3, published.Version)
	assert.Equal(t, before+1, m.size())
	_, err := m.desk().Draft(t.Context(), store.Rigs, "main-hoist")
	assert.ErrorIs(t, err, store.ErrNotFound)

	old := sam.post("/rigs/main-hoist/edit", typing(form, "pin", testSecrets["sam"], "submission", store.NewID(), "revision", "0"))
	assert.Equal(t, 422, old.Status, "made from a version no longer in force")
}

func TestPartsAreAddedMovedAndRemovedWithoutScripts(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	names := func(p page) []string {
		form, found := formOn(p), []string{}
		for i := range whole(form.Get("links")) {
			found = append(found, form.Get(linkField(i, "name")))
		}
		return found
	}
	m.storesNothing(func() {
		p := sam.get("/rigs/main-hoist/edit")
		first := names(p)
		require.Len(t, first, 7)
		p = sam.post("/rigs/main-hoist/edit", typing(formOn(p), "do", "add"))
		p = sam.post("/rigs/main-hoist/edit", typing(formOn(p), "link-8-name", "Shackle", "link-8-kind", "fitting", "do", "up-8"))
		p = sam.post("/rigs/main-hoist/edit", typing(formOn(p), "do", "down-1"))
		p = sam.post("/rigs/main-hoist/edit", typing(formOn(p), "do", "remove-3"))
		assert.Equal(t, 200, p.Status)
		assert.Equal(t, []string{first[1], first[0], first[3], first[4], first[5], "Shackle", first[6]}, names(p))
		form := formOn(p)
		assert.Equal(t, "fitting", form.Get("link-6-kind"))
		assert.NotEmpty(t, form.Get("link-6-id"))
		same := sam.post("/rigs/main-hoist/edit", typing(formOn(p), "do", "up-1"))
		assert.Equal(t, names(p), names(same), "the first can't go up")
	})
}

func TestSettingsAreAddedRemovedAndTakenForThePresentWithoutScripts(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.useRig(testRig(m.clock.Now()))
	sam := m.as("sam")
	at := "/rigs/main-hoist/edit"
	form := formOn(sam.post(at, typing(formOn(sam.get(at)), "do", "add-setting")))
	typing(form, "setting-1-name", "1st hole", "setting-1-yoke-width", "50 in", "setting-1-leg-length", "28 in")
	form = formOn(sam.post(at, typing(form, "do", "add-setting")))
	form = formOn(sam.post(at, typing(form, "do", "add-setting")))
	require.Equal(t, "3", form.Get("settings"))
	typing(form, "setting-3-name", "2nd hole", "setting-3-yoke-width", "54 in", "setting-3-leg-length", "29 in", "setting-3-second-leg", "31 in")
	form = formOn(sam.post(at, typing(form, "do", "remove-setting-2")))
	require.Equal(t, "2nd hole", form.Get("setting-2-name"))
	reply := sam.post(at, typing(form, "do", "set-to-2"))
	reply.says(t, "2nd hole: the present one")
	form = formOn(reply)
	require.Equal(t, []string{"2nd hole", "54 in", "29 in", "31 in"}, []string{form.Get("setting"), form.Get("yoke-width"), form.Get("leg-length"), form.Get("second-leg")})
	form.Del("do")
	wrong := sam.post(at, typing(form, "yoke-width", "60 in", "headroom", "11 ft", "hook-to-yoke", "16 in", "pin", testSecrets["sam"]))
	require.Equal(t, 422, wrong.Status)
	require.Contains(t, wrong.Body, `href="#f-yoke-width"`, "another width than the setting's")
	require.Equal(t, "/rigs/main-hoist", sam.post(at, typing(form, "yoke-width", "", "pin", testSecrets["sam"])).URL.Path)
	r, _ := m.rigInForce()
	assert.InDelta(t, 54*float64(plain.Inch), r.YokeWidth, 1e-9, "left empty it is the setting's")
	assert.Len(t, r.Settings, 2)
	shown := m.as("rita").get("/rigs/main-hoist")
	shown.says(t, "1st hole: yoke 4 ft 2 in, legs 28 in")
	shown.says(t, "(the present one)")
	shown.says(t, "11 ft from the hoist hook at its highest")
	many := typing(formOn(sam.get(at)), "settings", "999999999", "do", "save")
	require.Equal(t, 422, sam.post(at, many).Status)
}

// OSHA, Guidance on Safe Sling Use, Table 1: Grade 80, 3/8 in, 7,100 lb in one
// leg, 12,300 lb in two at 60°.
func TestRatedLoadComesFromTheTableAndGoesOnlyDownward(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.useRig(testRig(m.clock.Now()))
	sam := m.as("sam")
	at := "/rigs/main-hoist/edit"
	page := sam.get(at)
	page.says(t, "Table 1 has 7,100 lb for such a chain so marked")
	form := typing(formOn(page), "link-6-marked-for", "two-legs-60", "link-6-rated-load", "", "pin", testSecrets["sam"])
	var filled url.Values
	m.storesNothing(func() {
		reply := sam.post(at, form)
		require.Equal(t, 422, reply.Status, "nobody signs for a figure not yet seen")
		require.Contains(t, reply.Body, `href="#f-link-6-rated-load"`)
		reply.says(t, "now filled in from OSHA, Guidance on Safe Sling Use, Table 1")
		filled = formOn(reply)
		require.Equal(t, "12300", filled.Get("link-6-rated-load"))
		reply = sam.post(at, typing(form, "link-6-rated-load", "12400"))
		require.Equal(t, 422, reply.Status)
		reply.says(t, "at most 12,300 lb")
	})
	require.Equal(t, "/rigs/main-hoist", sam.post(at, typing(filled, "pin", testSecrets["sam"])).URL.Path)
	r, _ := m.rigInForce()
	assert.InDelta(t, 12300*float64(plain.Pound), r.Links[5].RatedLoad, 1e-6)
	m.as("rita").get("/rigs/main-hoist").says(t, "Table 1: 12,300 lb for such a chain so marked")

	saved := sam.post(at, typing(formOn(sam.get(at)), "link-6-marked-for", "two-legs-45", "link-6-rated-load", "", "do", "save"))
	require.Equal(t, "10000", formOn(saved).Get("link-6-rated-load"), "saved it is seen at once")
	less := typing(formOn(saved), "link-6-rated-load", "3000", "pin", testSecrets["sam"])
	require.Equal(t, "/rigs/main-hoist", sam.post(at, less).URL.Path)
	r, _ = m.rigInForce()
	assert.InDelta(t, 3000*float64(plain.Pound), r.Links[5].RatedLoad, 1e-6)
}

func TestBadRigInputIsToldAtItsField(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	marked := testRig(m.clock.Now())
	marked.Settings = []lift.Setting{{Name: "2nd hole", YokeWidth: 1.2, LegLength: 0.7}}
	m.useRig(marked)
	sam := m.as("sam")
	form := formOn(sam.get("/rigs/main-hoist/edit"))
	for _, tc := range []struct{ field, typed string }{
		{"name", ""}, {"yoke-width", "-3"}, {"yoke-width", "900 ft"}, {"leg-length", "NaN"}, {"leg-length", "20 lb"}, {"floor-angle", "20"}, {"floor-angle", "1e9"},
		{"house-floor", "89"}, {"house-floor", "-5"}, {"house-margin", "140"}, {"band-low", "95"}, {"band-high", "10"}, {"hitch", "glue"},
		{"link-1-name", ""}, {"link-1-rated-load", "-1"}, {"link-1-rated-load", "Inf"}, {"link-2-rated-load", "9999999"}, {"link-2-own-mass", "3 ft"}, {"link-3-own-mass", "99999 kg"},
		{"link-6-choker-load", "x"}, {"link-6-grade", "90"}, {"link-6-size", "2 in"}, {"link-6-marked-for", "four-legs"}, {"link-4-kind", "rope"}, {"link-4-state", "fine"},
		{"second-leg", "-1"}, {"headroom", "400 ft"}, {"hook-to-yoke", "x"}, {"clearance", "NaN"}, {"setting-1-name", ""}, {"setting-1-yoke-width", "-1"}, {"setting-1-leg-length", ""}, {"setting-1-second-leg", "2 lb"},
		{"link-6-rated-load", "7200 lb"}, {"link-5-inspected", "yesterday"}, {"link-5-due", "2026-13-40"}, {"link-7-tag", strings.Repeat("x", 300)},
	} {
		sent := url.Values{}
		for field, values := range form {
			sent[field] = values
		}
		for _, do := range []string{"save", ""} {
			m.storesNothing(func() {
				reply := sam.post("/rigs/main-hoist/edit", typing(sent, tc.field, tc.typed, "do", do, "pin", testSecrets["sam"]))
				require.Equal(t, 422, reply.Status, "%s=%q", tc.field, tc.typed)
				assert.Contains(t, reply.Body, `href="#f-`+tc.field+`"`)
				assert.Contains(t, reply.Body, `id="f-`+tc.field+`"`)
				assert.Equal(t, form.Get("link-5-tag"), formOn(reply).Get("link-5-tag"))
			})
		}
		_, err := m.desk().Draft(t.Context(), store.Rigs, "main-hoist")
		require.ErrorIs(t, err, store.ErrNotFound, "%s=%q", tc.field, tc.typed)
	}
	many := url.Values{}
	for field, values := range form {
		many[field] = values
	}
	m.storesNothing(func() {
		reply := sam.post("/rigs/main-hoist/edit", typing(many, "links", "999999999", "do", "save"))
		assert.Equal(t, 422, reply.Status)
	})
}

// What a kept lift looks like in the record may not change: it is read back for
// years. A new form is a new version beside this one.
func TestKeptLiftComesBackAsItWasJudged(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	l := domainCant(t, m)
	l.Rig.Links[4].RatedLoad = 0 // a ratio without a limit
	l.Questions.Free = lift.Unanswered
	l.Rig.Setting, l.Rig.Links[2].Tag, l.Rig.EndHookBand.Source = "by W. Quist", "read by W. Quist", "statement of W. Quist"
	l.Rig.EndHookBand.Low, l.Rig.EndHookBand.High = 10, 20 // so that a finding is by the band
	l.Holds = []plain.Sentence{plain.Say("%s is held. %s", "Hoist", plain.Say("locks reported on: %d, since %s", 2, m.clock.Now()))}
	j := judged{Lift: l, Verdict: lift.Check(l)}
	ask, texts, err := j.ask()
	require.NoError(t, err)
	kept, err := j.keep()
	require.NoError(t, err)
	assert.False(t, kept.Go)
	assert.NotContains(t, string(kept.Verdict), "locks reported on", "a person's words stand apart")
	assert.NotContains(t, string(ask)+string(kept.Verdict), "Quist", "and so do those on the rig")
	assert.Equal(t, "by W. Quist", l.Rig.Setting, "what is judged is left as it is")
	back, err := readLift(store.Lift{Asked: ask, Verdict: kept.Verdict, Holds: kept.Holds, RigTexts: texts})
	require.NoError(t, err)
	assert.Equal(t, j.Verdict, back.Verdict)
	want, now := l, back.Lift
	want.Holds = nil
	assert.Equal(t, want, now)
	again, err := back.keep()
	require.NoError(t, err)
	assert.JSONEq(t, string(kept.Verdict), string(again.Verdict))

	withheld, err := readLift(store.Lift{Asked: ask, Verdict: kept.Verdict})
	require.NoError(t, err)
	assert.Contains(t, withheld.Verdict.Findings[0].Said.String()+withheld.Verdict.Findings[1].Said.String()+withheld.Verdict.Findings[2].Said.String(), "withheld")

	var names map[string]any
	require.NoError(t, json.Unmarshal(ask, &names))
	var piece, rig []string
	for name := range names["piece"].(map[string]any) {
		piece = append(piece, name)
	}
	for name := range names["rig"].(map[string]any) {
		rig = append(rig, name)
	}
	assert.ElementsMatch(t, strings.Fields("Shape Length Small Large Middle Slabs Width Height Volume OverBark Bark Species Fallback HeartKnown HeartShare Condition Moisture Density Extra Balance Reading"), piece)
	assert.ElementsMatch(t, strings.Fields("ID Name Links Hitch YokeWidth Setting LegLength FloorAngle HouseFloor EndHookBand HouseMargin"), rig)
	_, err = readLift(store.Lift{Asked: []byte(`{"version":2}`), Verdict: kept.Verdict})
	assert.Error(t, err)
}
