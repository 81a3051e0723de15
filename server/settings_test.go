package server

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

func choose(p *phone, pairs ...string) page {
	form := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return p.post("/settings", form)
}

func TestSettingsHoldForThePersonOnEveryPhoneAndForNobodyElse(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, other, bo := m.as("ada"), m.as("ada"), m.as("bo")
	m.storesNothing(func() {
		reply := choose(ada, "language", "es", "units", "metric", "mark", "comma", "scheme", "sun", "size", "large")
		require.Equal(t, http.StatusOK, reply.Status)
		reply.says(t, `<html lang="es" data-scheme="sun" data-size="large">`)
	})
	other.get("/").says(t, `<html lang="es" data-scheme="sun" data-size="large">`)
	other.get("/lifts/new").says(t, `name="typed-in" value="metric comma"`)
	bo.get("/").says(t, `<html lang="en">`)
	bo.get("/lifts/new").says(t, `name="typed-in" value="inch-pound point"`)
	choose(other, "language", "xx", "units", "cubit", "mark", "dot", "scheme", "neon", "size", "huge").says(t, `<html lang="en">`)
	ada.get("/").says(t, `<html lang="en">`)
}

// What can be chosen has a style: light is what stands without a choice.
func TestEverySchemeAndSizeThatCanBeChosenHasItsStyle(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	style, err := m.server.assets.Text("style.css")
	require.NoError(t, err)
	page := m.as("ada").get("/settings").Body
	chosen := regexp.MustCompile(`name="(scheme|size)" value="([a-z]+)"`).FindAllStringSubmatch(page, -1)
	require.GreaterOrEqual(t, len(chosen), 4)
	for _, one := range chosen {
		if one[2] != "light" {
			require.Contains(t, string(style), "[data-"+one[1]+"="+one[2]+"]")
		}
	}
}

func TestSettingsBeforeSigningInStayOnThePhone(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.phone()
	p.get("/sign-in").says(t, `<button name="language" value="fr" lang="fr">Français</button>`)
	reply := p.post("/settings/language", url.Values{"language": {"fr"}, "back": {"/sign-in?back=%2Flifts"}})
	require.Equal(t, "/sign-in?back=%2Flifts", reply.URL.RequestURI())
	reply.says(t, `<html lang="fr">`)
	choose(p, "language", "fr", "scheme", "dark").says(t, `<html lang="fr" data-scheme="dark">`)
	m.phone().get("/sign-in").says(t, `<html lang="en">`)
	require.Equal(t, "/", p.post("/settings/language", url.Values{"language": {"es"}, "back": {"//elsewhere.example"}}).URL.Path)

	// Whoever signs in there has settings of their own, once they chose any.
	p.post("/sign-in", url.Values{"person": {string(m.people["ada"].ID)}, "pin": {testSecrets["ada"]}})
	p.get("/").says(t, `<html lang="es" data-scheme="dark">`)
	choose(p, "language", "en").says(t, `<html lang="en">`)
}

// Filled in under inches, sent after the person went over to millimetres on
// another phone: it is read, and shown again, in the inches it was typed in.
func TestFormIsReadInTheUnitsItWasFilledInUnder(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.rigOut()
	ada := m.as("ada")
	ada.get("/lifts/new").says(t, `value="inch-pound point"`)
	form := redOakCant()
	form.Set("typed-in", "inch-pound point")
	form.Set("length", "92.5")
	inches := ada.post("/lifts/new", form)
	require.Contains(t, answerOf(inches), " lb")
	choose(m.as("ada"), "units", "metric", "mark", "comma")
	again := ada.post("/lifts/new", form)
	require.Equal(t, answerOf(inches), answerOf(again))
	require.Contains(t, again.Body, `value="inch-pound point"`)
	form.Set("typed-in", "metric comma")
	form.Set("length", "1.204")
	ambiguous := ada.post("/lifts/new", form)
	require.Equal(t, http.StatusUnprocessableEntity, ambiguous.Status)
	ambiguous.says(t, "1.204 can be read in two ways")
	form.Set("length", "2349,5")
	metric := ada.post("/lifts/new", form)
	require.NotContains(t, metric.Body, "two ways")
	require.Contains(t, metric.Body, `value="metric comma"`)
}

// answerOf is the part of the page of a lift that says what may be done.
func answerOf(p page) string {
	_, answer, _ := strings.Cut(p.Body, `id="answer"`)
	answer, _, _ = strings.Cut(answer, "</section>")
	return answer
}

// A rig shown with commas and sent back as it was shown is the same rig.
func TestNumbersFilledInByTheProgramAreReadBackAsTheyWere(t *testing.T) {
	t.Parallel()
	rig := lift.StarterRig()
	rig.LegLength, rig.YokeWidth = 17.375*0.0254, 1.204
	for _, in := range []measures{{units: "inch-pound"}, {units: "inch-pound", comma: true}, {units: "metric"}, {units: "metric", comma: true}} {
		form := rigFormOf(rig, in, nil)
		require.Equal(t, in.comma, strings.Contains(form.LegLength, ","), form.LegLength)
		r := newReader(in)
		require.InDelta(t, rig.LegLength, r.optional("leg-length", form.LegLength), 1e-5)
		require.InDelta(t, rig.YokeWidth, r.optional("yoke-width", form.YokeWidth), 1e-5)
		require.Empty(t, r.problems)
	}
}

func TestSettingsSaidByNobodyAreTheBrowsersAndTheMills(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	_, chose, err := m.desk().Settings(t.Context(), m.people["ada"].ID)
	require.NoError(t, err)
	require.False(t, chose)
	require.Equal(t, store.Settings{}, m.server.settingsOf(func(string) string { return "" }))
	m.as("ada").get("/settings").says(t, "As the mill: Inches and pounds")
}
