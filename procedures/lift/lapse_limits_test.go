package lift

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// A rig begun from another keeps its hoist under its own ids, down to the hook.
func TestBegunRigKeepsTheHoistDownToItsHook(t *testing.T) {
	from := StarterRig()
	require.Len(t, from.downToHook(), 4)
	require.Empty(t, (&Rig{Links: from.Links[:3]}).downToHook())
	r := BeginRig("yard", "Yard crane", from)
	ids := ""
	for _, l := range r.Links {
		ids += l.ID + " "
	}
	require.Equal(t, "beam trolley hoist hoist-hook yard-yoke yard-legs yard-end-hooks ", ids)
	require.Equal(t, from.ID, r.Begun)
	own := BeginRig("yard", "Yard crane", Rig{ID: "none"})
	require.Empty(t, own.Begun)
	require.Len(t, own.Links, 7)
	for _, l := range own.Links {
		require.Equal(t, "yard-", l.ID[:5])
		require.Equal(t, l.Kind == Leg || l.Kind == EndHook, l.Pair)
	}
	texts := Rig{Links: []Link{{Tag: "a"}, {Tag: "b"}}}
	_, all := texts.WithoutTexts()
	require.Equal(t, []string{"", "", "a", "b"}, all, "what nobody said of inspections is not kept")
	_, all = (Rig{Links: make([]Link, 2), Settings: make([]Setting, 1)}).WithoutTexts()
	require.Equal(t, make([]string, 5), all, "a tag left empty keeps its place")
	texts.Links[0].InspectedBy = "Quist"
	_, all = texts.WithoutTexts()
	require.Equal(t, []string{"", "", "a", "b", "Quist"}, all)
	require.True(t, (&Rig{YokeWidth: 0.1}).HasYoke() && (&Rig{Settings: make([]Setting, 1)}).HasYoke())
	require.False(t, (&Rig{}).HasYoke())
	set, ok := (Rig{Settings: []Setting{{Name: ""}, {Name: "a", YokeWidth: 1, LegLength: 2, SecondLeg: 3}}}).SetTo("a")
	require.True(t, ok)
	require.Equal(t, [3]float64{1, 2, 3}, [3]float64{set.YokeWidth, set.LegLength, set.SecondLeg})
	_, ok = (Rig{Settings: []Setting{{Name: ""}}}).SetTo("")
	require.False(t, ok)
}

// A verdict covers a piece as long to the step of the ruler, as heavy, as thick where
// the headroom counts, and balanced as near its middle.
func TestRunCoversToTheStep(t *testing.T) {
	l := soundLift()
	l.Placing = AtEnds
	l.Piece.Reading.Length = 0.25
	l.Piece.Density = 900
	l.Piece.Species, _ = FindSpecies("eastern white pine")
	for name, tc := range map[string]struct {
		take func(l *Lift, p *Piece)
		said string
	}{
		"the same":         {func(*Lift, *Piece) {}, ""},
		"to the step":      {func(_ *Lift, p *Piece) { p.Length, p.Density = 2.25, 700 }, ""},
		"shorter":          {func(_ *Lift, p *Piece) { p.Length, p.Density = 1.75, 700 }, ""},
		"past the step":    {func(_ *Lift, p *Piece) { p.Length, p.Density = 2.2501, 700 }, "another length"},
		"under the step":   {func(_ *Lift, p *Piece) { p.Length, p.Density = 1.7499, 700 }, "another length"},
		"heavier":          {func(_ *Lift, p *Piece) { p.Extra = 0.1 }, "heavier: 152.5 kg against 152.4 kg"},
		"condition":        {func(_ *Lift, p *Piece) { p.Condition = AirDry }, "another shape, kind of wood or condition"},
		"fallback":         {func(_ *Lift, p *Piece) { p.Fallback = p.Species }, "another shape, kind of wood or condition"},
		"aside":            {func(_ *Lift, p *Piece) { p.Balance = 0.96 }, "its balance point lies further from the middle"},
		"the other way":    {func(_ *Lift, p *Piece) { p.Balance = 1.04 }, "its balance point lies further from the middle"},
		"thicker, no room": {func(l *Lift, p *Piece) { p.Width, p.Height = 0.4, 0.14 }, ""},
		"thicker":          {func(l *Lift, p *Piece) { l.Rig.Headroom, l.Rig.HookToYoke, p.Width, p.Height = 5, 0.1, 0.4, 0.14 }, "thicker"},
		"as thick":         {func(l *Lift, p *Piece) { l.Rig.Headroom, l.Rig.HookToYoke = 5, 0.1 }, ""},
	} {
		one, next := l, l.Piece
		tc.take(&one, &next)
		v := Check(one)
		require.True(t, v.Go, "%s: %v", name, said(&v))
		covers, why := Covers(&one, &v, next)
		if name == "heavier" {
			require.Contains(t, why.String(), "heavier: ")
			require.False(t, covers)
			continue
		}
		require.Equal(t, tc.said, why.String(), name)
		require.Equal(t, tc.said == "", covers, name)
	}
	margin := l
	margin.Rig.HouseMargin = 0.01
	holds, why := margin.judges(&l.Piece)
	require.False(t, holds)
	require.Equal(t, "above the house margin, and the lift before was not: a supervisor signs", why.String())
	margin.Questions.Free = No
	holds, why = margin.judges(&l.Piece)
	require.False(t, holds)
	require.Contains(t, why.String(), "answered no")
	holds, why = l.judges(&l.Piece)
	require.True(t, holds && why.Empty())
	v := Check(l)
	require.False(t, l.asLight(&Verdict{Bars: v.Bars[:4]}, l.Piece), "another rig")
	heavy := l.Piece
	heavy.Extra = 1
	require.False(t, l.asLight(&v, heavy))
	require.True(t, l.asLight(&v, l.Piece))
	nothing := l
	nothing.Span = 0
	require.False(t, nothing.asLight(&v, l.Piece))
}

