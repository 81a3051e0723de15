package server

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// The pages of a person's own stand up with nothing in them, and full.
func TestPhoneAndSettingsRender(t *testing.T) {
	t.Parallel()
	f := func() *views.Frame {
		return &views.Frame{Now: time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC), Person: procedures.Person{ID: "p1", Name: "Ada Quill", Role: procedures.Operator}}
	}
	full := f()
	for name, pages := range map[string][]any{
		"phone": {phonePage{Frame: &views.Frame{}}, phonePage{Frame: full, Keeps: []views.Place{{Href: "/help/emergency", Text: plain.Say("Emergency")}, {Href: "/lifts/chart", Text: plain.Say("The chart")}}, Waiting: "/inspections/waiting"}},
		"settings": {settingsPage{Frame: &views.Frame{}, OnPhone: true}, settingsPage{Frame: full, Fields: []views.Field{
			full.ChoiceField("language", "Language", "es", []views.Choice{{Text: "As the browser says"}, {Value: "es", Text: "Español"}})}}},
	} {
		for n, page := range pages {
			var out strings.Builder
			require.NoError(t, testPages().Render(&out, name, page), name)
			require.NotContains(t, out.String(), "%!", name)
			switch name + string(rune('0'+n)) {
			case "phone0":
				require.NotContains(t, out.String(), "waits for your signature")
			case "phone1":
				require.Contains(t, out.String(), `href="/inspections/waiting"`)
				require.Equal(t, 2, strings.Count(out.String(), "data-keep"))
			case "settings0":
				require.Contains(t, out.String(), "Nobody is signed in")
			case "settings1":
				require.Contains(t, out.String(), `value="es" checked`)
				require.Contains(t, out.String(), "/people/me")
			}
		}
	}
}
