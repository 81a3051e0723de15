package lift

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// A part without fault says nothing; each fault of it is said once, with its source.
func TestEachFaultOfAPartIsSaidOnce(t *testing.T) {
	oldest := time.Time{}
	for name, tc := range map[string]struct {
		take func(l *Link)
		rule Rule
		said string
	}{
		"none":               {func(*Link) {}, "", ""},
		"kind":               {func(l *Link) { l.Kind = Fitting + 1 }, PathRule, "the leg: what kind of part it is, is not known"},
		"tag":                {func(l *Link) { l.TagReadable = false }, TagRule, "the leg: its tag or marking can't be read, so it has no rating"},
		"out of service":     {func(l *Link) { l.State = OutOfService }, StateRule, "the leg is out of service"},
		"destroyed":          {func(l *Link) { l.State = Destroyed }, StateRule, "the leg is destroyed"},
		"state":              {func(l *Link) { l.State = Destroyed + 1 }, StateRule, "the leg: whether it is in service is not known"},
		"own weight":         {func(l *Link) { l.OwnMass = 0 }, OwnMassRule, "the leg: its own weight is not known"},
		"beam's own weight":  {func(l *Link) { l.Kind, l.OwnMass = Beam, 0 }, "", ""},
		"due now":            {func(l *Link) { l.InspectionDue = atWork }, "", ""},
		"due a moment ago":   {func(l *Link) { l.InspectionDue = atWork.Add(-1) }, InspectionRule, "the leg: its inspection was due 2026-03-09 06:59:59.999999999 +0000 UTC"},
		"inspected now":      {func(l *Link) { l.Inspected = atWork }, "", ""},
		"inspected later":    {func(l *Link) { l.Inspected = atWork.Add(1) }, InspectionRule, "the leg: its inspection is dated later than now"},
		"never inspected":    {func(l *Link) { l.Inspected = oldest }, InspectionRule, "the leg: when it was inspected, or is due, is not known"},
		"never due":          {func(l *Link) { l.InspectionDue = oldest }, InspectionRule, "the leg: when it was inspected, or is due, is not known"},
		"a year ago":         {func(l *Link) { l.Inspected, l.InspectionDue = atWork.AddDate(-1, 0, -1), atWork.AddDate(1, 0, 0) }, InspectionRule, "the leg: its inspection was due 2026-03-08 07:00:00 +0000 UTC"},
		"rated load":         {func(l *Link) { l.RatedLoad = 0 }, NoRatingRule, "the leg: its rated load is not known"},
		"end hook's":         {func(l *Link) { l.Kind, l.RatedLoad = EndHook, 0 }, NoRatingRule, "the leg: no rated load is known; it comes from the maker or a qualified person; use a sling instead"},
		"mark":               {func(l *Link) { l.MarkedFor = ColumnUnknown }, NoRatingRule, "the leg: whether its rated load is for one leg, or for two and at what angle, is not known"},
		"a hook has no mark": {func(l *Link) { l.Kind, l.MarkedFor = HoistHook, ColumnUnknown }, "", ""},
		"grade 70":           {func(l *Link) { l.Grade = Grade70 }, ChainRule, "the leg: Grade 70 is no chain for overhead lifting"},
		"grade 30":           {func(l *Link) { l.Grade = Grade30 }, ChainRule, "the leg: Grade 30 is no chain for overhead lifting"},
		"grade":              {func(l *Link) { l.Grade = GradeUnknown }, ChainRule, "the leg: its grade is not known"},
		"past the grades":    {func(l *Link) { l.Grade = Grade100 + 1 }, ChainRule, "the leg: its grade is not known"},
		"rope":               {func(l *Link) { l.Grade, l.Size = NotChain, SizeUnknown }, "", ""},
		"size":               {func(l *Link) { l.Size = SizeUnknown }, ChainRule, "the leg: its size is not known"},
		"largest":            {func(l *Link) { l.Size = Chain1_1_4 }, "", ""},
		"past the sizes":     {func(l *Link) { l.Size = Chain1_1_4 + 1 }, ChainRule, "the leg: its size is not known"},
		"more than the tag":  {func(l *Link) { l.RatedLoad = 1600 }, TagAboveRule, "the leg: the tag says 1600.0 kg, the published table 1587.6 kg for such a chain: read the tag again"},
		"idle":               {func(l *Link) { l.IdleOwes, l.IdleSince = EveryMonth, atWork.AddDate(0, -2, 0) }, IdleRule, "the leg: idle since 2026-01-09 07:00:00 +0000 UTC, a month or more: inspect it before use, as each month"},
	} {
		l := soundLift()
		leg := &l.Rig.Links[4]
		tc.take(leg)
		var v Verdict
		v.checkLinks(&l.Rig, l.Now)
		if tc.rule == "" {
			require.Empty(t, v.Findings, name)
			continue
		}
		require.Len(t, v.Findings, 1, "%s: %v", name, said(&v))
		f := v.Findings[0]
		require.Equal(t, tc.rule, f.Rule, name)
		require.Equal(t, tc.said, f.Said.String(), name)
		require.Equal(t, "the leg", f.Link, name)
		require.True(t, f.Blocks, name)
	}
	l := soundLift()
	l.Rig.Hitch, l.Rig.Links[4].ChokerLoad, l.Rig.Links[4].Name = Choker, 0, ""
	var v Verdict
	v.checkLinks(&l.Rig, l.Now)
	require.Equal(t, []string{"leg: its rated load as a choker is not known"}, said(&v))
	faults := soundLift()
	require.Empty(t, faults.Rig.Faults(atWork))
	faults.Rig.LegLength = 0
	require.Equal(t, "the length of the legs is not known", faults.Rig.Faults(atWork)[0].Said.String())
	faults.Rig.LegLength, faults.Rig.Hitch = 0.6, EndHooks
	require.Len(t, faults.Rig.Faults(atWork), 2) // no end hooks, and nobody stands for their angles
	faults.Rig.EndHookBand = Band{30, 75, "the maker's sheet"}
	require.Len(t, faults.Rig.Faults(atWork), 1)
}

