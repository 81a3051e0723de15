package lift_test

import (
	"math/rand/v2"
	"slices"
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

// states are the conditions from dry to wet.
func states() []lift.Condition {
	return []lift.Condition{lift.AirDry, lift.PartDry, lift.Green, lift.Soaked}
}

// wetter is the same piece with x more water, or in the next wetter state.
func wetter(p *lift.Piece, x float64) {
	p.Moisture += 0.3 * x
	if at := slices.Index(states(), p.Condition); at >= 0 && at+1 < len(states()) {
		p.Condition = states()[at+1]
	}
}

// legs makes the first leg so long, and the other in the same proportion.
func legs(l *lift.Lift, long float64) {
	l.Rig.SecondLeg *= long / l.Rig.LegLength
	l.Rig.LegLength = long
}

func promises() []promise {
	return []promise{
		{"heavier kind", func(l *lift.Lift, x float64) { l.Piece.Species.Gravity += 0.3 * x },
			func(l *lift.Lift) { l.Piece.Species.Gravity = 1.2 - l.Piece.Species.Gravity }},
		{"kind of more water", func(l *lift.Lift, x float64) {
			l.Piece.Species.MeanMoisture += x
			l.Piece.Species.HeartMoisture += x
			l.Piece.Species.SapMoisture += x
		}, func(l *lift.Lift) {
			s := &l.Piece.Species
			s.MeanMoisture, s.HeartMoisture, s.SapMoisture = 2-s.MeanMoisture, 2-s.HeartMoisture, 2-s.SapMoisture
		}},
		{"larger", func(l *lift.Lift, x float64) {
			p := &l.Piece
			p.Small, p.Large, p.Width, p.Height, p.Volume = p.Small+0.3*x, p.Large+0.3*x, p.Width+0.3*x, p.Height+0.3*x, p.Volume*(1+x)
		}, func(l *lift.Lift) {
			p := &l.Piece
			p.Small, p.Width, p.Volume = 0.9-p.Small, 0.9-p.Width, 0.5-p.Volume
			p.Large = p.Small + 0.05
		}},
		{"less sawn off", func(l *lift.Lift, x float64) { l.Piece.Slabs[1] *= 1 - x },
			func(l *lift.Lift) { l.Piece.Slabs[1] = 0.12 - l.Piece.Slabs[1] }},
		{"longer", func(l *lift.Lift, x float64) { l.Piece.Length += x },
			func(l *lift.Lift) { l.Piece.Length = 4.2 - l.Piece.Length }},
		{"wetter", func(l *lift.Lift, x float64) { wetter(&l.Piece, x) },
			func(l *lift.Lift) {
				l.Piece.Moisture = 0.9 - l.Piece.Moisture
				if at := slices.Index(states(), l.Piece.Condition); at >= 0 {
					l.Piece.Condition = states()[3-at]
				}
			}},
		{"bark on", func(l *lift.Lift, _ float64) { l.Piece.Bark = true },
			func(l *lift.Lift) { l.Piece.Bark = !l.Piece.Bark }},
		{"more ice", func(l *lift.Lift, x float64) { l.Piece.Weather.Ice += 0.05 * x },
			func(l *lift.Lift) { l.Piece.Weather.Ice = 0.1 - l.Piece.Weather.Ice }},
		{"flatter", func(l *lift.Lift, x float64) { legs(l, l.Rig.LegLength-0.5*x) },
			func(l *lift.Lift) { legs(l, 1.3-l.Rig.LegLength) }},
		{"narrower yoke", func(l *lift.Lift, x float64) { l.Rig.YokeWidth -= 0.45 * x },
			func(l *lift.Lift) { l.Rig.YokeWidth = 0.9 - l.Rig.YokeWidth }},
		{"lower rating", func(l *lift.Lift, x float64) { l.Rig.Links[2].RatedLoad *= 1 - x },
			func(l *lift.Lift) { l.Rig.Links[2].RatedLoad = 1000 - l.Rig.Links[2].RatedLoad }},
		{"lower rating of the legs", func(l *lift.Lift, x float64) { l.Rig.Links[5].RatedLoad *= 1 - x },
			func(l *lift.Lift) { l.Rig.Links[5].RatedLoad = 1600 - l.Rig.Links[5].RatedLoad }},
		{"heavier gear", func(l *lift.Lift, x float64) { l.Rig.Links[4].OwnMass += 100 * x },
			func(l *lift.Lift) { l.Rig.Links[4].OwnMass = 200 - l.Rig.Links[4].OwnMass }},
		{"rating unknown", func(l *lift.Lift, _ float64) { l.Rig.Links[2].RatedLoad = 0 },
			func(l *lift.Lift) {
				if l.Rig.Links[2].RatedLoad == 0 {
					l.Rig.Links[2].RatedLoad = 900 // a guess in place of a mark
				}
			}},
		{"legs' rating unknown", func(l *lift.Lift, _ float64) { l.Rig.Links[5].MarkedFor = lift.ColumnUnknown },
			func(l *lift.Lift) {
				if l.Rig.Links[5].MarkedFor == lift.ColumnUnknown {
					l.Rig.Links[5].MarkedFor = lift.OneLeg // as if a mark said so
				}
			}},
	}
}

// keeps tells whether the rule keeps the promise on one lift: harder never
// turns NO-GO into GO. A piece that would tip over has no pulls to hold against
// a rating; it is forbidden for that.
func (p *promise) keeps(rule judge, l lift.Lift, x float64) bool {
	harder := l
	harder.Rig.Links = append([]lift.Link{}, l.Rig.Links...)
	p.harder(&harder, x)
	after := rule(harder)
	tips := len(after.LegTension) == 0 && !after.Go
	return strong(rule(l)) || !strong(after) || tips
}

// promised is a lift near the edge: every shape and state, each hitch of a sling,
// legs from flat to steep and of one length or two. End hooks bear no more than
// their legs; their own promises stand in the tests of the band.
func promised(l lift.Lift, between func(low, high float64) float64) lift.Lift {
	pick := func(n int) int { return min(n-1, int(between(0, float64(n)))) }
	p := lift.Piece{Species: l.Piece.Species, Length: between(1.2, 3), Moisture: between(0.05, 0.6)}
	p.Shape = lift.Shape(1 + pick(4))
	p.Condition = append(states(), lift.MeasuredMoisture)[pick(5)]
	p.Small, p.Width, p.Height, p.Volume = between(0.2, 0.5), between(0.08, 0.5), between(0.08, 0.5), between(0.02, 0.4)
	p.Large = p.Small + 0.05
	if p.Shape == lift.Slabbed {
		p.Slabs = [4]float64{between(0.01, 0.06), between(0, 0.06), between(0, 0.06), between(0, 0.06)}
	}
	if p.Shape == lift.Measured {
		p.Weather.IceArea = 2
	}
	l.Piece = p
	l.Rig.Hitch = []lift.Hitch{lift.TwoLegBridle, lift.Choker, lift.Basket}[pick(3)]
	l.Rig.LegLength = between(0.31, 1)
	if pick(3) == 0 {
		l.Rig.SecondLeg = l.Rig.LegLength * between(0.97, 1.03)
	}
	l.Rig.Links[2].RatedLoad, l.Rig.Links[5].RatedLoad = between(60, 900), between(60, 1500)
	l.Rig.Links[5].MarkedFor = lift.Column(1 + pick(4))
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
