package lift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
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
		leg.RatedLoad *= lift.Check(l).Bars[4].Ratio / rapid.Float64Range(0.5, 1).Draw(t, "of its rating")
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

func TestAScaleThatShowedMoreEndsTheCheck(t *testing.T) {
	l := goodLift(t)
	v := lift.Check(l)
	require.True(t, v.Go)
	later, end := l.Now.Add(time.Hour), l.Now.Add(8*time.Hour)
	showed := func(kg plain.Kilograms) []lift.Event {
		return []lift.Event{{Kind: lift.ScaleShowed, At: l.Now.Add(time.Minute), Mass: kg}}
	}
	stands, _ := lift.Holds(&l, &v, end, showed(v.Weight.Upper), later)
	require.True(t, stands, "as heavy as reckoned")
	stands, why := lift.Holds(&l, &v, end, append(showed(1), showed(v.Weight.Upper+1)...), later)
	require.False(t, stands)
	require.Contains(t, why.String(), v.Weight.Upper.String())
	require.Contains(t, why.String(), (v.Weight.Upper + 1).String())
}

func TestAPartFoundNotFitEndsTheCheckForGood(t *testing.T) {
	l := goodLift(t)
	l.Rig.Links[4].ID, l.Rig.Links[4].Kind, l.Rig.Links[4].Grade, l.Rig.Links[4].Size = "legs", lift.Leg, lift.Grade80, lift.Chain3_8
	v := lift.Verdict{Go: true}
	minute := func(n int) time.Time { return l.Now.Add(time.Duration(n) * time.Minute) }
	for name, tc := range map[string]struct {
		looked []lift.Looked
		taken  []lift.Taken
		stands bool
	}{
		"nothing":                {nil, nil, true},
		"passed":                 {[]lift.Looked{{Link: "legs", Every: lift.EveryShift, Fit: true, At: minute(1)}}, nil, true},
		"not fit, passed after":  {[]lift.Looked{{Link: "legs", Every: lift.EveryShift, At: minute(1)}, {Link: "legs", Every: lift.EveryYear, Fit: true, At: minute(2)}}, nil, false},
		"not fit before, passed": {[]lift.Looked{{Link: "legs", Every: lift.EveryShift, At: minute(-9)}, {Link: "legs", Every: lift.EveryYear, Fit: true, At: minute(-8)}}, nil, true},
		"another part":           {[]lift.Looked{{Link: "elsewhere", At: minute(1)}}, nil, true},
		"stretched, then not":    {nil, []lift.Taken{{Link: "legs", What: "reach", Value: 1.10, New: 1, At: minute(1), Qualified: true}, {Link: "legs", What: "reach", Value: 1, New: 1, At: minute(2), Qualified: true}}, false},
		"can't be judged":        {nil, []lift.Taken{{Link: "legs", What: "beauty", Value: 1, At: minute(1)}}, false},
		"within":                 {nil, []lift.Taken{{Link: "legs", What: "reach", Value: 1, New: 1, At: minute(1)}}, true},
	} {
		stands, why := lift.Holds(&l, &v, minute(500), lift.Unfit(&l, tc.looked, tc.taken), minute(10))
		require.Equal(t, tc.stands, stands, "%s: %s", name, why)
	}
}

func TestNoRunSharesWhatASupervisorSignedFor(t *testing.T) {
	l := goodLift(t)
	v := lift.Check(l)
	covers, _ := lift.Covers(&l, &v, l.Piece)
	require.True(t, covers)
	v.NeedsSupervisor = true
	covers, why := lift.Covers(&l, &v, l.Piece)
	require.False(t, covers)
	require.Contains(t, why.String(), "signed for that one piece")
}