// What is missing of the rig as a whole.
func TestEachFaultOfTheLoadPathIsSaid(t *testing.T) {
	part := func(kind Kind, pair bool) Link { return Link{Name: "the " + kind.String(), Kind: kind, Pair: pair} }
	path := []Link{part(Beam, false), part(Hoist, false), part(HoistHook, false), part(Yoke, false), part(Leg, true)}
	without := func(i int) []Link { return slices.Delete(slices.Clone(path), i, i+1) }
	hooks := append(slices.Clone(path), part(EndHook, true))
	for name, tc := range map[string]struct {
		rig  Rig
		said []string
	}{
		"none":              {Rig{Hitch: TwoLegBridle, YokeWidth: 1, Links: path}, nil},
		"basket":            {Rig{Hitch: Basket, YokeWidth: 1, Links: path}, nil},
		"no hitch":          {Rig{YokeWidth: 1, Links: path}, []string{"how the legs take hold of the piece is not known"}},
		"past the hitches":  {Rig{Hitch: Basket + 1, YokeWidth: 1, Links: path}, []string{"how the legs take hold of the piece is not known"}},
		"no beam":           {Rig{Hitch: Basket, YokeWidth: 1, Links: without(0)}, []string{"the load path has no beam"}},
		"no hoist":          {Rig{Hitch: Basket, YokeWidth: 1, Links: without(1)}, []string{"the load path has no hoist"}},
		"no hook":           {Rig{Hitch: Basket, YokeWidth: 1, Links: without(2)}, []string{"the load path has no hoist hook"}},
		"no yoke":           {Rig{Hitch: Basket, YokeWidth: 1, Links: without(3)}, []string{"yoke and width of the yoke: one is entered without the other"}},
		"no width":          {Rig{Hitch: Basket, Links: path}, []string{"yoke and width of the yoke: one is entered without the other"}},
		"neither":           {Rig{Hitch: Basket, Links: without(3)}, nil},
		"no legs":           {Rig{Hitch: Basket, YokeWidth: 1, Links: without(4)}, []string{"two legs are wanted, entered are 0"}},
		"four":              {Rig{Hitch: Basket, YokeWidth: 1, Links: append(slices.Clone(path), path[4])}, []string{"of the 4 legs two are counted: a stiff load may hang on any two of them"}},
		"three":             {Rig{Hitch: Basket, YokeWidth: 1, Links: append(slices.Clone(path), part(Leg, false))}, []string{"of the 3 legs two are counted: a stiff load may hang on any two of them"}},
		"three, unlike":     {Rig{Hitch: Basket, YokeWidth: 1, SecondLeg: 1, Links: append(slices.Clone(path), part(Leg, false))}, []string{"two legs are wanted with end hooks or legs of two lengths, entered are 3"}},
		"five":              {Rig{Hitch: Basket, YokeWidth: 1, Links: append(slices.Clone(path), path[4], part(Leg, false))}, []string{"two legs are wanted, entered are 5"}},
		"end hooks":         {Rig{Hitch: EndHooks, YokeWidth: 1, Links: hooks}, nil},
		"no end hooks":      {Rig{Hitch: EndHooks, YokeWidth: 1, Links: path}, []string{"two end hooks are wanted, entered are 0"}},
		"one end hook":      {Rig{Hitch: Basket, YokeWidth: 1, Links: append(slices.Clone(path), part(EndHook, false))}, []string{"two end hooks are wanted, entered are 1"}},
		"four on end hooks": {Rig{Hitch: EndHooks, YokeWidth: 1, Links: append(slices.Clone(path), path[4], hooks[5])}, []string{"two legs are wanted with end hooks or legs of two lengths, entered are 4"}},
		"out of order":      {Rig{Hitch: Basket, YokeWidth: 1, Links: []Link{path[1], path[0], path[2], path[3], path[4]}}, []string{"the beam stands out of order: enter the load path from the beam down to the piece"}},
		"out of order last": {Rig{Hitch: Basket, YokeWidth: 1, Links: []Link{path[0], path[1], path[2], path[4], path[3]}}, []string{"the yoke stands out of order: enter the load path from the beam down to the piece"}},
		"all upside down":   {Rig{Hitch: Basket, YokeWidth: 1, Links: []Link{path[4], path[3], path[2], path[1], path[0]}}, []string{"the yoke stands out of order: enter the load path from the beam down to the piece"}},
		"a fitting between": {Rig{Hitch: Basket, YokeWidth: 1, Links: append([]Link{part(Fitting, false)}, path...)}, nil},
		"a number":          {Rig{Hitch: Basket, YokeWidth: 1, HouseFloor: 99, Links: path}, []string{"the rig, the flattest leg in this mill: want at most 85°, or left empty"}},
	} {
		var v Verdict
		require.Equal(t, name != "a number", v.checkRig(&tc.rig), name)
		require.Equal(t, tc.said, said(&v), name)
	}
	edges := soundLift()
	for hitch, told := range map[Hitch]bool{TwoLegBridle: false, EndHooks: false, Choker: true, Basket: true} {
		for shape, sawn := range map[Shape]bool{Round: false, Slabbed: true, Squared: true, Measured: false} {
			edges.Rig.Hitch, edges.Piece.Shape = hitch, shape
			var v Verdict
			v.checkEdges(&edges)
			require.Equal(t, told && sawn, len(v.Findings) == 1, "%v %v", hitch, shape)
		}
	}
}

