package lift_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

const (
	inch  = float64(plain.Inch)
	pound = float64(plain.Pound)
)

var now = time.Date(2026, 3, 9, 7, 0, 0, 0, time.UTC)

func kind(t require.TestingT, name string) lift.Species {
	s, ok := lift.FindSpecies(name)
	require.True(t, ok, name)
	return s
}

func link(k lift.Kind, rated, own float64) lift.Link {
	return lift.Link{Name: "the " + k.String(), Kind: k, RatedLoad: rated, OwnMass: own, TagReadable: true, Tag: "A1",
		State: lift.InService, Inspected: now.AddDate(0, 0, -2), InspectionDue: now.AddDate(0, 0, 5)}
}

// goodLift is a 4-ft red oak cant on slings under a yoke, everything known.
func goodLift(t require.TestingT) lift.Lift {
	leg := link(lift.Leg, 3500*pound, 6)
	leg.Pair, leg.MarkedFor, leg.Grade, leg.Size, leg.ChokerLoad = true, lift.OneLeg, lift.Grade80, lift.Chain9_32, 2800*pound
	return lift.Lift{
		Piece: lift.Piece{Shape: lift.Slabbed, Length: 1.25, Small: 14 * inch, Large: 15 * inch,
			Slabs: [4]float64{2 * inch, 1 * inch, 0, 0}, Species: kind(t, "northern red oak"), Condition: lift.Green},
		Rig: lift.Rig{ID: "r", Name: "short yoke", Hitch: lift.TwoLegBridle, YokeWidth: 0.5, LegLength: 0.6,
			Links: []lift.Link{link(lift.Beam, 1000, 60), link(lift.Trolley, 1000, 12), link(lift.Hoist, 500, 35),
				link(lift.HoistHook, 500, 3), link(lift.Yoke, 450, 18), leg}},
		Span: 1.1, Placing: lift.OverBalance, Now: now,
		Questions: lift.Questions{LandingClear: lift.Yes, NobodyUnder: lift.Yes, LatchClosed: lift.Yes,
			Free: lift.Yes, TrialLift: lift.Yes, Seated: lift.Yes},
	}
}

func hookLift(t require.TestingT) lift.Lift {
	l := goodLift(t)
	hooks := link(lift.EndHook, 400, 4)
	hooks.Pair = true
	l.Rig.Hitch, l.Rig.Links = lift.EndHooks, append(l.Rig.Links, hooks)
	l.Rig.EndHookBand = lift.Band{Low: 30, High: 75, Source: "maker's sheet of 2024-05-02"}
	l.Span, l.Placing = 1.23, lift.PlacingUnknown
	return l
}

func rules(v lift.Verdict) (found []lift.Rule) {
	for _, f := range v.Findings {
		found = append(found, f.Rule)
	}
	return found
}

func TestZeroIsNoGo(t *testing.T) {
	require.False(t, lift.Verdict{}.Go)
	v := lift.Check(lift.Lift{})
	require.False(t, v.Go)
	require.NotEmpty(t, v.Findings)
}

func TestWholeLiftIsGo(t *testing.T) {
	v := lift.Check(goodLift(t))
	require.True(t, v.Go, "%v", v.Findings)
	require.Empty(t, v.Findings)
	require.Len(t, v.Bars, 6)
	require.NotEmpty(t, v.Weakest)
	require.InDelta(t, 60, float64(v.Angle), 1e-9) // 0.3 out on a 0.6 leg
	v = lift.Check(hookLift(t))
	require.True(t, v.Go, "%v", v.Findings)
	require.Len(t, v.Bars, 7)
}

// 600 lb on a 36 in yoke, hooks 60 in apart, legs 24 in: 346.4 lb a leg, 173.2 lb
// inward. Own arithmetic.
func TestLegPullsComeOutInNewtons(t *testing.T) {
	l := goodLift(t)
	l.Piece = lift.Piece{Shape: lift.Measured, Length: 61 * inch, Volume: 600 * pound / 800 / 1.1645, Density: 800, Species: kind(t, "eastern white pine")}
	l.Rig.YokeWidth, l.Rig.LegLength, l.Span = 36*inch, 24*inch, 60*inch
	l.Piece.Balance = 30.5 * inch
	for i := range l.Rig.Links {
		l.Rig.Links[i].OwnMass = 1e-9
	}
	v := lift.Check(l)
	require.True(t, v.Go, "%v", v.Findings)
	require.InDelta(t, 346.41*pound*plain.StandardGravity, float64(v.LegTension[0]), 0.1)
	require.InDelta(t, 173.21*pound*plain.StandardGravity, float64(v.Inward), 0.1)
}

