package lift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Michigan R 408.14923 Table 1 (federal): 3/8 in chain to 19/64 in. ASME B30.9:
// 0.342 in, on a chain hook maker's page. Both read.
func TestTheLargerLeastLinkCountsAndBothAreNamed(t *testing.T) {
	chain := func(link float64) Judged {
		return JudgeChain(ChainMeasures{Size: Chain3_8, Link: link * inch})[0]
	}
	require.Equal(t, Within, chain(.342).Wear)
	require.Equal(t, Discard, chain(.341).Wear)
	require.Equal(t, Discard, chain(.330).Wear) // the federal table alone passes it
	j := chain(.330)
	require.InDelta(t, 19./64, j.Other/inch, 1e-9)
	require.Contains(t, j.Source, "B30.9")
	require.Contains(t, j.Source, "1910.184")
	for size := Chain7_32; size <= Chain1_1_4; size++ {
		federal, standard := leastLinks(size)
		least, ok := LeastLink(size)
		require.True(t, ok)
		require.Equal(t, max(federal, standard), least)
	}
	_, ok := LeastLink(SizeUnknown)
	require.False(t, ok)
}

func TestAThirdOfALinkInAYardIsTooMuch(t *testing.T) {
	stretch := func(yard float64) Wear {
		return JudgeChain(ChainMeasures{Size: Chain3_8, Pitch: 1.5 * inch, Yard: yard * inch})[2].Wear
	}
	require.Equal(t, Within, stretch(36.49))
	require.Equal(t, Discard, stretch(36.5))
	require.Equal(t, Discard, stretch(37))
	reach := func(now float64) Judged {
		return JudgeChain(ChainMeasures{Size: Chain3_8, Pitch: 1.5 * inch, NewReach: 72 * inch, Reach: now * inch})[1]
	}
	require.Equal(t, Within, reach(72.25).Wear)
	require.Equal(t, Discard, reach(72.26).Wear)
	require.InDelta(t, 73, reach(72).Other/inch, 1e-9)
}

// WAC 296-155-55800 (ASME B30.10): 5 %, never more than 1/4 in, any twist, a
// tenth of the section. 29 CFR 1910.179: 15 %.
func TestHookLimits(t *testing.T) {
	throat := func(as, now float64) Judged {
		return JudgeHook(HookMeasures{NewThroat: as * inch, Throat: now * inch})[0]
	}
	require.Equal(t, Discard, throat(1, 1.06).Wear)
	require.Less(t, 1.06*inch, throat(1, 1.06).Other)
	require.Equal(t, Within, throat(1, 1.05).Wear)
	require.Equal(t, Discard, throat(6, 6.28).Wear)
	require.Equal(t, Within, throat(6, 6.25).Wear)
	twist := func(m HookMeasures) Wear { return JudgeHook(m)[1].Wear }
	require.Equal(t, WearUnknown, twist(HookMeasures{}))
	require.Equal(t, Within, twist(HookMeasures{Twisted: No}))
	require.Equal(t, Discard, twist(HookMeasures{Twisted: Yes}))
	require.Equal(t, Discard, twist(HookMeasures{Twisted: No, Twist: 2}))
	require.Equal(t, WearUnknown, twist(HookMeasures{Twisted: No, Twist: math.NaN()}))
	worn := JudgeHook(HookMeasures{Section: .899, NewSection: 1, Pin: .91, NewPin: 1})
	require.Equal(t, Discard, worn[2].Wear)
	require.Equal(t, Within, worn[3].Wear)
}

func TestUnknownSizeAsNewClearsNothing(t *testing.T) {
	good := HookMeasures{Throat: .026, NewThroat: .0255, Twisted: No, Section: .95, NewSection: 1}
	require.True(t, Clears(JudgeHook(good)))
	for name, take := range map[string]func(*HookMeasures){
		"throat": func(m *HookMeasures) { m.NewThroat = 0 }, "not measured": func(m *HookMeasures) { m.Throat = 0 },
		"section": func(m *HookMeasures) { m.NewSection = 0 }, "twist": func(m *HookMeasures) { m.Twisted = Unanswered },
		"NaN": func(m *HookMeasures) { m.Throat = math.NaN() }, "pin": func(m *HookMeasures) { m.Pin = 1 },
	} {
		m := good
		take(&m)
		require.False(t, Clears(JudgeHook(m)), name)
	}
	require.False(t, Clears(JudgeChain(ChainMeasures{})))
	require.False(t, Clears(nil))
	require.True(t, Clears(JudgeChain(ChainMeasures{Size: Chain9_32, Link: 7e-3, Reach: 2, NewReach: 2, Yard: yard, Pitch: .022})))
}

func TestMoreWearNeverClears(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := ChainSize(rapid.IntRange(1, int(Chain1_1_4)).Draw(t, "size"))
		length := rapid.Float64Range(0, 3)
		m := ChainMeasures{Size: size, Link: rapid.Float64Range(0, .05).Draw(t, "link"), Reach: length.Draw(t, "reach"),
			NewReach: length.Draw(t, "new"), Yard: rapid.Float64Range(.9, 1).Draw(t, "yard"), Pitch: rapid.Float64Range(0, .1).Draw(t, "pitch")}
		more := m
		more.Link *= 1 - rapid.Float64Range(0, .5).Draw(t, "worn")
		more.Reach *= 1 + rapid.Float64Range(0, .1).Draw(t, "longer")
		more.Yard *= 1 + rapid.Float64Range(0, .1).Draw(t, "stretched")
		before, after := JudgeChain(m), JudgeChain(more)
		for i := range before {
			if after[i].Wear == Within && after[i].Measured > 0 {
				require.NotEqual(t, Discard, before[i].Wear, "%+v", before[i])
			}
			require.False(t, math.IsNaN(after[i].Limit))
			require.NotEmpty(t, after[i].Said.Format)
			require.NotEmpty(t, after[i].Source)
		}
	})
}

func TestWearNamesReadBack(t *testing.T) {
	for w := WearUnknown; w <= Discard; w++ {
		text, err := w.MarshalText()
		require.NoError(t, err)
		var back Wear
		require.NoError(t, back.UnmarshalText(text))
		require.Equal(t, w, back)
	}
	for s := SnowUnknown; s <= LateSnow; s++ {
		text, err := s.MarshalText()
		require.NoError(t, err)
		var back Snow
		require.NoError(t, back.UnmarshalText(text))
		require.Equal(t, s, back)
	}
	soaked, err := ParseCondition("soaked")
	require.NoError(t, err)
	require.Equal(t, Soaked, soaked)
}
