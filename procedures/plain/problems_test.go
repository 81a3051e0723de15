package plain

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
)

// A refusal among problems is said in the reader's language, so its words stay a
// format of their own.
func TestARefusalAmongProblemsKeepsItsWords(t *testing.T) {
	var bad Problems
	bad.Add("kind", Refuse("29 CFR 1910.147(b)", "Choose a kind of isolator from the list."))
	bad.Add("photo", Refuse("", "a photo of at most %d megapixels", 40))
	bad.Add("other", errors.New("disk full"))
	require.Equal(t, Say("%[1]s (%[2]s)", Say("Choose a kind of isolator from the list."), "29 CFR 1910.147(b)"), bad[0].Want)
	require.Equal(t, Say("a photo of at most %d megapixels", 40), bad[1].Want)
	require.Equal(t, "disk full", bad[2].Want.String())
}