func TestGearBelowCountsOnTheLinkAbove(t *testing.T) {
	v := lift.Check(goodLift(t))
	wood := float64(v.Weight.Upper)
	below := map[string]float64{"the beam": 12 + 35 + 3 + 18 + 6, "the trolley": 35 + 3 + 18 + 6, "the hoist": 3 + 18 + 6, "the hoist-hook": 18 + 6, "the yoke": 6}
	for _, b := range v.Bars[:5] {
		require.InDelta(t, wood+below[b.Name], float64(b.Load), 1e-9, b.Name)
	}
	require.InDelta(t, (wood+6)/math.Sqrt(3), float64(v.Bars[5].Load), 1e-9)
}

// What is not known, one thing at a time, each with the rule that has to name it.
func TestUnknownIsNoGo(t *testing.T) {
	blank := map[string]struct {
		rule lift.Rule
		take func(l *lift.Lift)
	}{
		"shape":           {lift.PieceRule, func(l *lift.Lift) { l.Piece.Shape = 0 }},
		"condition":       {lift.PieceRule, func(l *lift.Lift) { l.Piece.Condition = 0 }},
		"length":          {lift.PieceRule, func(l *lift.Lift) { l.Piece.Length = 0 }},
		"NaN":             {lift.PieceRule, func(l *lift.Lift) { l.Piece.Large = math.NaN() }},
		"span":            {lift.SpanRule, func(l *lift.Lift) { l.Span = 0 }},
		"span NaN":        {lift.SpanRule, func(l *lift.Lift) { l.Span = math.NaN() }},
		"legs' length":    {lift.SpanRule, func(l *lift.Lift) { l.Rig.LegLength = 0 }},
		"placing":         {lift.BalanceRule, func(l *lift.Lift) { l.Placing, l.Rig.Hitch = 0, lift.Choker }},
		"hitch":           {lift.HitchRule, func(l *lift.Lift) { l.Rig.Hitch = 0 }},
		"time":            {lift.TimeRule, func(l *lift.Lift) { l.Now = time.Time{} }},
		"landing":         {lift.QuestionRule, func(l *lift.Lift) { l.Questions.LandingClear = 0 }},
		"under":           {lift.QuestionRule, func(l *lift.Lift) { l.Questions.NobodyUnder = 0 }},
		"latch":           {lift.QuestionRule, func(l *lift.Lift) { l.Questions.LatchClosed = 0 }},
		"free":            {lift.QuestionRule, func(l *lift.Lift) { l.Questions.Free = lift.No }},
		"trial":           {lift.QuestionRule, func(l *lift.Lift) { l.Questions.TrialLift = 0 }},
		"no links":        {lift.PathRule, func(l *lift.Lift) { l.Rig.Links = nil }},
		"no hoist":        {lift.PathRule, func(l *lift.Lift) { l.Rig.Links[2].Kind = lift.Trolley }},
		"out of order":    {lift.PathRule, func(l *lift.Lift) { l.Rig.Links[0], l.Rig.Links[5] = l.Rig.Links[5], l.Rig.Links[0] }},
		"one leg":         {lift.PathRule, func(l *lift.Lift) { l.Rig.Links[5].Pair = false }},
		"yoke's width":    {lift.PathRule, func(l *lift.Lift) { l.Rig.YokeWidth = 0 }},
		"marked for":      {lift.NoRatingRule, func(l *lift.Lift) { l.Rig.Links[5].MarkedFor = 0 }},
		"choker's rating": {lift.NoRatingRule, func(l *lift.Lift) { l.Rig.Hitch, l.Rig.Links[5].ChokerLoad = lift.Choker, 0 }},
		"grade":           {lift.ChainRule, func(l *lift.Lift) { l.Rig.Links[5].Grade = 0 }},
		"grade 70":        {lift.ChainRule, func(l *lift.Lift) { l.Rig.Links[5].Grade = lift.Grade70 }},
		"size":            {lift.ChainRule, func(l *lift.Lift) { l.Rig.Links[5].Size = 0 }},
		"tag above table": {lift.TagAboveRule, func(l *lift.Lift) { l.Rig.Links[5].RatedLoad = 3600 * pound }},
		"rig NaN":         {lift.RigRule, func(l *lift.Lift) { l.Rig.YokeWidth = math.NaN() }},
		"hold":            {lift.HoldRule, func(l *lift.Lift) { l.Holds = []plain.Sentence{plain.Say("the carriage is locked out")} }},
	}
	for name, one := range blank {
		l := goodLift(t)
		one.take(&l)
		v := lift.Check(l)
		require.False(t, v.Go, name)
		require.Contains(t, rules(v), one.rule, name)
	}
	perLink := map[string]struct {
		rule lift.Rule
		take func(l *lift.Link)
	}{
		"rating":          {lift.NoRatingRule, func(l *lift.Link) { l.RatedLoad = 0 }},
		"tag":             {lift.TagRule, func(l *lift.Link) { l.TagReadable = false }},
		"state":           {lift.StateRule, func(l *lift.Link) { l.State = 0 }},
		"out of service":  {lift.StateRule, func(l *lift.Link) { l.State = lift.OutOfService }},
		"destroyed":       {lift.StateRule, func(l *lift.Link) { l.State = lift.Destroyed }},
		"inspected":       {lift.InspectionRule, func(l *lift.Link) { l.Inspected = time.Time{} }},
		"due":             {lift.InspectionRule, func(l *lift.Link) { l.InspectionDue = time.Time{} }},
		"overdue":         {lift.InspectionRule, func(l *lift.Link) { l.InspectionDue = now.Add(-time.Second) }},
		"inspected later": {lift.InspectionRule, func(l *lift.Link) { l.Inspected = now.Add(time.Hour) }},
		"kind":            {lift.PathRule, func(l *lift.Link) { l.Kind = 0 }},
	}
	for name, one := range perLink {
		for i := range hookLift(t).Rig.Links {
			l := hookLift(t)
			one.take(&l.Rig.Links[i])
			v := lift.Check(l)
			require.False(t, v.Go, "%s of link %d", name, i)
			require.Contains(t, rules(v), one.rule, "%s of link %d", name, i)
		}
	}
	for i := 1; i < 7; i++ {
		l := hookLift(t)
		l.Rig.Links[i].OwnMass = 0
		require.Contains(t, rules(lift.Check(l)), lift.OwnMassRule)
	}
}

