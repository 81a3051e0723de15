package lift

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// How many questions are open, which were refused, and what is said of both.
func TestOpenAndRefusedQuestionsAreCountedApart(t *testing.T) {
	sling, hooks := Rig{Hitch: Basket}, Rig{Hitch: EndHooks}
	require.Len(t, sling.Asks(), 5)
	require.Len(t, hooks.Asks(), 6)
	require.Equal(t, "seated", hooks.Asks()[5].Field)
	for name, tc := range map[string]struct {
		q             Questions
		open, refused [2]int // on slings, on end hooks
		all           [2]int
	}{
		"none answered": {Questions{}, [2]int{5, 6}, [2]int{0, 0}, [2]int{5, 6}},
		"all yes":       {Questions{Yes, Yes, Yes, Yes, Yes, Yes}, [2]int{0, 0}, [2]int{0, 0}, [2]int{0, 0}},
		"all no":        {Questions{No, No, No, No, No, No}, [2]int{0, 0}, [2]int{5, 6}, [2]int{5, 6}},
		"last no":       {Questions{Yes, Yes, Yes, Yes, Yes, No}, [2]int{0, 0}, [2]int{0, 1}, [2]int{0, 1}},
		"some":          {Questions{Yes, No, Unanswered, Yes, Unanswered, Yes}, [2]int{2, 2}, [2]int{1, 1}, [2]int{3, 3}},
		"no such":       {Questions{Yes, Yes, 9, Yes, Yes, Yes}, [2]int{0, 0}, [2]int{1, 1}, [2]int{1, 1}},
	} {
		for i, r := range []Rig{sling, hooks} {
			given := tc.q
			require.Equal(t, tc.open[i], r.Open(given), name)
			require.Len(t, r.Refused(given), tc.refused[i], name)
			require.Len(t, r.Refusals(given), tc.all[i], name)
			require.Equal(t, tc.q, given)
		}
	}
	refusals := sling.Refusals(Questions{No, Unanswered, Yes, Yes, Yes, Yes})
	require.Equal(t, "answered no: the place it lands on is clear and ready", refusals[0].Said.String())
	require.Equal(t, "not answered: nobody is under the load or between it and anything it could swing against", refusals[1].Said.String())
	require.Equal(t, "29 CFR 1910.179(n)(3)(vi)", refusals[1].Source)
	require.Equal(t, "one question at the hook still to be answered with yes", StillOpen(1).String())
	require.Equal(t, "2 questions at the hook still to be answered with yes", StillOpen(2).String())
	require.Equal(t, "0 questions at the hook still to be answered with yes", StillOpen(0).String())
	require.Nil(t, (&Questions{}).At("no such"))
}

// What is done first, in words: each cause one step, the parts of it named in it.
func TestWhatHasToBeDoneFirstIsSaidOnceForEachCause(t *testing.T) {
	l := soundLift()
	l.Holds = []plain.Sentence{plain.Say("the saw is locked out"), plain.Say("the belt is off")}
	l.Questions = Questions{No, No, Yes, Unanswered, Yes, Yes}
	l.Rig.Links[0].TagReadable, l.Rig.Links[2].TagReadable = false, false
	l.Rig.Links[1].State, l.Rig.Links[3].InspectionDue = OutOfService, atWork.AddDate(0, 0, -1)
	given := Check(l)
	all := Remedies(l)
	require.Len(t, all, 1)
	var steps []string
	for _, s := range all[0].Steps {
		steps = append(steps, string(s.Kind)+": "+s.Said.String())
	}
	require.Equal(t, []string{
		"hold: what holds the lift is cleared first: the saw is locked out; the belt is off",
		"answers: made so at the hook, and answered yes: the place it lands on is clear and ready; nobody is under the load or between it and anything it could swing against; and one question at the hook still to be answered with yes",
		"tag: a tag that can be read, or a marked part in its place: the beam, the hoist-hook",
		"part: a part in service in its place: the hoist",
		"inspection: inspected by someone who may, found sound and dated: the yoke",
	}, steps)
	require.False(t, all[0].Alone())
	require.True(t, all[0].Changed.Rig.Links[3].InspectionDue.Equal(atWork.AddDate(0, 0, 1)))
	require.Equal(t, given, Check(l), "the lift itself is left as it is")
	rigging, answers := all[0].Apart()
	require.Contains(t, rigging.String(), "only together, none of them is enough alone: ")
	require.NotContains(t, rigging.String(), "at the hook")
	require.Contains(t, answers.String(), "made so at the hook")
	l = soundLift()
	l.Questions.Free = No
	require.Equal(t, "made so at the hook, and answered yes: the piece is free on all sides: not frozen down, dogged or caught", Remedies(l)[0].Said().String())
	// What a remedy says of a signature, with and without other steps.
	for name, tc := range map[string]struct {
		r             Remedy
		said, rigging string
	}{
		"signature alone": {Remedy{Steps: []Step{{Kind: SignedFor, Said: plain.Say("signed")}}, NeedsSupervisor: true}, "signed", "signed"},
		"signed besides":  {Remedy{Steps: []Step{{Kind: OtherSpan, Said: plain.Say("apart")}}, NeedsSupervisor: true}, "apart; a supervisor signs as well", "apart; a supervisor signs as well"},
		"not signed":      {Remedy{Steps: []Step{{Kind: OtherSpan, Said: plain.Say("apart")}}}, "apart", "apart"},
		"answers alone":   {Remedy{Steps: []Step{{Kind: AnsweredYes, Said: plain.Say("answered")}}}, "answered", ""},
	} {
		require.Equal(t, tc.said, tc.r.Said().String(), name)
		rigging, _ := tc.r.Apart()
		require.Equal(t, tc.rigging, rigging.String(), name)
	}
	require.True(t, join(nil).Empty())
	one, two := Remedy{Steps: make([]Step, 1)}, Remedy{Steps: make([]Step, 2)}
	require.Len(t, fewest([]Remedy{two, one, two, one}), 2)
	require.Len(t, fewest([]Remedy{two, two}), 2)
	require.Empty(t, fewest(nil))
	for name, rule := range map[string]Rule{"rated": RatingRule, "unknown": NoRatingRule, "chain": ChainRule, "tag": TagAboveRule} {
		require.True(t, strengthOf(Finding{Rule: rule, Blocks: true}), name)
		require.False(t, strengthOf(Finding{Rule: rule}), name)
	}
	require.False(t, strengthOf(Finding{Rule: TiltRule, Blocks: true}))
	for size := SizeUnknown; size <= Chain1_1_4+1; size++ {
		require.Equal(t, size >= Chain7_32 && size <= Chain1_1_4, size.inches() > 0, size.String())
	}
}