// By hand: 100 kg on the legs at 60° pull 50/sin 60° in each; the pair of end hooks
// bears twice the larger share, one alone its pull; the leg nearer its own limit
// counts.
func TestLoadsOfTheLegsByHand(t *testing.T) {
	r := Rig{Hitch: TwoLegBridle}
	h := hang{angle: [2]float64{60, 60}, flattest: 60, steepest: 60, pull: [2]float64{0.6, 0.5}, share: [2]float64{0.55, 0.45}}
	leg := Link{Kind: Leg, Pair: true, RatedLoad: 100, MarkedFor: OneLeg, Grade: NotChain}
	load, limit := leg.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 60, load, 1e-9)
	require.InDelta(t, 100, limit, 1e-9)
	h.pull = [2]float64{0.5, 0.6}
	load, _ = leg.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 60, load, 1e-9)
	hooks := Link{Kind: EndHook, Pair: true, RatedLoad: 70}
	load, limit = hooks.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 90*2*0.55, load, 1e-9)
	require.InDelta(t, 70, limit, 0)
	h.share = [2]float64{0.4, 0.6}
	load, _ = hooks.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 90*2*0.6, load, 1e-9)
	hooks.Pair = false
	load, limit = hooks.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 54, load, 1e-9)
	require.InDelta(t, 70, limit, 0)
	ring := Link{Kind: Fitting, Pair: true, RatedLoad: 80}
	load, limit = ring.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 60, load, 1e-9)
	require.InDelta(t, 80, limit, 0)
	// Unlike legs at 60° and 45°: by the 45° column the pair bears √2 of one, so that
	// each leg bears 0.7071/sin of its own angle: 0.8165 and 1.
	h = hang{angle: [2]float64{60, 45}, flattest: 45, steepest: 60, pull: [2]float64{0.70, 0.80}}
	load, limit = leg.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 70, load, 1e-9) // 70/81.65 is more than 80/100
	require.InDelta(t, 100*math.Sqrt2/2/math.Sin(60*degree), limit, 1e-9)
	h.pull = [2]float64{0.60, 0.80}
	load, limit = leg.legLoad(&r, &h, 90, 100)
	require.InDelta(t, 80, load, 1e-9)
	require.InDelta(t, 100, limit, 1e-9)
	// Pairs: by the mark for two where that is less, by the table where that is.
	require.InDelta(t, 200, leg.pair(TwoLegBridle, 88), 1e-9)
	require.InDelta(t, 100*math.Sqrt(3), leg.pair(TwoLegBridle, 61), 1e-9)
	require.Zero(t, leg.pair(TwoLegBridle, 20))
	two := Link{Kind: Leg, RatedLoad: 150, MarkedFor: TwoLegs60, Grade: NotChain}
	require.InDelta(t, 150/math.Sqrt(3), two.oneLeg(TwoLegBridle), 1e-9)
	require.InDelta(t, 150, two.pair(TwoLegBridle, 88), 1e-9)
	require.InDelta(t, 150*math.Sqrt2/math.Sqrt(3), two.pair(TwoLegBridle, 50), 1e-9)
	chain := Link{Kind: Leg, RatedLoad: 1e4, MarkedFor: OneLeg, Grade: Grade80, Size: Chain3_8, ChokerLoad: 2000}
	lb := float64(plain.Pound)
	require.InDelta(t, 7100*lb, chain.oneLeg(TwoLegBridle), 1e-9)
	require.InDelta(t, 2000, chain.oneLeg(Choker), 0)
	require.InDelta(t, 2*7100*lb, chain.pair(TwoLegBridle, 88), 1e-9)
	require.InDelta(t, math.Min(12300*lb, 7100*lb*math.Sqrt(3)), chain.pair(TwoLegBridle, 60), 1e-9)
	require.InDelta(t, 10000*lb, chain.pair(TwoLegBridle, 45), 1e-9)
	chain.MarkedFor = ColumnUnknown
	require.Zero(t, chain.oneLeg(TwoLegBridle))
	chain.ChokerLoad, chain.MarkedFor = 9000, OneLeg
	require.InDelta(t, 7100*lb, chain.oneLeg(Choker), 1e-9)
	for hitch, want := range map[Hitch]float64{TwoLegBridle: 2, Choker: 2} {
		require.InDelta(t, want, float64((&Link{Pair: true}).legs()), 0, hitch)
	}
	require.Equal(t, 1, (&Link{}).legs())
}

