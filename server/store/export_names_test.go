package store

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestANameIsFoundHoweverItIsWrittenAndNoOtherWord(t *testing.T) {
	n := NamesOf("Marta Keller", "Ludwig van der Berg", "Bo Li", "José O’Brien", "李小龍")
	n.phrase("Vermont Safety Council")
	for text, names := range map[string]bool{
		"Marta signs for it":              true,
		"ask marta":                       true,
		"Martas lock":                     true,
		"Marta's lock":                    true,
		"KELLER was told":                 true,
		"Kellerman was told":              false,
		"told Bo Li":                      true,
		"Bo was told":                     false, // two letters say nobody by themselves
		"der Riemen":                      false,
		"the Berg fellow":                 true,
		"Jose at the edger":               true,
		"obrien":                          false,
		"O'Brien":                         true,
		"早上李小龍在":                          true,
		"course of the safety council":    false,
		"the Vermont Safety Council":      true,
		"":                                false,
		"teeth worn, guard loose at knee": false,
	} {
		require.Equal(t, names, n.In(text), text)
	}
	require.False(t, Names{}.In("Marta"))
	n = NamesOf("May Rook")
	require.True(t, n.In("may knows"))
	require.True(t, n.Called("May knows"))
	require.False(t, n.Called("Stop: may not run"))
}

func TestWordsAnsweredToAnItemForWordsAreKeptBackWithNames(t *testing.T) {
	n, names := NamesOf("Marta Keller"), Withhold{Names: true}
	text, choice := checklists.Item{Kind: checklists.Text}, checklists.Item{Kind: checklists.Choice}
	require.True(t, names.Answer(n, text, true, "a stranger"))
	require.True(t, names.Answer(n, text, false, "a stranger"))
	require.False(t, names.Answer(n, text, true, "S-1204"))
	require.False(t, names.Answer(n, choice, true, "dry"))
	require.True(t, names.Answer(n, choice, true, "as Marta has it"))
	require.False(t, Withhold{}.Answer(n, text, true, "Marta"))
	require.True(t, Withhold{Notes: true}.Answer(n, choice, true, "dry"))
}