func TestAngleFloors(t *testing.T) {
	at := func(degrees, house float64) lift.Verdict {
		l := goodLift(t)
		l.Rig.HouseFloor = house
		l.Rig.LegLength = 0.3 / math.Cos(degrees*math.Pi/180)
		return lift.Check(l)
	}
	require.True(t, at(30, 0).Go, "%v", at(30, 0).Findings)
	require.Contains(t, rules(at(29.9, 0)), lift.FloorRule)
	require.False(t, at(29.9, 0).Go)
	require.True(t, at(45, 45).Go)
	require.Contains(t, rules(at(44.9, 45)), lift.HouseFloorRule)
	require.False(t, at(44.9, 45).Go)
}

func TestYokeAsWideAsThePieceIsNoGo(t *testing.T) {
	for _, span := range []float64{0.5, 0.4} {
		l := goodLift(t)
		l.Span = span
		v := lift.Check(l)
		require.False(t, v.Go)
		require.Contains(t, rules(v), lift.OutwardRule)
	}
}

func TestEndHooksNeedTheMakersBand(t *testing.T) {
	for _, band := range []lift.Band{{}, {Low: 30, High: 75}, {Source: "maker"}, {Low: 65, High: 75, Source: "maker"}, {Low: 30, High: 50, Source: "maker"}} {
		l := hookLift(t)
		l.Rig.EndHookBand = band
		v := lift.Check(l)
		require.False(t, v.Go, "%+v", band)
		require.Contains(t, rules(v), lift.GripRule)
	}
	l := hookLift(t)
	l.Questions.Seated = lift.Unanswered
	require.False(t, lift.Check(l).Go)
}

// What is said of an angle is the angle that is wrong, and who set the limit.
func TestTheAngleThatIsWrongIsTheOneSaid(t *testing.T) {
	l := hookLift(t)
	l.Piece.Balance, l.Rig.EndHookBand.High = l.Piece.Length/2+0.02, 53 // the piece tips: one leg comes steeper
	v := lift.Check(l)
	require.Equal(t, []lift.Rule{lift.GripRule}, rules(v))
	said := v.Findings[0].Said.Args[2].(plain.Degrees)
	require.Greater(t, said, plain.Degrees(53))
	require.Less(t, v.Angle, plain.Degrees(53))

	own, house := goodLift(t), goodLift(t)
	own.Rig.FloorAngle, house.Rig.HouseFloor = 61, 61
	require.NotContains(t, lift.Check(own).Findings[0].Source, "OSHA")
	require.Contains(t, lift.Check(house).Findings[0].Source, "mill")
	own.Rig.LegLength, own.Rig.FloorAngle = 0.33, 0
	require.Contains(t, lift.Check(own).Findings[0].Source, "OSHA")
}

func TestAPieceHangingFarOutOfLevelIsNoGo(t *testing.T) {
	l := hookLift(t)
	l.Piece.Small, l.Piece.Large = 11*inch, 18*inch // balances 6 cm off its middle
	v := lift.Check(l)
	require.False(t, v.Go)
	require.Contains(t, rules(v), lift.TiltRule)
	require.Greater(t, v.LegTension[1], v.LegTension[0]) // the nearer leg bears more
}

