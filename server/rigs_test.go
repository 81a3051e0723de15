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
	m := newMill(t)
	r := testRig(m.clock.Now())
	r.HouseMargin, r.FloorAngle, r.HouseFloor = 0.75, 35, 50
	r.Links[5].ChokerLoad = 1500 * float64(plain.Pound)
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

func TestBadRigInputIsToldAtItsField(t *testing.T) {
	m := newMill(t)
	m.useRig(testRig(m.clock.Now()))
	sam := m.as("sam")
	form := formOn(sam.get("/rigs/main-hoist/edit"))
	for _, tc := range []struct{ field, typed string }{
		{"name", ""}, {"yoke-width", "-3"}, {"yoke-width", "900 ft"}, {"leg-length", "NaN"}, {"leg-length", "20 lb"}, {"floor-angle", "20"}, {"floor-angle", "1e9"},
		{"house-floor", "89"}, {"house-floor", "-5"}, {"house-margin", "140"}, {"band-low", "95"}, {"band-high", "10"}, {"hitch", "glue"},
		{"link-1-name", ""}, {"link-1-rated-load", "-1"}, {"link-1-rated-load", "Inf"}, {"link-2-rated-load", "9999999"}, {"link-2-own-mass", "3 ft"}, {"link-3-own-mass", "99999 kg"},
		{"link-6-choker-load", "x"}, {"link-6-grade", "90"}, {"link-6-size", "2 in"}, {"link-6-marked-for", "four-legs"}, {"link-4-kind", "rope"}, {"link-4-state", "fine"},
		{"link-5-inspected", "yesterday"}, {"link-5-due", "2026-13-40"}, {"link-7-tag", strings.Repeat("x", 300)},
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
