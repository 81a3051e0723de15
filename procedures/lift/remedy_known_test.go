package lift_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// straight is the good lift with a squared piece of density typed in, so that what
// a remedy has to find can be worked out by hand: it weighs at the most (0.3 +
// 0.0032)(0.2 + 0.0032)(L + 0.0127) × 800 × 1.1645 kg, half a step of the ruler over.
func straight(t require.TestingT) lift.Lift {
	l := goodLift(t)
	l.Piece = lift.Piece{Shape: lift.Squared, Length: 1.25, Width: 0.3, Height: 0.2, Density: 800, Species: kind(t, "eastern white pine")}
	return l
}

const (
	halfStep = 0.125 * 0.0254
	perMetre = (0.3 + halfStep) * (0.2 + halfStep) * 800 * 1.1645 // kg
)

func upperOf(length float64) float64 { return perMetre * (length + 0.0127) }

func alone(t *testing.T, l lift.Lift, kind lift.RemedyKind) (said string, changed lift.Lift) {
	t.Helper()
	for _, r := range lift.Remedies(l) {
		if r.Alone() && r.Steps[0].Kind == kind {
			require.True(t, lift.Check(r.Changed).Go)
			return r.Steps[0].Said.String(), r.Changed
		}
	}
	t.Fatalf("no remedy %s: %v", kind, lift.Remedies(l))
	return "", l
}

// Lengths by the closed formulas of the hang: cos 30° = reach / leg, and the height
// left for the legs. To the millimetre on the safe side; own arithmetic.
func TestLengthsOfRemediesAreThoseOfTheFormulas(t *testing.T) {
	flat := straight(t)
	flat.Rig.LegLength = 0.33 // 0.3 m out: 24.6°
	said, _ := alone(t, flat, lift.LongerLegs)
	require.Equal(t, "legs of 0.347 m or more", said) // 0.3/cos 30° = 0.34641
	said, changed := alone(t, flat, lift.OtherYoke)
	require.Equal(t, "a yoke 0.529 m wide between the legs", said) // 1.1 − 2 × 0.33 cos 30° = 0.52842
	require.InDelta(t, 0.529, changed.Rig.YokeWidth, 1e-9)
	said, changed = alone(t, flat, lift.OtherSpan)
	require.Equal(t, "hook points 1.071 m apart", said) // 0.5 + 2 × 0.33 cos 30° = 1.07158
	require.InDelta(t, 1.071, changed.Span, 1e-9)

	wide := straight(t)
	wide.Rig.YokeWidth = 1.15
	said, _ = alone(t, wide, lift.OtherYoke)
	require.Equal(t, "a yoke 1.099 m wide between the legs", said)

	low := straight(t)
	low.Rig.HookToYoke, low.Rig.Headroom = 0.2, 1.0
	said, changed = alone(t, low, lift.ShorterLegs)
	require.Equal(t, "legs of 0.460 m or less", said) // 1 − 0.2 − 0.3 − 0.15 = 0.35 of height: √(0.35² + 0.3²) = 0.46098
	require.InDelta(t, 0.46, changed.Rig.LegLength, 1e-9)

	// Two lengths: the second leg goes with the first.
	unequal := flat
	unequal.Rig.SecondLeg = 0.335
	unequal.Placing = lift.HungLevel
	_, changed = alone(t, unequal, lift.LongerLegs)
	require.InDelta(t, 0.005, changed.Rig.SecondLeg-changed.Rig.LegLength, 1e-9)

	noSpan := straight(t)
	noSpan.Span = 0
	said, _ = alone(t, noSpan, lift.OtherSpan)
	require.Equal(t, "hook points 1.250 m apart", said)
}

// 300 kg on the hoist, 27 of it gear: the longest piece of 273 kg.
func TestLongestPieceIsThatOfItsWeight(t *testing.T) {
	l := straight(t)
	l.Piece.Length = 5.9
	require.InDelta(t, upperOf(5.9), float64(lift.Check(l).Weight.Upper), 1e-9)
	for i := range l.Rig.Links {
		l.Rig.Links[i].RatedLoad = 5000
	}
	leg := &l.Rig.Links[5]
	leg.RatedLoad = 3500 * pound
	l.Rig.Links[2].RatedLoad = 300
	longest := (300-27)/perMetre - 0.0127
	said, changed := alone(t, l, lift.ShorterPiece)
	require.Equal(t, "the piece no longer than "+plain.Metres(math.Floor(longest*1000)/1000).String(), said)
	require.Equal(t, lift.OverBalance, changed.Placing)
	// The least rating that bears it, in whole kilograms over what it bears.
	load := upperOf(5.9) + 27
	said, changed = alone(t, l, lift.HigherRating)
	rated := changed.Rig.Links[2].RatedLoad
	require.GreaterOrEqual(t, rated, load)
	require.Less(t, rated, load+1.25)
	require.Equal(t, math.Ceil(rated), rated)
	require.Equal(t, "the hoist replaced by one rated "+plain.Kilograms(rated).String()+" or more, as heavy at the most", said)
}

