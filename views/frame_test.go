package views

import (
	"math"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// Exact by definition: inch, pound (international yard and pound agreement,
// 1959), pound-force 4.4482216152605 N (NIST SP 811, appendix B.8).
func TestQuantitiesInTheMillsUnits(t *testing.T) {
	for _, tc := range []struct {
		quantity      any
		inches, metre string
	}{
		{plain.Metres(2.286), "7 ft 6 in", "2.29 m"},
		{plain.Metres(0.4572), "18 in", "457 mm"},
		{17.375 * plain.Inch, "17 3/8 in", "441 mm"},
		{0.25 * plain.Inch, "1/4 in", "6 mm"},
		{8 * plain.Foot, "8 ft", "2.44 m"},
		{8*plain.Foot - 0.01*plain.Inch, "8 ft", "2.44 m"},
		{36*plain.Inch - 0.01*plain.Inch, "3 ft", "914 mm"},
		{plain.Metres(0.99951), "3 ft 3 3/8 in", "1.00 m"},
		{plain.Metres(0), "0 in", "0 mm"},
		{-plain.Inch, "−1 in", "-25 mm"},
		{plain.Metres(math.NaN()), "not known", "not known"},
		{plain.Metres(math.Inf(1)), "not known", "not known"},
		{1243 * plain.Pound, "1,243 lb", "564 kg"},
		{plain.Kilograms(math.NaN()), "not known", "not known"},
		{plain.Newtons(4.4482216152605), "1 lbf", "4 N"},
		{plain.Newtons(12345), "2,775 lbf", "12.3 kN"},
		{plain.Newtons(9999.7), "2,248 lbf", "10.0 kN"},
		{plain.Degrees(29.96), "30.0°", "30.0°"},
		{plain.CubicMetres(0.028316846592), "1.0 ft³", "0.028 m³"},
		{plain.Gauged(0.342 * 0.0254), "0.342 in", "8.69 mm"},
		{plain.KilogramsPerCubic(1000), "62.4 lb/ft³", "1,000 kg/m³"},
		{plain.Fraction(0.12), "12 %", "12 %"},
		{plain.Fraction(0.005), "0.5 %", "0.5 %"},
	} {
		f := full(t)
		assert.Equal(t, tc.inches, f.T("%s", tc.quantity))
		f.Units = checklists.Metric
		assert.Equal(t, tc.metre, f.T("%s", tc.quantity))
		assert.Equal(t, tc.metre, f.T("%.3f", tc.quantity), "whatever the verb")
	}
}

func TestLengthTakesBareMetres(t *testing.T) {
	f := full(t)
	text, err := f.Length(2.286)
	require.NoError(t, err)
	assert.Equal(t, "7 ft 6 in", text)
	_, err = f.Length("2.286")
	assert.Error(t, err)
}

func TestSentenceInside(t *testing.T) {
	f := full(t)
	inner := plain.Say("the chain is rated %s", plain.Kilograms(500))
	assert.Equal(t, "Held: the chain is rated 1,102 lb, by <Ada> 100 %s today 6:02\u00a0am",
		f.Say(plain.Say("Held: %s, by %s %s", inner, "<Ada> 100 %s", time.Date(2026, 3, 2, 12, 2, 0, 0, time.UTC))))
	assert.Equal(t, "0 to 300 %", f.Say(plain.Say("0 to 300 %")))
	assert.Equal(t, "no tag (29 CFR 1910.184(e)(1))", f.T("%s", plain.Refuse("29 CFR 1910.184(e)(1)", "no tag")))
	assert.Equal(t, "a; b", f.T("%s", []plain.Sentence{plain.Say("a"), plain.Say("b")}))
	assert.Equal(t, "not known", f.T("%s", nil))
}

func TestTimesOnTheMillsClock(t *testing.T) {
	f := full(t)
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 3, day, hour, minute, 5, 0, time.UTC) }
	assert.Equal(t, "today 12:00\u00a0pm", f.When(noon))
	assert.Equal(t, "yesterday 11:59\u00a0pm", f.When(at(2, 5, 59)), "before midnight in Chicago")
	assert.Equal(t, "tomorrow 12:00\u00a0am", f.When(at(3, 6, 0)))
	assert.Equal(t, "Sat 28 Feb 2026, 6:30\u00a0am", f.When(time.Date(2026, 2, 28, 12, 30, 0, 0, time.UTC)))
	// Clocks go back on 1 November 2026 (15 U.S.C. 260a): the hour from one comes twice.
	first, second := time.Date(2026, 11, 1, 6, 30, 0, 0, time.UTC), time.Date(2026, 11, 1, 7, 30, 0, 0, time.UTC)
	assert.Equal(t, "Sun 1 Nov 2026, 01:30:00 -05:00", f.Exact(first))
	assert.Equal(t, "Sun 1 Nov 2026, 01:30:00 -06:00", f.Exact(second))
	assert.Equal(t, "not known", f.When(time.Time{}))
	assert.Equal(t, "not known", f.Exact(time.Time{}))
	assert.Equal(t, "6:00\u00a0pm", (&Frame{}).Clock(noon))
	for ago, want := range map[time.Duration]string{0: "just now", 61 * time.Second: "1 min ago", 125 * time.Minute: "2 h 5 min ago",
		50 * time.Hour: "2 days ago", -2 * time.Hour: "in 2 h", 24 * time.Hour: "24 h ago"} {
		assert.Equal(t, want, f.Ago(noon.Add(-ago)))
	}
}