// Every part bears the wood and all gear below it, a hundred grams of it too.
func TestEachPartBearsTheGearBelowItToTheGram(t *testing.T) {
	l := soundLift()
	for i, own := range []float64{60, 35, 0.2, 0.3, 0.1} {
		l.Rig.Links[i].OwnMass = own
	}
	v := Check(l)
	wood := float64(v.Weight.Upper)
	for i, below := range []float64{35.6, 0.6, 0.4, 0.1} {
		require.InDelta(t, wood+below, float64(v.Bars[i].Load), 1e-9, v.Bars[i].Name)
	}
	require.InDelta(t, (wood+0.1)/2/math.Sin(60*degree), float64(v.Bars[4].Load), 1e-9)
	g := plain.StandardGravity
	require.InDelta(t, (wood+0.1)/2/math.Sin(60*degree)*g, float64(v.LegTension[0]), 1e-9)
	require.InDelta(t, (wood+0.1)/2/math.Tan(60*degree)*g, float64(v.Inward), 1e-9)
	require.Len(t, v.LegTension, 2)
}

// All of a rated load may be used, all of the margin without a signature.
func TestBarsAreJudgedAtTheirLimits(t *testing.T) {
	for name, tc := range map[string]struct {
		load, limit float64
		rule        Rule
		blocks      bool
		ratio       float64
		said        string
	}{
		"little":  {10, 100, "", false, 0.1, ""},
		"margin":  {80, 100, "", false, 0.8, ""},
		"above":   {81, 100, MarginRule, false, 0.81, "the hook would bear 81 % of its 100.0 kg, above the house margin"},
		"all":     {100, 100, MarginRule, false, 1, "the hook would bear 100 % of its 100.0 kg, above the house margin"},
		"more":    {100.1, 100, RatingRule, true, 1.001, "the hook would bear 100.1 kg; it may bear 100.0 kg"},
		"unknown": {100, 0, "", false, math.Inf(1), ""},
		"nothing": {0, 0, "", false, math.Inf(1), ""},
	} {
		var v Verdict
		ratio := v.bar(&Link{Name: "the hook", Kind: HoistHook}, tc.load, tc.limit, 0.8)
		require.Equal(t, tc.ratio, ratio, name)
		require.Equal(t, []Bar{{"the hook", HoistHook, plain.Kilograms(tc.load), plain.Kilograms(tc.limit), tc.ratio}}, v.Bars, name)
		if tc.rule == "" {
			require.Empty(t, v.Findings, name)
			continue
		}
		require.Len(t, v.Findings, 1, name)
		f := v.Findings[0]
		require.Equal(t, tc.rule, f.Rule, name)
		require.Equal(t, tc.blocks, f.Blocks, name)
		require.Equal(t, tc.said, f.Said.String(), name)
		require.Equal(t, [3]float64{tc.load, tc.limit, tc.ratio}, [3]float64{float64(f.Load), float64(f.Limit), f.Ratio}, name)
	}
	require.InDelta(t, 0.8, (&Rig{}).margin(), 0)
	require.InDelta(t, 0.5, (&Rig{HouseMargin: 0.5}).margin(), 0)
	for _, tc := range []struct{ floor, house, want float64 }{{0, 0, 30}, {40, 0, 40}, {40, 40, 40}, {40, 41, 41}, {0, 20, 30}, {0, 35, 35}} {
		degrees, house := (&Rig{FloorAngle: tc.floor, HouseFloor: tc.house}).floor()
		require.InDelta(t, tc.want, degrees, 0)
		require.Equal(t, tc.house > 30 && tc.house > tc.floor, house)
	}
	first, second := (&Rig{LegLength: 1}).legLengths()
	require.Equal(t, [2]float64{1, 1}, [2]float64{first, second})
	first, second = (&Rig{LegLength: 1, SecondLeg: 2}).legLengths()
	require.Equal(t, [2]float64{1, 2}, [2]float64{first, second})
}