// What a yoke of unknown weight may weigh is what the hoist's 500 kg leave it.
func TestGearOfUnknownWeightMayWeighWhatIsLeft(t *testing.T) {
	l := straight(t)
	l.Rig.Links[4].OwnMass = 0
	_, changed := alone(t, l, lift.WeighedGear)
	left := 500 - upperOf(1.25) - 3 - 6
	require.LessOrEqual(t, changed.Rig.Links[4].OwnMass, left)
	require.Greater(t, changed.Rig.Links[4].OwnMass, left-0.1)
	said := lift.Remedies(l)[0].Steps[0].Said.String()
	require.Equal(t, "weighed, and found to be no more than "+plain.Kilograms(changed.Rig.Links[4].OwnMass).String()+" each: the yoke", said)
	// The two together, each as much.
	l.Rig.Links[3].OwnMass = 0
	_, changed = alone(t, l, lift.WeighedGear)
	require.InDelta(t, (500-upperOf(1.25)-6)/2, changed.Rig.Links[4].OwnMass, 0.1)
	require.Equal(t, changed.Rig.Links[4].OwnMass, changed.Rig.Links[3].OwnMass)
	for i := range l.Rig.Links {
		l.Rig.Links[i].RatedLoad = 1e5
	}
	leg := &l.Rig.Links[5]
	leg.RatedLoad = 3500 * pound
	_, changed = alone(t, l, lift.WeighedGear)
	require.InDelta(t, 1e4, changed.Rig.Links[4].OwnMass, 0.1) // no gear of such a rig weighs more
	l.Rig.Links[2].RatedLoad = 60
	for _, r := range lift.Remedies(l) {
		for _, s := range r.Steps {
			require.NotEqual(t, lift.WeighedGear, s.Kind, "too weak for the piece alone")
		}
	}
}