// Marked settings are other ways to hang a piece: of the same yoke, and not the one
// it hangs by.
func TestOtherSettingsAreOtherWaysToHang(t *testing.T) {
	l := soundLift()
	l.Rig.Settings = []Setting{{"same", 0.5, 0.6, 0}, {"wider", 0.6, 0.6, 0}, {"longer", 0.5, 0.7, 0}, {"unlike", 0.5, 0.6, 0.61}, {"no yoke", 0, 0.6, 0}}
	names := func(l Lift) (all []string) {
		for _, b := range (attempt{lift: l}).hangs() {
			all = append(all, b.lift.Rig.Setting+b.steps[0].Said.String())
		}
		return all
	}
	require.Equal(t, []string{"widerthe yoke set to wider", "longerthe yoke set to longer", "unlikethe yoke set to unlike"}, names(l))
	l.Rig.YokeWidth = 0
	require.Equal(t, []string{"no yokethe yoke set to no yoke"}, names(func() Lift { l := l; l.Rig.LegLength = 0.5; return l }()))
	l.Placing = AtEnds
	require.Contains(t, names(l)[0], "the hook points set at equal distances from the balance point")
	l.Rig.Hitch = EndHooks
	require.NotContains(t, names(l), "the hook points set at equal distances from the balance point, as a trial lift shows it")
	// Each length that can be changed is one search.
	for name, tc := range map[string]struct {
		take func(l *Lift)
		want int
	}{
		"yoke":           {func(*Lift) {}, 7},
		"no yoke":        {func(l *Lift) { l.Rig.YokeWidth = 0 }, 5},
		"marked":         {func(l *Lift) { l.Rig.Settings = make([]Setting, 1) }, 5},
		"no legs":        {func(l *Lift) { l.Rig.LegLength = 0 }, 6},
		"no span":        {func(l *Lift) { l.Span = 0 }, 6},
		"end hooks":      {func(l *Lift) { l.Rig.Hitch = EndHooks }, 5},
		"hooks, no yoke": {func(l *Lift) { l.Rig.Hitch, l.Rig.YokeWidth = EndHooks, 0 }, 3},
	} {
		l := soundLift()
		tc.take(&l)
		require.Len(t, (attempt{lift: l}).searches(), tc.want, name)
	}
	// Shortened, a piece keeps its shares of volume and balance, and the span of end
	// hooks comes in by as much.
	l = soundLift()
	l.Piece.Volume, l.Piece.Balance = 0.4, 1.1
	l.shorten(1.5)
	require.InDelta(t, 1.1, l.Span, 0)
	require.InDelta(t, 0.3, l.Piece.Volume, 1e-12)
	require.InDelta(t, 0.825, l.Piece.Balance, 1e-12)
	l.Rig.Hitch = EndHooks
	l.shorten(1.4)
	require.InDelta(t, 1.0, l.Span, 1e-12)
	l.relegs(0.7)
	require.Equal(t, [2]float64{0.7, 0}, [2]float64{l.Rig.LegLength, l.Rig.SecondLeg})
	l.Rig.SecondLeg = 0.5
	l.relegs(0.8)
	require.InDelta(t, 0.6, l.Rig.SecondLeg, 1e-12)
	l.relegs(0.1)
	require.Zero(t, l.Rig.SecondLeg)
	b, ok := (attempt{lift: soundLift()}).shorterAnyway()
	require.True(t, ok)
	require.InDelta(t, 1, b.lift.Piece.Length, 0)
	require.Equal(t, "the piece no longer than 1.000 m", b.steps[0].Said.String())
	for length, shorter := range map[float64]float64{0.5: 0.3, 0.3: 0} {
		l := soundLift()
		l.Piece.Length = length
		b, ok = (attempt{lift: l}).shorterAnyway()
		require.Equal(t, shorter > 0, ok)
		if ok {
			require.InDelta(t, shorter, b.lift.Piece.Length, 0)
		}
	}
	l = soundLift()
	l.Rig.YokeWidth = 0.5004
	for leg, longer := range map[float64]bool{0.5: true, 0.599: true, 0.6: false, 0.7: false} {
		l.Rig.LegLength = leg
		b, ok = (attempt{lift: l}).steeper()
		require.Equal(t, longer, ok, leg)
		require.InDelta(t, 0.6, b.lift.Rig.LegLength, 1e-9)
	}
	l.Rig.YokeWidth, l.Span, l.Rig.LegLength = 0, 6, 5
	_, ok = (attempt{lift: l}).steeper()
	require.True(t, ok)
	l.Span = 6.01
	_, ok = (attempt{lift: l}).steeper()
	require.False(t, ok)
}