// Legs that would pull inward, hang plumb or not reach give nothing.
func TestLegsThatCannotHoldGiveNoGeometry(t *testing.T) {
	inf := math.Inf(1)
	for _, g := range []Legs{{}, {Span: 1, First: 1}, {Span: 1, Second: 1}, {Span: 1, Yoke: 1, First: 1, Second: 1}, {Span: 1, Yoke: 2, First: 1, Second: 1}, {Span: 1, Yoke: -1, First: 1, Second: 1},
		{Span: 1, First: inf, Second: 1}, {Span: 1, First: -1, Second: 1}, {Span: 1, First: 1, Second: -1}, {Span: -1, First: 1, Second: 1}} {
		out, height, ok := g.Level()
		require.False(t, ok, "%+v", g)
		require.Equal(t, [2]float64{}, out, "%+v", g)
		require.Zero(t, height)
	}
	for _, g := range []Legs{{Span: 2, First: 1, Second: 1}, {Span: 1, First: 1, Second: math.Sqrt2}, {Span: 1, First: math.Sqrt2, Second: 1}, {Span: 1, First: 1, Second: 3}} {
		_, _, ok := g.Level()
		require.False(t, ok, "%+v: plumb, flat or past the other", g)
	}
	g := Legs{Span: 2, Yoke: 0.4, First: 1, Second: 1}
	out, height, ok := g.Level()
	require.True(t, ok)
	require.InDelta(t, 0.8, out[0], 1e-12)
	require.InDelta(t, 0.8, out[1], 1e-12)
	require.InDelta(t, 0.6, height, 1e-12)
	g = Legs{Span: 6, First: math.Sqrt(13), Second: 5} // 2 and 4 out, 3 high
	out, height, ok = g.Level()
	require.True(t, ok)
	require.InDelta(t, 2, out[0], 1e-12)
	require.InDelta(t, 4, out[1], 1e-12)
	require.InDelta(t, 3, height, 1e-12)
	for balance, settles := range map[float64]bool{0: false, 2: true, 6: false, -1: false, 7: false} {
		g.Balance = balance
		require.Equal(t, settles, g.Rest(1).Settled, balance)
	}
	g.Balance = 2
	for _, bad := range []Legs{{Span: 6, First: g.First, Second: 5, Balance: 2, YokeDepth: -1}, {Span: 6, First: g.First, Second: 5, Balance: 2, Below: -1}} {
		require.False(t, bad.Rest(1).Settled)
	}
	require.InDelta(t, 1, triple([3]float64{1, 0, 0}, [3]float64{0, 1, 0}, [3]float64{0, 0, 1}), 0)
	require.InDelta(t, 2*(4*1-1*2)-1*(0*1-1*5)+3*(0*2-4*5), triple([3]float64{2, 1, 3}, [3]float64{0, 4, 1}, [3]float64{5, 2, 1}), 0)
}