// A window opens where one marked setting fits, though no width and no length does.
func TestWindowIsOpenWhereOneSettingFits(t *testing.T) {
	l := soundLift()
	l.Rig.HookToYoke, l.Rig.Headroom, l.Rig.YokeWidth = 0.2, 0.93, 1.2
	l.Rig.Settings = []Setting{{Name: "no", YokeWidth: 1.2, LegLength: 0.6}, {Name: "yes", YokeWidth: 0.5, LegLength: 0.4}, {Name: "neither", YokeWidth: 0.5, LegLength: 0.3}}
	w := Window(l)
	require.Empty(t, w.Yoke)
	require.Empty(t, w.Legs)
	require.True(t, w.Open, "%v", w.Fits)
	require.Equal(t, [3]bool{false, true, false}, [3]bool{w.Fits[0].Fits, w.Fits[1].Fits, w.Fits[2].Fits})
	require.InDelta(t, 0.2+math.Sqrt(0.16-0.09)+0.3+0.15, float64(w.Fits[1].Needed), 1e-9)
	require.Zero(t, w.Fits[0].Needed)
	l.Rig.Settings = l.Rig.Settings[:1]
	w = Window(l)
	require.False(t, w.Open)
	require.Equal(t, "no setting fits this piece", w.Said[0].String())
	require.Len(t, w.Said, 2)
	l.Rig.Headroom = 0
	require.Contains(t, Window(l).Said[0].String(), "the headroom is not known")
	l.Piece.Length = 0
	require.Contains(t, fmt.Sprint(Window(l).Said), "the piece can't be weighed: length")
}

// By the published air-dry weight a thick log counts as green, far above what dry
// readings show: no signature lets it below its mean.
func TestSignatureIsAskedOnlyBelowTheMean(t *testing.T) {
	pine, ok := FindSpecies("eastern white pine")
	require.True(t, ok)
	l := Learned{Kind: pine.Scientific, Condition: AirDry, N: 9, Mean: 0.8, Shrunk: 0.86, Bound: 0.85, Heaviest: 0.85}
	require.False(t, l.BelowMean(pine, AirDry))
	none := l
	none.N = 0
	require.False(t, none.BelowMean(pine, AirDry))
	require.False(t, (Learned{N: 9}).BelowMean(Species{}, AirDry))
	p := boxed()
	p.Species, p.Learned = Species{}, Learned{}
	oak, _ := FindSpecies("northern red oak")
	blank := Learned{Kind: oak.Scientific, Condition: Green}
	require.Equal(t, Learned{}, p.WithHeaviestOf([]Species{oak}, []Learned{blank}).Learned, "nothing learned is passed over")
	full := Learned{Kind: oak.Scientific, Condition: Green, N: 1, Mean: 1.5, Shrunk: 1.5, Bound: 1.5, Heaviest: 1.5}
	require.Equal(t, full, p.WithHeaviestOf([]Species{oak}, []Learned{blank, full}).Learned)
	var w Weight
	p = boxed()
	p.Learned = full
	p.densities(&w)
	require.Equal(t, []plain.Sentence{plain.Say("the mill's own scale is counted in")}, w.Notes)
	for _, s := range AllSpecies() {
		require.NotEqual(t, s.Source, s.Note, s.Common)
	}
}

// Where one length alone is neither too short nor too heavy, the chart has it.
func TestChartHasTheOneLengthThatGoes(t *testing.T) {
	l := soundLift()
	c := ChartOf{Rig: l.Rig, Shape: Squared, Condition: Green, Kinds: []Species{l.Piece.Species}, Diameters: []float64{0.3}, Span: 1.1, Now: atWork, Step: 0.1}
	whole := c.Chart().Cells[0][0]
	require.InDelta(t, 1.1, float64(whole.Shortest), 1e-9)
	require.Greater(t, whole.Longest, whole.Shortest)
	at := c.At(l.Piece.Species, 0.3, 1.1)
	next := c.At(l.Piece.Species, 0.3, 1.2)
	between := (float64(Check(at).Weight.Upper) + float64(Check(next).Weight.Upper)) / 2
	for i := range c.Rig.Links[:4] {
		c.Rig.Links[i].RatedLoad = 5000
	}
	c.Rig.Links[2].RatedLoad = between + 24
	require.Equal(t, Limits{whole.Shortest, whole.Shortest}, c.Chart().Cells[0][0])
	c.Rig.Links[2].RatedLoad = float64(Check(at).Weight.Upper) + 23
	require.Equal(t, Limits{}, c.Chart().Cells[0][0])
	c.Rig.Links[2].RatedLoad, c.Step = float64(Check(at).Weight.Upper)+25, 1.1
	require.Equal(t, Limits{1.1, 1.1}, c.Chart().Cells[0][0], "of one step")
	for most := range 9 { // whatever the guess, the last that holds is found
		for guess := -2; guess < 12; guess++ {
			require.Equal(t, most, last(0, 10, guess, func(n int) bool {
				require.True(t, n >= 1 && n <= 10, n)
				return n <= most
			}))
		}
	}
}
