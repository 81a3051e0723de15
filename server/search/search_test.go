package search_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/search"
)

func words(text string) []string {
	all := search.Words(text)
	slices.Sort(all)
	return slices.Compact(all)
}

func TestWordsAreFoldedInAnyScript(t *testing.T) {
	for text, want := range map[string]string{
		"Chain worn; hook OK":    "chain hook ok worn",
		"Scie à ruban, Bjørn Łk": "a bjorn lk ruban scie",
		"STRASSE Straße":         "strasse",
		"Ёлка ЁЛКА":              "елка",
		"Ελένη":                  "ελενη",
		"tag S-1204, G-80":       "1204 80 g g80 s s1204 tag",
		"head-saw":               "head saw",
		"鋸の刃":                    "の刃 刃 鋸の",
		"刃":                      "刃",
		"ﾊﾟｲﾌﾟ":                  "イプ パイ プ",
		"उपकरण":                  "उपकरण",
		"10½ in, 3/8":            "1012 3 38 8 in",
		"":                       "",
	} {
		require.Equal(t, want, strings.Join(words(text), " "), text)
	}
	decomposed, composed := words("Zoe\u0308"), words("Zoë")
	require.Equal(t, composed, decomposed, "however the phone writes it")
}

func TestQueryReadsWordsPhrasesNumbersAndTimes(t *testing.T) {
	q := search.Parse(`Hook "chain  worn" S-12 cha`, nil)
	require.Len(t, q.Terms, 4)
	require.Equal(t, []search.Wanted{{Word: "hook"}}, q.Terms[0].Words)
	require.Equal(t, []string{"chain", "worn"}, q.Terms[1].Phrase)
	require.Equal(t, []search.Wanted{{Word: "s12"}}, q.Terms[2].Words)
	require.Equal(t, []search.Wanted{{Word: "cha", Prefix: true}}, q.Terms[3].Words)

	times := map[string][2]string{
		"12 Mar 2026":               {"2026-03-12", "2026-03-12"},
		"Thu 12 Mar 2026":           {"2026-03-12", "2026-03-12"},
		"March 12, 2026":            {"2026-03-12", "2026-03-12"},
		"2026-03-12":                {"2026-03-12", "2026-03-12"},
		"2026-02":                   {"2026-02-01", "2026-02-28"},
		"Feb 2028":                  {"2028-02-01", "2028-02-29"},
		"mars 2026":                 {"2026-03-01", "2026-03-31"},
		"2026":                      {"2026-01-01", "2026-12-31"},
		"2026-03-12..2026-04":       {"2026-03-12", "2026-04-30"},
		"12 Mar 2026 to 3 Apr 2026": {"2026-03-12", "2026-04-03"},
	}
	for text, want := range times {
		q := search.Parse(text, []string{"janvier", "février", "mars"})
		require.Len(t, q.Terms, 1, text)
		require.Equal(t, want, [2]string{q.Terms[0].From, q.Terms[0].Until}, text)
	}
	for _, text := range []string{"2026-13", "12 Mar", "1204", "2026-03-12..2026-01"} {
		for _, term := range search.Parse(text, nil).Terms {
			require.Empty(t, term.From, text)
		}
	}
	require.True(t, search.Parse(` "" , – `, nil).Empty())
}

func TestStretchesCoverEachDayOnce(t *testing.T) {
	require.Equal(t, []string{"2026-03-12"}, search.Stretches("2026-03-12", "2026-03-12"))
	require.Equal(t, []string{"2025-12-31", "2026", "2027-01", "2027-02-01", "2027-02-02"}, search.Stretches("2025-12-31", "2027-02-02"))
	require.Equal(t, []string{"2028-02"}, search.Stretches("2028-02-01", "2028-02-29"))
}

func TestPartsMarkWhatWasLookedForAndLoseNothing(t *testing.T) {
	marked := func(query, text string) string {
		out, whole := "", ""
		for _, p := range search.Parse(query, nil).Parts(text) {
			whole += p.Text
			if p.Hit {
				p.Text = "[" + p.Text + "]"
			}
			out += p.Text
		}
		require.Equal(t, text, whole)
		return out
	}
	require.Equal(t, "[Élan] of the [chains]", marked("elan chain", "Élan of the chains"))
	require.Equal(t, "the [chains] of <b>", marked("chain", "the chains of <b>"))
	require.Equal(t, "tag [S-1204]", marked("s1204", "tag S-1204"))
	require.Equal(t, "a [chain, worn] chain", marked(`"chain worn"`, "a chain, worn chain"))
	require.Equal(t, "大[鋸の刃]先", marked("鋸の刃", "大鋸の刃先"))
	require.True(t, search.Stands("The chain, worn.", []string{"chain", "worn"}))
	require.False(t, search.Stands("worn chain", []string{"chain", "worn"}))
}

