package lift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
)

func TestAVerdictLapses(t *testing.T) {
	l := goodLift(t)
	v, noGo := lift.Check(l), lift.Verdict{}
	end, later := now.Add(8*time.Hour), now.Add(time.Hour)
	for name, tc := range map[string]struct {
		v      *lift.Verdict
		end    time.Time
		events []lift.Event
		at     time.Time
		holds  bool
	}{
		"within the shift":  {&v, end, nil, later, true},
		"as it is given":    {&v, end, nil, now, true},
		"at its end":        {&v, end, nil, end, false},
		"end unknown":       {&v, time.Time{}, nil, later, false},
		"no clock":          {&v, end, nil, time.Time{}, false},
		"clock set back":    {&v, end, nil, now.Add(-time.Second), false},
		"zero verdict":      {&noGo, end, nil, later, false},
		"gear changed":      {&v, end, []lift.Event{{Kind: lift.GearChanged, At: now.Add(time.Minute)}}, later, false},
		"shock load":        {&v, end, []lift.Event{{Kind: lift.ShockLoad, At: now.Add(time.Minute)}}, later, false},
		"unknown event":     {&v, end, []lift.Event{{At: now.Add(time.Minute)}}, later, false},
		"no time of it":     {&v, end, []lift.Event{{Kind: lift.ShockLoad}}, later, false},
		"shock load before": {&v, end, []lift.Event{{Kind: lift.ShockLoad, At: now.Add(-time.Minute)}}, later, true},
		"inspection due":    {&v, now.AddDate(0, 0, 9), nil, now.AddDate(0, 0, 6), false},
	} {
		holds, why := lift.Holds(&l, tc.v, tc.end, tc.events, tc.at)
		require.Equal(t, tc.holds, holds, name)
		require.Equal(t, tc.holds, why.Empty(), name)
	}
}

// With legs of two lengths a balance point on the other side of the middle, or
// nearer to it, may load the other leg more: nearer the middle is no excuse.
func TestNoVerdictCoversAPieceThatItselfIsANoGo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := goodLift(t)
		l.Placing = lift.AtEnds
		l.Rig.YokeWidth, l.Rig.Links = 0, append(l.Rig.Links[:4:4], l.Rig.Links[5])
		l.Rig.LegLength = rapid.Float64Range(0.7, 1.2).Draw(t, "leg")
		if rapid.Bool().Draw(t, "unequal") {
			l.Rig.SecondLeg = l.Rig.LegLength * rapid.Float64Range(0.97, 1.03).Draw(t, "second")
		}
		l.Piece.Balance = l.Piece.Length/2 + rapid.Float64Range(-0.028, 0.028).Draw(t, "off")
		leg := &l.Rig.Links[4]
		leg.RatedLoad, leg.Grade = 300, lift.NotChain
		leg.RatedLoad *= lift.Check(l).Bars[4].Ratio / rapid.Float64Range(0.7, 1).Draw(t, "of its rating")
		v := lift.Check(l)
		next := l.Piece
		next.Balance = next.Length/2 + rapid.Float64Range(-0.028, 0.028).Draw(t, "next off")
		next.Slabs[0] *= rapid.Float64Range(1, 1.1).Draw(t, "deeper")
		covers, why := lift.Covers(&l, &v, next)
		require.Equal(t, covers, why.Empty())
		if !covers {
			return
		}
		l.Piece = next
		w := lift.Check(l)
		require.True(t, w.Go, "%v", w.Findings)
		require.LessOrEqual(t, w.Weight.Upper, v.Weight.Upper)
		require.False(t, w.NeedsSupervisor && !v.NeedsSupervisor)
	})
}

func TestARunOfLikePiecesSharesAVerdict(t *testing.T) {
	l := goodLift(t)
	v := lift.Check(l)
	for name, tc := range map[string]struct {
		change func(p *lift.Piece)
		covers bool
	}{
		"the same":        {func(*lift.Piece) {}, true},
		"lighter":         {func(p *lift.Piece) { p.Slabs[2] = 1 * inch }, true},
		"heavier":         {func(p *lift.Piece) { p.Slabs[0] = 1 * inch }, false},
		"longer":          {func(p *lift.Piece) { p.Length, p.Slabs[2] = 1.4, 3*inch }, false},
		"another kind":    {func(p *lift.Piece) { p.Species = kind(t, "white oak") }, false},
		"can't be known":  {func(p *lift.Piece) { p.Length = 0 }, false},
		"balanced aside":  {func(p *lift.Piece) { p.Balance = 0.3 }, false},
		"another shape":   {func(p *lift.Piece) { p.Shape = lift.Round }, false},
		"with snow on it": {func(p *lift.Piece) { p.Extra = 5 }, false},
	} {
		p := l.Piece
		tc.change(&p)
		covers, why := lift.Covers(&l, &v, p)
		require.Equal(t, tc.covers, covers, "%s: %s", name, why)
	}
	covers, _ := lift.Covers(&l, &lift.Verdict{}, l.Piece)
	require.False(t, covers)
}
