package lift_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

func TestEveryWoodHasANameOfItsOwnInEachLanguageWithItsLatinName(t *testing.T) {
	for _, tag := range []string{"es", "fr"} {
		seen := map[string]string{}
		for _, s := range lift.AllSpecies() {
			name := lift.Wood(s.Common).In(tag)
			require.Contains(t, name, " ("+s.Scientific+")")
			require.Empty(t, seen[name], "%s: %s and %s", tag, s.Common, seen[name])
			seen[name] = s.Common
			if s.Common == "sassafras" { // the same in French
				continue
			}
			require.NotEqual(t, s.Common+" ("+s.Scientific+")", name, "%s: no name", tag)
			require.Equal(t, s.Common, lift.Wood(s.Common).In("en"))
		}
		require.Equal(t, "teca de la casa", lift.Wood("teca de la casa").In(tag), "what is not of the table stays as typed")
	}
	require.Equal(t, "chêne blanc d'Amérique (Quercus alba)", lift.Wood("white oak").In("fr"))
	require.Equal(t, "white oak (Quercus alba)", lift.Wood("white oak").In("de"))
}