func TestDayInNumbersIsReadInTheMillsOrderAndTheOtherWhereItMustBe(t *testing.T) {
	for text, want := range map[string][2]string{ // month first, day first
		"11/24/2026":           {"2026-11-24", "2026-11-24"},
		"24/11/2026":           {"2026-11-24", "2026-11-24"},
		"3/12/2026":            {"2026-03-12", "2026-12-03"},
		"03/12/2026":           {"2026-03-12", "2026-12-03"},
		"12.3.2026":            {"2026-03-12", "2026-03-12"},
		"3/12/2026..3/12/2026": {"2026-03-12", "2026-12-03"},
	} {
		for i, first := range []bool{false, true} {
			q := search.Reading{DayFirst: first}.Parse(text)
			require.Len(t, q.Terms, 1, text)
			require.Equal(t, [2]string{want[i], want[i]}, [2]string{q.Terms[0].From, q.Terms[0].Until}, text)
		}
	}
	for _, text := range []string{"13/13/2026", "3/8", "2/30/2026", "3/12/26"} {
		require.Empty(t, search.Parse(text, nil).Terms[0].From, text)
	}
}

func TestNoGoIsOneWordAndNotTheWordsOfIt(t *testing.T) {
	require.Equal(t, "go no nogo", strings.Join(words("NO-GO"), " "))
	require.Equal(t, []search.Wanted{{Word: "nogo", Prefix: true}}, search.Parse("No-Go", nil).Terms[0].Words)
	require.Len(t, search.Parse("NO-GO hoist", nil).Terms, 2)
}

// The names are those of Unicode CLDR 45, of January, March, August and December,
// whole and cut short, in Spanish and French (from memory).
func TestDatesAreReadInTheThreeLanguages(t *testing.T) {
	names := search.NamesOf(slices.Concat(
		[]string{"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"},
		[]string{"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"},
		[]string{"janv.", "févr.", "mars", "avr.", "mai", "juin", "juil.", "août", "sept.", "oct.", "nov.", "déc."},
		[]string{"janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre", "novembre", "décembre"}),
		slices.Concat([]string{"dom", "lun", "mar", "mié", "jue", "vie", "sáb"}, []string{"dim.", "lun.", "mar.", "mer.", "jeu.", "ven.", "sam."}))
	r := search.Reading{Names: names, DayFirst: true}
	for text, want := range map[string][2]string{
		"12 mar 2026":                    {"2026-03-12", "2026-03-12"},
		"12 de marzo de 2026":            {"2026-03-12", "2026-03-12"},
		"jue 12 mar 2026":                {"2026-03-12", "2026-03-12"},
		"jeu. 12 mars 2026":              {"2026-03-12", "2026-03-12"},
		"mar. 3 mars 2026":               {"2026-03-03", "2026-03-03"},
		"mar 3 mar 2026":                 {"2026-03-03", "2026-03-03"},
		"Thu 12 Mar 2026":                {"2026-03-12", "2026-03-12"},
		"1er janvier 2026":               {"2026-01-01", "2026-01-01"},
		"1º de enero de 2026":            {"2026-01-01", "2026-01-01"},
		"mar 2026":                       {"2026-03-01", "2026-03-31"},
		"août 2026":                      {"2026-08-01", "2026-08-31"},
		"AOUT 2026":                      {"2026-08-01", "2026-08-31"},
		"diciembre de 2026":              {"2026-12-01", "2026-12-31"},
		"December 2026":                  {"2026-12-01", "2026-12-31"},
		"3/12/2026":                      {"2026-12-03", "2026-12-03"},
		"12 mars 2026 au 3 avr. 2026":    {"2026-03-12", "2026-04-03"},
		"12 mar 2026 hasta 3 abr 2026":   {"2026-03-12", "2026-04-03"},
		"12 de mar 2026 a abril de 2026": {"2026-03-12", "2026-04-30"},
	} {
		q := r.Parse(text)
		require.Len(t, q.Terms, 1, text)
		require.Equal(t, want, [2]string{q.Terms[0].From, q.Terms[0].Until}, text)
	}
	for text, terms := range map[string]int{
		"sam 12 mars 2026": 2, // a Thursday: Sam is somebody
		"mar de 12":        3,
		"agosto":           1,
		"30 feb 2026":      2, // no such day: a number and a month
	} {
		require.Len(t, r.Parse(text).Terms, terms, text)
	}
	require.Equal(t, "sam", r.Parse("sam 12 mars 2026").Terms[0].Words[0].Word)
}
