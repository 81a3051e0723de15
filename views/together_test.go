package views

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// A machine that twenty items hold says how many they are, once; each is still there
// to be read.
func TestHoldsOfAKindAreSaidTogether(t *testing.T) {
	hold := func(reason, href string, unchecked bool) Hold {
		return Hold{Reason: plain.Say(reason), Href: href, Unchecked: unchecked}
	}
	of := func(h Hold) string {
		if h.Unchecked {
			return h.Href
		}
		return ""
	}
	holds := []Hold{hold("hook bent", "/d", false), hold("a", "/x", true), hold("b", "/x", true), hold("c", "/x", true), hold("d", "/y", true), hold("hook bent", "/d", false), hold("hook bent", "/d", false)}
	several := 0
	all := Together(holds, of, func(of []Hold) plain.Sentence {
		several++
		return plain.Say("%d items not checked", len(of))
	})
	require.Len(t, all, 5)
	assert.Equal(t, 1, several, "one alone stands as it is")
	assert.Equal(t, "3 items not checked", all[1].Reason.String())
	assert.Len(t, all[1].Each, 3)
	assert.Equal(t, "/x", all[1].Href)
	assert.Equal(t, "d", all[2].Reason.String())
	assert.Empty(t, all[2].Each)
	assert.Equal(t, all[3], all[4], "what may not be put together is not")
	assert.Empty(t, Together(nil, of, nil))
	count := 0
	for _, h := range all {
		count += max(1, len(h.Each))
	}
	assert.Equal(t, len(holds), count, "none is lost")
}
