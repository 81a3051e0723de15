package lift_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/lift"
)

// judge is the rule under test: the real one, or one broken on purpose.
type judge func(lift.Lift) lift.Verdict

// strong tells whether nothing of strength or angle forbids the lift.
func strong(v lift.Verdict) bool {
	for _, f := range v.Findings {
		switch f.Rule {
		case lift.RatingRule, lift.NoRatingRule, lift.FloorRule, lift.HouseFloorRule, lift.PieceRule, lift.RigRule, lift.SpanRule, lift.OutwardRule:
			if f.Blocks {
				return false
			}
		}
	}
	return v.Weight.Upper > 0
}

// promise is one way to make a lift harder, by a share x between 0 and 1, and a
// rule that has it the wrong way round.
type promise struct {
	name   string
	harder func(l *lift.Lift, x float64)
	broken func(l *lift.Lift)
}

func promises() []promise {
	return []promise{
		{"heavier kind", func(l *lift.Lift, x float64) { l.Piece.Species.Gravity += 0.3 * x },
			func(l *lift.Lift) { l.Piece.Species.Gravity = 1.2 - l.Piece.Species.Gravity }},
		{"larger", func(l *lift.Lift, x float64) { l.Piece.Small += 0.3 * x; l.Piece.Large += 0.3 * x },
			func(l *lift.Lift) { l.Piece.Small = 0.9 - l.Piece.Small; l.Piece.Large = l.Piece.Small + 0.05 }},
		{"longer", func(l *lift.Lift, x float64) { l.Piece.Length += x },
			func(l *lift.Lift) { l.Piece.Length = 4.2 - l.Piece.Length }},
		{"wetter", func(l *lift.Lift, x float64) { l.Piece.Moisture += 0.3 * x },
			func(l *lift.Lift) { l.Piece.Moisture = 0.9 - l.Piece.Moisture }},
		{"flatter", func(l *lift.Lift, x float64) { l.Rig.LegLength -= 0.5 * x },
			func(l *lift.Lift) { l.Rig.LegLength = 1.3 - l.Rig.LegLength }},
		{"lower rating", func(l *lift.Lift, x float64) { l.Rig.Links[2].RatedLoad *= 1 - x },
			func(l *lift.Lift) { l.Rig.Links[2].RatedLoad = 1000 - l.Rig.Links[2].RatedLoad }},
		{"heavier gear", func(l *lift.Lift, x float64) { l.Rig.Links[4].OwnMass += 100 * x },
			func(l *lift.Lift) { l.Rig.Links[4].OwnMass = 200 - l.Rig.Links[4].OwnMass }},
		{"rating unknown", func(l *lift.Lift, _ float64) { l.Rig.Links[2].RatedLoad = 0 },
			func(l *lift.Lift) {
				if l.Rig.Links[2].RatedLoad == 0 {
					l.Rig.Links[2].RatedLoad = 900 // a guess in place of a mark
				}
			}},
	}
}

// keeps tells whether the rule keeps the promise on one lift: harder never
// turns NO-GO into GO.
func (p *promise) keeps(rule judge, l lift.Lift, x float64) bool {
	harder := l
	harder.Rig.Links = append([]lift.Link{}, l.Rig.Links...)
	p.harder(&harder, x)
	return strong(rule(l)) || !strong(rule(harder))
}

// promised is a lift near the edge: round, moisture measured, legs from flat to steep.
func promised(l lift.Lift, between func(low, high float64) float64) lift.Lift {
	l.Piece = lift.Piece{Shape: lift.Round, Length: between(1.2, 3), Small: between(0.2, 0.5), Species: l.Piece.Species,
		Condition: lift.MeasuredMoisture, Moisture: between(0.05, 0.6)}
	l.Piece.Large = l.Piece.Small + 0.05
	l.Rig.LegLength = between(0.31, 1)
	l.Rig.Links[2].RatedLoad = between(60, 900)
	return l
}

func TestEachPromiseOfStrengthHolds(t *testing.T) {
	for _, p := range promises() {
		rapid.Check(t, func(t *rapid.T) {
			l := promised(goodLift(t), func(low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, "x") })
			require.True(t, p.keeps(lift.Check, l, rapid.Float64Range(0, 1).Draw(t, "by")), p.name)
		})
	}
}

// The same promise is seen to fail with a rule that has it the wrong way round.
func TestEachPromiseIsSeenToFailOnABrokenRule(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	for _, p := range promises() {
		broken := func(l lift.Lift) lift.Verdict {
			l.Rig.Links = append([]lift.Link{}, l.Rig.Links...)
			p.broken(&l)
			return lift.Check(l)
		}
		failed := false
		for range 3000 {
			l := promised(goodLift(t), func(low, high float64) float64 { return low + (high-low)*random.Float64() })
			if p.name == "rating unknown" {
				l.Rig.Links[2].RatedLoad = 61
			}
			if !p.keeps(broken, l, random.Float64()) {
				failed = true
				break
			}
		}
		require.True(t, failed, "%s: the broken rule was not found out", p.name)
	}
}
