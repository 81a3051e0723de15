package lift

import (
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

var atWork = time.Date(2026, 3, 9, 7, 0, 0, 0, time.UTC)

// soundLift is a squared piece of 2 m, balanced in its middle, on slings under a
// yoke: 1.1 m between the hook points, 0.5 m of yoke, legs of 0.6 m at 60°.
func soundLift() Lift {
	part := func(kind Kind, rated, own float64) Link {
		return Link{ID: kind.String(), Name: "the " + kind.String(), Kind: kind, RatedLoad: rated, OwnMass: own, TagReadable: true, State: InService, Inspected: atWork.AddDate(0, 0, -2), InspectionDue: atWork.AddDate(0, 0, 5)}
	}
	leg := part(Leg, 1500, 6)
	leg.Pair, leg.MarkedFor, leg.Grade, leg.Size, leg.ChokerLoad = true, OneLeg, Grade80, Chain9_32, 1200
	return Lift{Piece: boxed(), Span: 1.1, Placing: OverBalance, Now: atWork, Questions: Questions{Yes, Yes, Yes, Yes, Yes, Yes},
		Rig: Rig{ID: "r", Hitch: TwoLegBridle, YokeWidth: 0.5, LegLength: 0.6, Links: []Link{part(Beam, 1000, 60), part(Hoist, 1000, 35), part(HoistHook, 1000, 3), part(Yoke, 1000, 18), leg}}}
}

func said(v *Verdict) (all []string) {
	for _, f := range v.Findings {
		all = append(all, f.Said.String())
	}
	return all
}

// What forbids stands before what doesn't, and of each the larger share first.
func TestFindingsAreOrderedByWhatForbidsThenByShare(t *testing.T) {
	block, high, low, note := Finding{Blocks: true}, Finding{Ratio: 2}, Finding{Ratio: 1}, Finding{Blocks: true, Ratio: 3}
	for _, tc := range []struct {
		a, b Finding
		want int
	}{{block, high, -1}, {high, block, 1}, {high, low, -1}, {low, high, 1}, {low, low, 0}, {note, block, -1}, {block, note, 1}, {block, block, 0}} {
		require.Equal(t, tc.want, worseFirst(tc.a, tc.b), "%v %v", tc.a, tc.b)
	}
	var v Verdict
	v.refusePiece(errors.New("no such piece"))
	v.refusePiece(plain.Problems{{Field: "length", Want: plain.Say("more")}, {Field: "width", Want: plain.Say("less")}})
	require.Equal(t, []string{"the piece can't be weighed: no such piece", "the piece, length: want more", "the piece, width: want less"}, said(&v))
	for _, f := range v.Findings {
		require.Equal(t, PieceRule, f.Rule)
		require.True(t, f.Blocks)
	}
}

// All of it has to be judged: a part without a bar, a bar too high or anything that
// forbids is a NO-GO.
func TestGoNeedsEveryPartJudgedAndNoneOverloaded(t *testing.T) {
	for name, tc := range map[string]struct {
		v     Verdict
		sound bool
		links int
		goes  bool
		signs bool
	}{
		"go":                {Verdict{Bars: []Bar{{Ratio: 1}, {Ratio: 0.1}}}, true, 2, true, false},
		"not sound":         {Verdict{Bars: []Bar{{Ratio: 1}, {Ratio: 0.1}}}, false, 2, false, false},
		"one not judged":    {Verdict{Bars: []Bar{{Ratio: 1}}}, true, 2, false, false},
		"over":              {Verdict{Bars: []Bar{{Ratio: 1.0000001}, {Ratio: 0.1}}}, true, 2, false, false},
		"over, then under":  {Verdict{Bars: []Bar{{Ratio: 0.1}, {Ratio: 1.1}}}, true, 2, false, false},
		"no number":         {Verdict{Bars: []Bar{{Ratio: math.NaN()}}}, true, 1, false, false},
		"blocked":           {Verdict{Findings: []Finding{{Blocks: true}, {}}}, true, 0, false, false},
		"blocked last":      {Verdict{Findings: []Finding{{}, {Blocks: true}}}, true, 0, false, false},
		"to be signed":      {Verdict{Findings: []Finding{{Rule: MarginRule}, {}}}, true, 0, true, true},
		"to be signed last": {Verdict{Findings: []Finding{{}, {Rule: MarginRule}}}, true, 0, true, true},
		"said":              {Verdict{Findings: []Finding{{Rule: EdgeRule}}}, true, 0, true, false},
	} {
		tc.v.decide(tc.sound, tc.links)
		require.Equal(t, [2]bool{tc.goes, tc.signs}, [2]bool{tc.v.Go, tc.v.NeedsSupervisor}, name)
	}
}

// Hook points fit as long as they lie on the piece, to its very ends; the balance
// point lies between them, and not on one.
func TestHookPointsFitToTheEndsOfThePiece(t *testing.T) {
	for name, tc := range map[string]struct {
		placing                    Placing
		balance, span, level, from float64
		first                      float64
		ok                         bool
	}{
		"about it":                 {OverBalance, 1, 1.5, 0.7, 0.75, 0.25, true},
		"to the small end":         {OverBalance, 0.75, 1.5, 0.7, 0.75, 0, true},
		"past the small end":       {OverBalance, 0.749, 1.5, 0.7, 0, 0, false},
		"to the large end":         {OverBalance, 1.25, 1.5, 0.7, 0.75, 0.5, true},
		"past the large end":       {OverBalance, 1.251, 1.5, 0.7, 0, 0, false},
		"hung level":               {HungLevel, 1, 1.5, 0.5, 0.5, 0.5, true},
		"level to the large end":   {HungLevel, 1, 1.5, 0.5, 0.5, 0.5, true},
		"level past the end":       {HungLevel, 1.01, 1.5, 0.5, 0, 0, false},
		"at the ends":              {AtEnds, 1.2, 1.5, 0.7, 0.95, 0.25, true},
		"at the ends, on a hook":   {AtEnds, 1.75, 1.5, 0.7, 0, 0, false},
		"at the ends, nearly":      {AtEnds, 1.74, 1.5, 0.7, 1.49, 0.25, true},
		"at the ends, on a hook 1": {AtEnds, 0.25, 1.5, 0.7, 0, 0, false},
		"at the ends, nearly 1":    {AtEnds, 0.26, 1.5, 0.7, 0.01, 0.25, true},
		"not known":                {PlacingUnknown, 1, 1.5, 0.7, 0, 0, false},
		"past what is known":       {HungLevel + 1, 1, 1.5, 0.7, 0, 0, false},
	} {
		l := soundLift()
		l.Placing, l.Span = tc.placing, tc.span
		v := Verdict{Balance: plain.Metres(tc.balance)}
		from, ok := v.checkBalance(&l, tc.level)
		require.Equal(t, tc.ok, ok, "%s: %v", name, said(&v))
		require.InDelta(t, tc.from, from, 1e-12, name)
		require.Equal(t, tc.ok, len(v.Findings) == 0, name)
		if tc.ok {
			require.InDelta(t, tc.first, float64(v.FirstHook), 1e-12, name)
		} else {
			require.Equal(t, BalanceRule, v.Findings[0].Rule)
			require.True(t, v.Findings[0].Blocks)
		}
	}
	l := soundLift()
	l.Piece.Balance = 1.5
	v := Verdict{Balance: 1.5}
	from, ok := v.checkBalance(&l, 0.7)
	require.False(t, ok)
	require.Zero(t, from)
	require.Contains(t, v.Findings[0].Said.String(), "1.500 m from the small end, and the one worked out from the shape, 1.000 m")
	l = soundLift()
	l.Piece, l.Placing = measured(), AtEnds
	for _, hitch := range []Hitch{TwoLegBridle, EndHooks} {
		v, l.Rig.Hitch = Verdict{Balance: 1}, hitch
		from, ok = v.checkBalance(&l, 0.7)
		require.False(t, ok)
		require.Zero(t, from)
		require.Equal(t, hitch == EndHooks, v.Findings[0].Said.String() == "the balance point of a piece known by its volume or its middle only: find it by trial and enter it")
	}
}

// Each way the distance of the hook points can be wrong, at its very limit.
func TestSpanIsAllowedToItsLimits(t *testing.T) {
	for name, tc := range map[string]struct {
		take func(l *Lift)
		rule Rule
	}{
		"right":             {func(*Lift) {}, ""},
		"unknown":           {func(l *Lift) { l.Span = 0 }, SpanRule},
		"less than nothing": {func(l *Lift) { l.Span = -1 }, SpanRule},
		"the longest":       {func(l *Lift) { l.Span, l.Piece.Length = 6, 6 }, ""},
		"longer":            {func(l *Lift) { l.Span, l.Piece.Length = 6.001, 7 }, SpanRule},
		"to the step":       {func(l *Lift) { l.Piece.Reading.Length, l.Span = 0.25, 2.25 }, ""},
		"past the step":     {func(l *Lift) { l.Piece.Reading.Length, l.Span = 0.25, 2.251 }, SpanRule},
		"no legs":           {func(l *Lift) { l.Rig.LegLength = 0 }, SpanRule},
		"as wide a yoke":    {func(l *Lift) { l.Rig.YokeWidth = 1.1 }, OutwardRule},
		"a hair less wide":  {func(l *Lift) { l.Rig.YokeWidth = 1.0999 }, ""},
	} {
		l := soundLift()
		tc.take(&l)
		var v Verdict
		require.Equal(t, tc.rule == "", v.checkSpan(&l), name)
		require.Equal(t, tc.rule == "", len(v.Findings) == 0, name)
		if tc.rule != "" {
			require.Equal(t, tc.rule, v.Findings[0].Rule, name)
		}
	}
}

// 5° out of level is the most; what is said is never the limit itself, but the next
// tenth of a degree.
func TestTiltIsSaidToTheNextTenth(t *testing.T) {
	for tilt, want := range map[float64]string{0: "", 5: "", 5.0001: "5.1°", 5.11: "5.2°", 12.3: "12.3°"} {
		var v Verdict
		v.checkTilt(&hang{tilt: tilt}, -0.02)
		require.InDelta(t, tilt, float64(v.Tilt), 0)
		if want == "" {
			require.Empty(t, v.Findings, tilt)
			continue
		}
		require.Equal(t, []string{"it could hang up to " + want + " out of level, and 5.0° is the most: the balance point is 0.020 m from where it would hang level"}, said(&v))
	}
}

// The floor itself and the ends of a band are allowed; which floor it was is said.
func TestAnglesAreAllowedToTheirLimits(t *testing.T) {
	for name, tc := range map[string]struct {
		floor, house, flattest, steepest float64
		grips                            bool
		rule                             Rule
		source, said                     string
	}{
		"30":              {0, 0, 30, 40, false, "", "", ""},
		"a hair less":     {0, 0, 30 - 5e-10, 40, false, "", "", ""},
		"flatter":         {0, 0, 30 - 1e-8, 40, false, FloorRule, "OSHA, Guidance on Safe Sling Use, chain slings", "legs at 30.0° from the horizontal, flatter than 30.0°"},
		"rig's":           {45, 0, 45, 50, false, "", "", ""},
		"under rig's":     {45, 0, 44.9, 50, false, FloorRule, "the floor entered for this rig", "legs at 44.9° from the horizontal, flatter than 45.0°"},
		"under rig's 30":  {45, 0, 30, 50, false, FloorRule, "the floor entered for this rig", "legs at 30.0° from the horizontal, flatter than 45.0°"},
		"under both":      {45, 0, 29, 50, false, FloorRule, "OSHA, Guidance on Safe Sling Use, chain slings", "legs at 29.0° from the horizontal, flatter than 45.0°"},
		"house's":         {0, 50, 50, 55, false, "", "", ""},
		"under house's":   {0, 50, 49, 55, false, HouseFloorRule, "this mill's own floor", "legs at 49.0° from the horizontal, flatter than 50.0°"},
		"house's no more": {50, 50, 49, 55, false, FloorRule, "the floor entered for this rig", "legs at 49.0° from the horizontal, flatter than 50.0°"},
		"band":            {0, 0, 40, 70, true, "", "", ""},
		"band by a hair":  {0, 0, 40 - 5e-10, 70 + 5e-10, true, "", "", ""},
		"too flat":        {0, 0, 39.5, 70, true, GripRule, "the maker's sheet", "end hooks hold with legs at 40.0° to 70.0°; these would hang at 39.5°"},
		"too steep":       {0, 0, 40, 70.5, true, GripRule, "the maker's sheet", "end hooks hold with legs at 40.0° to 70.0°; these would hang at 70.5°"},
		"steep by more":   {0, 0, 40 - 5e-10, 70.5, true, GripRule, "the maker's sheet", "end hooks hold with legs at 40.0° to 70.0°; these would hang at 70.5°"},
		"both":            {0, 0, 39.5, 70.5, true, GripRule, "the maker's sheet", "end hooks hold with legs at 40.0° to 70.0°; these would hang at 39.5°"},
	} {
		r := Rig{FloorAngle: tc.floor, HouseFloor: tc.house, EndHookBand: Band{40, 70, "the maker's sheet"}}
		if tc.grips {
			r.Hitch = EndHooks
		}
		var v Verdict
		v.checkAngles(&r, &hang{flattest: tc.flattest, steepest: tc.steepest})
		if tc.rule == "" {
			require.Empty(t, v.Findings, name)
			continue
		}
		require.Len(t, v.Findings, 1, name)
		require.Equal(t, tc.rule, v.Findings[0].Rule, name)
		require.Equal(t, tc.source, v.Findings[0].Source, name)
		require.Equal(t, tc.said, v.Findings[0].Said.String(), name)
	}
	// Angles to the columns of the tables, a hair less still counted as them.
	for degrees, want := range map[float64]Column{90: OneLeg, 85: OneLeg, 85 - 5e-10: OneLeg, 85 - 1e-8: TwoLegs60, 60: TwoLegs60, 60 - 5e-10: TwoLegs60, 60 - 1e-8: TwoLegs45, 45: TwoLegs45, 45 - 5e-10: TwoLegs45, 45 - 1e-8: TwoLegs30, 30: TwoLegs30, 30 - 5e-10: TwoLegs30, 30 - 1e-8: ColumnUnknown, 0: ColumnUnknown} {
		require.Equal(t, want, columnAt(degrees), degrees)
	}
	require.True(t, Band{High: 1, Source: "abcdef"}.known())
	require.False(t, Band{High: 0, Source: "abcdef"}.known())
	require.False(t, Band{High: 1, Source: "abcde"}.known())
}

// A number of the rig that can't be meant is computed with nowhere.
func TestNothingIsComputedFromWhatCanNotBeMeant(t *testing.T) {
	for name, take := range map[string]func(l *Lift){
		"a rating": func(l *Lift) { l.Rig.Links[1].RatedLoad = -1 }, "a clearance": func(l *Lift) { l.Rig.Clearance = 9 }, "the piece": func(l *Lift) { l.Piece.Extra = -1 },
	} {
		l := soundLift()
		require.True(t, Check(l).Go)
		take(&l)
		v := Check(l)
		require.False(t, v.Go, name)
		require.Empty(t, v.Bars, name)
		require.Empty(t, v.LegTension, name)
		require.Zero(t, v.Angle, name)
		require.Zero(t, v.Balance, name)
		require.Empty(t, v.Weakest, name)
	}
	// How it hangs is not known: what bears the whole load is judged all the same.
	l := soundLift()
	l.Span = 0
	v := Check(l)
	require.Len(t, v.Bars, 4)
	require.Empty(t, v.LegTension)
	require.Equal(t, "the beam", v.Weakest, "all are rated alike: the one with most below it")
}