func TestCountsTakeTheirPlural(t *testing.T) {
	const key = "%d things to put right. What you typed is still here."
	f := full(t)
	assert.Equal(t, "One thing to put right. What you typed is still here.", f.T(key, 1))
	assert.Equal(t, "2 things to put right. What you typed is still here.", f.T(key, 2))
	assert.Equal(t, "1 things to put right. What you typed is still here.", (&Frame{}).T(key, 1), "no catalogue, the key as it is")
}

func TestALanguageIsOneFileMore(t *testing.T) {
	files := fstest.MapFS{
		"en.json": {Data: []byte(`{}`)},
		"es.json": {Data: []byte(`{"%d days": {"arg": 1, "one": "%d día", "other": "%d días"}, "Held by %[1]s since %[2]s": "Desde %[2]s, por %[1]s", "HELD": "PARADA",
			"%[1]s:%[2]s %[3]s": "%[4]s:%[2]s"}`)},
	}
	catalogue, err := ReadCatalogue(files)
	require.NoError(t, err)
	assert.Equal(t, []string{"en", "es"}, catalogue.Languages())
	f := &Frame{Words: catalogue.For("", "es-MX,es;q=0.9,en;q=0.5")}
	assert.Equal(t, "es", f.Lang())
	assert.Equal(t, "1 día", f.T("%d days", 1))
	assert.Equal(t, "Desde 18:00, por Ada", f.T("Held by %[1]s since %[2]s", "Ada", f.Clock(noon)))
	assert.Equal(t, "PARADA", f.StatusBadge(checklists.Held).Word())
	assert.Equal(t, "PARADA", f.T("%s", checklists.Held))
	assert.Equal(t, "No entry yet", f.T("No entry yet"), "what isn't translated stays English")
	assert.Equal(t, "en", catalogue.For("de", "not a header;;").Lang())
	var together sync.WaitGroup // a Words serves every request at once
	for range 8 {
		together.Go(func() { assert.Equal(t, "5 días", f.T("%d days", 5)) })
	}
	together.Wait()

	files["es.json"] = &fstest.MapFile{Data: []byte(`{"%d signs": {"arg": 1, "one": "%d signo", "other": "%d signos"}, "%d marks": "%d signs"}`)}
	catalogue, err = ReadCatalogue(files)
	require.NoError(t, err)
	assert.Equal(t, "1 signs", (&Frame{Words: catalogue.For("es")}).T("%d marks", 1), "what is shown is no key again")

	for name, broken := range map[string]fstest.MapFS{
		"no English": {"es.json": files["es.json"]},
		"no other":   {"en.json": {Data: []byte(`{"%d days": {"arg": 1, "one": "x"}}`)}},
		"no json":    {"en.json": {Data: []byte(`{`)}},
		"no tag":     {"en.json": files["en.json"], "not a tag.json": files["en.json"]},
	} {
		_, err := ReadCatalogue(broken)
		assert.Error(t, err, name)
	}
}

// Each language is read when somebody has it; that each can be is seen here.
func TestEveryLanguageCanBeRead(t *testing.T) {
	catalogue, err := LoadCatalogue()
	require.NoError(t, err)
	require.Greater(t, len(catalogue.languages), 1)
	for _, w := range catalogue.languages {
		read, err := w.read()
		require.NoError(t, err, w.Lang())
		assert.Equal(t, w.Lang() != "en", len(read.whole) > 0, w.Lang())
	}
	broken, err := catalogueOf(fstest.MapFS{"en.json": {Data: []byte(`{}`)}, "es.json": {Data: []byte(`{`)}})
	require.NoError(t, err)
	f := &Frame{Words: broken.For("es")}
	assert.Equal(t, "No entry yet", f.T("No entry yet"))
	assert.Equal(t, "5 days", f.T("%d days", 5))
}

// French says "d'Oren" and "de Marta", whoever it is, and leaves an h alone.
func TestFrenchTakesTheVowelAwayBeforeOne(t *testing.T) {
	catalogue, err := LoadCatalogue()
	require.NoError(t, err)
	f := &Frame{Words: catalogue.For("fr"), Now: noon}
	assert.Equal(t, "Tableau d'Oren", f.T("Chart of %s", "Oren"))
	assert.Equal(t, "Tableau d'Île", f.T("Chart of %s", said("Île")))
	assert.Equal(t, "Tableau de Marta", f.T("Chart of %s", "Marta"))
	assert.Equal(t, "Tableau de Hollis", f.T("Chart of %s", "Hollis"))
	assert.Equal(t, `une essence de la table, par son nom courant ou scientifique, pas "oak"`, f.T("a kind of the table, by its common or scientific name, not %q", "oak"))
	assert.Equal(t, "Chart of Oren", (&Frame{Words: catalogue.For("en")}).T("Chart of %s", "Oren"))
	assert.Equal(t, "dim. 1er nov. 2026", f.Day(time.Date(2026, 11, 1, 12, 0, 0, 0, time.UTC)))
	assert.Equal(t, "lun. 2 nov. 2026", f.Day(time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)))
}