// Of the published sizes the next that is enough, as much heavier as its section
// is: OSHA, Guidance on Safe Sling Use, Table 1: 2100, 3500 and 4500 lb a leg.
func TestNextChainOfTheTableIsTheRemedy(t *testing.T) {
	heavy := func(kg float64) lift.Lift {
		l := straight(t)
		l.Piece = lift.Piece{Shape: lift.Measured, Length: 1.25, Balance: 0.625, Volume: kg / 800 / 1.1645, Density: 800, Species: kind(t, "eastern white pine")}
		for i := range l.Rig.Links {
			l.Rig.Links[i].RatedLoad = 20000
		}
		leg := &l.Rig.Links[5]
		leg.Size, leg.RatedLoad, leg.OwnMass = lift.Chain7_32, 2100*pound, 7
		return l
	}
	for kg, want := range map[float64]struct {
		size  lift.ChainSize
		rated float64
		said  string
	}{
		2000: {lift.Chain9_32, 3500, "the leg replaced by Grade 80 chain of 9/32 in, rated 1587.6 kg a leg"},
		3000: {lift.Chain5_16, 4500, "the leg replaced by Grade 80 chain of 5/16 in, rated 2041.2 kg a leg"},
	} {
		said, changed := alone(t, heavy(kg), lift.HigherRating)
		leg := changed.Rig.Links[5]
		require.Equal(t, want.said, said)
		require.Equal(t, want.size, leg.Size)
		require.InDelta(t, want.rated*pound, leg.RatedLoad, 1e-9)
		inches := map[lift.ChainSize]float64{lift.Chain9_32: 9. / 32, lift.Chain5_16: 5. / 16}[want.size]
		require.InDelta(t, 7*math.Pow(inches/(7./32), 2), leg.OwnMass, 1e-9)
	}
	hundred := heavy(2000)
	hundred.Rig.Links[5].Grade = lift.Grade100
	hundred.Rig.Links[5].RatedLoad = 1000 * pound
	said, _ := alone(t, hundred, lift.HigherRating)
	require.Equal(t, "the leg replaced by Grade 100 chain of 7/32 in, rated 1224.7 kg a leg", said)
	weak := heavy(2000)
	weak.Rig.Links[5].Grade, weak.Rig.Links[5].Size = lift.GradeUnknown, lift.SizeUnknown
	said, changed := alone(t, weak, lift.HigherRating)
	require.Contains(t, said, "Grade 80 chain of 9/32 in")
	require.InDelta(t, 7, changed.Rig.Links[5].OwnMass, 0, "of a chain nobody knows the size of, as heavy")
	choker := heavy(2000)
	choker.Rig.Hitch, choker.Rig.Links[5].ChokerLoad = lift.Choker, 100
	said, changed = alone(t, choker, lift.HigherRating)
	pull := (2000 + 7*math.Pow(9./7, 2)) / 2 / math.Sin(math.Pi/3)
	require.Equal(t, "the leg replaced by Grade 80 chain of 9/32 in, rated 1587.6 kg a leg, and "+plain.Kilograms(math.Ceil(pull)).String()+" as a choker", said)
	require.InDelta(t, math.Ceil(pull), changed.Rig.Links[5].ChokerLoad, 0)
	rope := heavy(2000)
	rope.Rig.Links[5].Grade, rope.Rig.Links[5].MarkedFor = lift.NotChain, lift.ColumnUnknown
	_, changed = alone(t, rope, lift.HigherRating)
	require.Equal(t, lift.OneLeg, changed.Rig.Links[5].MarkedFor)
	require.InDelta(t, 2007/2/math.Sin(math.Pi/3), changed.Rig.Links[5].RatedLoad, 1.25)
	rope.Rig.Hitch, rope.Rig.Links[5].ChokerLoad = lift.Choker, 10
	_, changed = alone(t, rope, lift.HigherRating)
	require.InDelta(t, math.Ceil(2007/2/math.Sin(math.Pi/3)), changed.Rig.Links[5].ChokerLoad, 0)
	// Heavier than any chain of the table bears at 60°: 72 300 lb a leg.
	for _, r := range lift.Remedies(heavy(9000)) {
		require.NotEmpty(t, r.Steps)
	}
	two := heavy(2000)
	two.Rig.Links[5].RatedLoad, two.Rig.Links[5].Grade, two.Rig.Links[0].RatedLoad = 0, lift.NotChain, 0
	all := lift.Remedies(two)
	require.Len(t, all, 1)
	require.Len(t, all[0].Steps, 2)
	require.Equal(t, "the beam replaced by one rated 2076.0 kg or more, as heavy at the most", all[0].Steps[0].Said.String()) // 2000 + 76 of gear
	require.Contains(t, all[0].Steps[1].Said.String(), "the leg replaced by one rated 1159.0 kg or more")                     // 2007/2/sin 60° = 1158.7
}

// Flat legs and a weak hoist together: legs at 60°, as long as they reach out
// twice, or the piece half as long; and the hoist that bears it.
func TestPairsOfRemediesAreThoseOfTheFormulas(t *testing.T) {
	l := straight(t)
	l.Rig.YokeWidth, l.Rig.LegLength, l.Rig.Links[2].RatedLoad, l.Rig.Links[2].OwnMass = 0.5004, 0.33, 20, 1
	var steps []string
	for _, r := range lift.Remedies(l) {
		require.Len(t, r.Steps, 2)
		require.Equal(t, lift.HigherRating, r.Steps[1].Kind)
		require.Contains(t, r.Said().String(), "only together, none of them is enough alone: ")
		steps = append(steps, r.Steps[0].Said.String())
	}
	require.Equal(t, []string{"legs of 0.600 m"}, steps)
	// A piece too heavy for the hoist and for its longest legs: half of it.
	l = straight(t)
	l.Piece.Length, l.Span = 5.8, 1.1
	for i := range l.Rig.Links {
		l.Rig.Links[i].RatedLoad = 20000
	}
	leg := &l.Rig.Links[5]
	leg.Grade, leg.RatedLoad, leg.OwnMass = lift.NotChain, 5000, 6
	l.Rig.Links[3].RatedLoad = 5
	said := ""
	for _, r := range lift.Remedies(l) {
		said += r.Said().String() + "\n"
	}
	require.Contains(t, said, "the hoist-hook replaced by one rated ")
}
