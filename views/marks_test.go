package views_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func someWords(t *testing.T) *views.Catalogue {
	t.Helper()
	c, err := views.ReadCatalogue(fstest.MapFS{
		"en.json": {Data: []byte(`{"%d holds": {"arg": 1, "one": "%d hold", "other": "%d holds"}}`)},
		"es.json": {Data: []byte(`{"%d holds": {"arg": 1, "one": "%d retención", "other": "%d retenciones"}}`)},
		"fr.json": {Data: []byte(`{"%d holds": {"arg": 1, "one": "%d retenue", "other": "%d retenues"}, "%[1]s:%[2]s %[3]s": "%[4]s h %[2]s"}`)},
	})
	require.NoError(t, err)
	return c
}

// The decimal marks are those of Unicode CLDR for the language, or the country the
// browser names with it; a person's own choice outweighs both. The marks between
// thousands can't be taken for a decimal mark.
func TestNumbersAreWrittenWithTheReadersMarks(t *testing.T) {
	c := someWords(t)
	for _, tc := range []struct{ language, mark, want string }{
		{"en", "", "1,204.5"}, {"en", "comma", "1\u00a0204,5"}, {"es", "", "1\u00a0204,5"}, {"es", "point", "1\u00a0204.5"},
		{"es-MX", "", "1\u00a0204.5"}, {"es-ES", "", "1\u00a0204,5"}, {"es-MX", "comma", "1\u00a0204,5"}, {"fr-CA", "", "1\u00a0204,5"}, {"fr", "", "1\u00a0204,5"},
	} {
		f := &views.Frame{Words: c.For(tc.language).WithMark(tc.mark)}
		require.Equal(t, tc.want, f.T("%.1f", 1204.5), tc)
		require.Equal(t, tc.want, f.T("%v", 1204.5), tc)
		require.Equal(t, tc.want, f.Number(1204.5), tc)
		require.Equal(t, tc.want+" of "+tc.want, f.Say(plain.Say("%v of %s", 1204.5, plain.Say("%.1f", 1204.5))), tc)
	}
	chosen := c.For("es", "es-MX,es;q=0.9")
	require.False(t, chosen.Comma(), "chosen without a country: the browser's counts")
	require.Equal(t, "es", chosen.Lang())
	f := &views.Frame{Words: c.For("fr"), Units: checklists.Metric}
	require.Equal(t, "1\u00a0204\u00a0kg", f.Say(plain.Say("%s", plain.Kilograms(1204))))
	require.Equal(t, "1,20\u00a0m", f.Say(plain.Say("%s", plain.Metres(1.2))))
}

// CLDR: in English and Spanish only 1 is one thing, in French 0 and 1 are.
func TestPluralFormsFollowTheLanguageWhateverTheMarks(t *testing.T) {
	c := someWords(t)
	for _, tc := range []struct {
		language string
		count    int
		want     string
	}{
		{"en", 0, "0 holds"}, {"en", 1, "1 hold"}, {"en", 2, "2 holds"}, {"es", 0, "0 retenciones"}, {"es", 1, "1 retención"}, {"es", 1204, "1\u00a0204 retenciones"},
		{"fr", 0, "0 retenue"}, {"fr", 1, "1 retenue"}, {"fr", 2, "2 retenues"}, {"fr", 21, "21 retenues"},
	} {
		for _, mark := range []string{"", "comma"} {
			if tc.language == "en" && tc.count > 999 {
				continue
			}
			f := &views.Frame{Words: c.For(tc.language).WithMark(mark)}
			require.Equal(t, tc.want, f.T("%d holds", tc.count), tc)
		}
	}
}
