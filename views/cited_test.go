package views

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What isn't a title or a number in where a rule comes from is in the reader's
// language; titles and numbers stay as they are.
func TestWhereARuleComesFromIsReadInOnesLanguage(t *testing.T) {
	words, err := LoadCatalogue()
	require.NoError(t, err)
	for source, want := range map[string]string{
		"29 CFR 1910.147(d)(4)":                                   "29 CFR 1910.147(d)(4)",
		"29 CFR 1910.151(b); monthly: common practice, no source": "29 CFR 1910.151(b); chaque mois : usage courant, sans source",
		"WAC 296-78-610(3) (Washington; good practice elsewhere)": "WAC 296-78-610(3) (Washington; bonne pratique ailleurs)",
		"ASME B30.9, least link thickness; 29 CFR 1910.184":       "ASME B30.9, épaisseur minimale du maillon; 29 CFR 1910.184",
		"ASME B30.10 as in WAC 296-155-55800; 29 CFR 1910.179(j)(2)(iii) and Alberta OHS Code s. 309 allow 15 % and 10°": "ASME B30.10 d'après WAC 296-155-55800 ; 29 CFR 1910.179(j)(2)(iii) et Alberta OHS Code s. 309 admettent 15 % et 10°",
	} {
		require.Equal(t, want, (&Frame{Words: words.For("fr")}).Cited(source))
		require.Equal(t, source, (&Frame{Words: words.For("en")}).Cited(source))
	}
}
