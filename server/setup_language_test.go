package server

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// What a mill starts with is drafted in the language it chose, and the mill then
// reads it as its own text, whatever language the screens are in.
func TestMillIsSetUpInItsOwnLanguage(t *testing.T) {
	t.Parallel()
	for tag, want := range map[string][3]string{
		"en": {"Pre-shift check", "Head saw", "Main hoist with yoke and end hooks"},
		"es": {"Revisión previa al turno", "Sierra principal", "Polipasto principal con yugo y ganchos de extremo"},
		"fr": {"Vérification avant le quart", "Scie de tête", "Palan principal avec palonnier et crochets d'extrémité"},
	} {
		s, st, _ := newServer(t, "WREN-4821")
		p := newPhone(t, s, nil)
		p.accepts = tag
		require.Regexp(t, `name="lists_language" value="`+tag+`"[^>]* checked`, p.get("/set-up").Body)
		reply := p.post("/set-up", setUpAnswers())
		require.Equal(t, http.StatusOK, reply.Status, reply.Body)
		mill, err := st.TheMill(t.Context())
		require.NoError(t, err)
		desk := st.Of(mill.ID)
		drafts, err := desk.Drafts(t.Context())
		require.NoError(t, err)
		titles := map[store.Sort]map[string]string{}
		for _, d := range drafts {
			if titles[d.Sort] == nil {
				titles[d.Sort] = map[string]string{}
			}
			titles[d.Sort][d.ID] = d.Title
		}
		require.Equal(t, want[0], titles[store.Lists]["pre-shift"])
		require.Equal(t, want[1], titles[store.Procedures]["head-saw"])
		require.Equal(t, want[2], titles[store.Rigs]["main-hoist"])
		plant, err := desk.Plant(t.Context())
		require.NoError(t, err)
		saw, found := plant.Find("head-saw")
		require.True(t, found)
		require.Equal(t, want[1], saw.Name)
	}
}

// The two numbers of the set-up are read as every other: with the reader's mark,
// and what could be two numbers is refused.
func TestSetUpReadsItsNumbersAsEveryFormDoes(t *testing.T) {
	for _, one := range []struct {
		comma           bool
		units           checklists.Units
		diameter, speed string
		metres          plain.Metres
		rpm             float64
		wrong           []string
	}{
		{false, checklists.InchPound, "52.5", "600.5", 52.5 * plain.Inch, 600.5, nil},
		{true, checklists.InchPound, "52,5", "600,5", 52.5 * plain.Inch, 600.5, nil},
		{true, checklists.Metric, "1,3 m", "600", 1.3, 600, nil},
		{false, checklists.Metric, "1,3 m", "600", 1.3, 600, nil},
		{false, checklists.Metric, "1300", "1,200", 1.3, 0, []string{"spindle_speed"}},
		{true, checklists.Metric, "1.300", "1.200", 0, 0, []string{"saw_diameter", "spindle_speed"}},
		{true, checklists.Metric, "1.300,5", "abc", 0, 0, []string{"saw_diameter", "spindle_speed"}},
	} {
		form := setUpForm{Units: string(one.units), SawDiameter: one.diameter, SpindleSpeed: one.speed}
		mill, problems := form.mill(measures{comma: one.comma})
		var wrong []string
		for _, field := range []string{"saw_diameter", "spindle_speed"} {
			if problems.For(field) != nil {
				wrong = append(wrong, field)
			}
		}
		require.Equal(t, one.wrong, wrong, "%+v", one)
		require.InDelta(t, float64(one.metres), float64(mill.SetUp.SawDiameter), 1e-9, "%+v", one)
		if len(one.wrong) > 0 {
			continue // nothing is stored
		}
		require.InDelta(t, one.rpm, mill.SetUp.SpindleSpeed, 1e-9, "%+v", one)
	}
}
