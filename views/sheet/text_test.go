package sheet

import (
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// A number stays whole on its line, and a French colon with its word; none of it is
// wider than asked.
func TestALineNeverEndsAtANoBreakSpace(t *testing.T) {
	wide := func(text string) float64 { return float64(utf8.RuneCountInString(text)) }
	text := "Inscription 3\u202f588\u00a0: pince, 6\u00a0ft, le 26\u2007nov."
	require.Equal(t, []string{"Inscription", "3\u202f588\u00a0: pince,", "6\u00a0ft, le", "26\u2007nov."}, broken(text, 14, wide))
	require.Equal(t, []string{"3\u202f58", "8\u00a0:"}, broken("3\u202f588\u00a0:", 4, wide), "what is wider than the line breaks all the same")
}