// 100 % is the edge; between the house margin and it a supervisor signs.
func TestHouseMarginAsksASupervisor(t *testing.T) {
	l := goodLift(t)
	load := float64(lift.Check(l).Bars[2].Load)
	for _, tc := range []struct {
		rated      float64
		goes, sign bool
	}{{load / 0.79, true, false}, {load / 0.81, true, true}, {load * 1.0001, true, true}, {load * 0.9999, false, false}} {
		l.Rig.Links[2].RatedLoad = tc.rated
		v := lift.Check(l)
		require.Equal(t, tc.goes, v.Go, "%v", v.Findings)
		require.Equal(t, tc.sign, v.NeedsSupervisor)
		if !tc.goes {
			require.Equal(t, lift.RatingRule, v.Findings[0].Rule)
			require.Equal(t, "the hoist", v.Weakest)
			require.InDelta(t, 1.0001, v.Findings[0].Ratio, 1e-4)
		}
	}
}

func TestFindingsStandWorstFirst(t *testing.T) {
	l := goodLift(t)
	beam := float64(lift.Check(l).Bars[0].Load)
	l.Rig.Links[2].RatedLoad, l.Rig.Links[4].RatedLoad, l.Rig.Links[0].RatedLoad = 60, 40, beam/0.9
	l.Questions.Free = lift.No
	v := lift.Check(l)
	require.Equal(t, "the yoke", v.Findings[0].Link)
	require.Equal(t, "the hoist", v.Findings[1].Link)
	require.Equal(t, lift.MarginRule, v.Findings[len(v.Findings)-1].Rule)
	require.Equal(t, "the yoke", v.Weakest)
}

// Grade 80, 3/8 in, at 52°: 10,000 lb, the 45° column. OSHA, Guidance on Safe
// Sling Use: between listed angles the next lower one counts.
func TestLegsBearWhatTheNextLowerColumnAllows(t *testing.T) {
	l := goodLift(t)
	leg := &l.Rig.Links[5]
	leg.Size, leg.RatedLoad = lift.Chain3_8, 7100*pound
	l.Rig.LegLength = 0.3 / math.Cos(52*math.Pi/180)
	v := lift.Check(l)
	require.InDelta(t, 10000*pound, 2*math.Sin(52*math.Pi/180)*float64(v.Bars[5].Limit), 0.01)
	pull := float64(v.Bars[5].Load)
	for _, tc := range []struct {
		over float64
		goes bool
	}{{1.001, true}, {0.999, false}} {
		// One leg pulled straight bears R, two at 45° R·√2 together.
		leg.RatedLoad = tc.over * pull * 2 * math.Sin(52*math.Pi/180) / math.Sqrt2
		require.Equal(t, tc.goes, lift.Check(l).Go)
	}
}

func TestAChokerIsJudgedByItsOwnRating(t *testing.T) {
	l := goodLift(t)
	l.Rig.Hitch = lift.Choker
	require.True(t, lift.Check(l).Go)
	l.Rig.Links[5].ChokerLoad = 60
	v := lift.Check(l)
	require.False(t, v.Go)
	require.Contains(t, rules(v), lift.RatingRule)
}

// A choker or basket round sawn wood bends over its corners. No figure covers
// that, so it is said and does not by itself forbid the lift.
func TestASlingRoundACornerIsTold(t *testing.T) {
	for shape, told := range map[lift.Shape]bool{lift.Squared: true, lift.Slabbed: true, lift.Round: false} {
		for hitch, round := range map[lift.Hitch]bool{lift.Choker: true, lift.Basket: true, lift.TwoLegBridle: false} {
			l := goodLift(t)
			l.Rig.Hitch, l.Piece.Shape = hitch, shape
			l.Piece.Width, l.Piece.Height, l.Piece.Middle = .3, .3, 0
			v := lift.Check(l)
			require.True(t, v.Go, "%v", v.Findings)
			require.Equal(t, told && round, slices.Contains(rules(v), lift.EdgeRule), "%s %s", shape, hitch)
		}
	}
}

func TestEndHooksWithoutEndHooksIsNoGo(t *testing.T) {
	l := hookLift(t)
	l.Rig.Links = l.Rig.Links[:6]
	v := lift.Check(l)
	require.False(t, v.Go)
	require.Contains(t, rules(v), lift.PathRule)
	l = hookLift(t)
	l.Rig.Links[6].Pair = false
	require.False(t, lift.Check(l).Go)
}

func TestHookPointsMustFitOnThePiece(t *testing.T) {
	l := goodLift(t)
	l.Piece.Balance = 0.4 // of 1.25, with hooks 1.1 apart about it
	v := lift.Check(l)
	require.False(t, v.Go)
	require.Contains(t, rules(v), lift.BalanceRule)
	l = goodLift(t)
	l.Span = 1.4
	require.Contains(t, rules(lift.Check(l)), lift.SpanRule)
}
