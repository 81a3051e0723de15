package lift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestMiddleFatterThanTheMeanIsNotWeighedBySmalian(t *testing.T) {
	p := oakPiece(t)
	p.Shape, p.Small, p.Middle, p.Large = Round, .30, .40, .42
	require.InDelta(t, Newton(.30, .40, .42, p.Length), p.woodWith(Reading{}, true).volume, 1e-12)
	p.Middle = .34 // leaner: Smalian's is the fuller
	require.InDelta(t, Smalian(.30, .42, p.Length), p.woodWith(Reading{}, true).volume, 1e-12)
	require.InDelta(t, Newton(.30, .34, .42, p.Length), p.wood().volume, 1e-12)
}

// A flaring butt, a straight cone, a bulging paraboloid: no rule for the upper
// volume is less than the solid itself.
func TestUpperVolumeIsNeverLessThanTheSolid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		small := rapid.Float64Range(.1, .8).Draw(t, "small")
		large := small + rapid.Float64Range(0, .2).Draw(t, "more")
		length := rapid.Float64Range(.6, 5).Draw(t, "length")
		p := Piece{Shape: Round, Small: small, Large: large, Length: length}
		upper := p.woodWith(Reading{}, true).volume
		para := math.Sqrt((small*small + large*large) / 2)
		for name, solid := range map[string]float64{"cone": p.wood().volume, "neiloid": Neiloid(small, large, length), "paraboloid": Huber(para, length)} {
			require.GreaterOrEqual(t, upper, solid*(1-1e-12), name)
		}
		p.Middle = para
		require.GreaterOrEqual(t, p.woodWith(Reading{}, true).volume, Huber(para, length)*(1-1e-12))
		require.InDelta(t, Huber(para, length), p.wood().volume, 1e-12)
		if large-small <= length*middleTaper { // middle of the cone alone
			p = Piece{Shape: Round, Middle: (small + large) / 2, Length: length}
			require.GreaterOrEqual(t, p.woodWith(Reading{}, true).volume, frustum(small, large, length).volume*(1-1e-12))
		}
	})
}

func TestGirthsOfAnOvalWeighTooMuchNotTooLittle(t *testing.T) {
	// Ramanujan's girth of an ellipse 16 by 12.
	const a, b = 8.0, 6.0
	girth := math.Pi * (3*(a+b) - math.Sqrt((3*a+b)*(a+3*b)))
	require.Greater(t, DiameterOfGirth(girth), OvalDiameter(16, 12))
	require.InDelta(t, 12, DiameterOfGirth(12*math.Pi), 1e-12)

	p := oakPiece(t)
	p.Shape, p.Small, p.Large = Round, .40, .42
	ruler := weigh(t, p)
	p.Girths = true
	tape := weigh(t, p)
	require.Equal(t, ruler.Expected, tape.Expected)
	require.Less(t, tape.Upper, ruler.Upper) // a quarter inch of girth is a twelfth of diameter
	require.Greater(t, len(tape.Notes), len(ruler.Notes))
}

func TestMiddleAloneIsHuberAndSaysSo(t *testing.T) {
	p := oakPiece(t)
	p.Shape, p.Middle = Round, .40
	w := weigh(t, p)
	require.InDelta(t, Huber(.40, p.Length), float64(w.Volume), 1e-12)
	require.NotEmpty(t, w.Notes)
	require.True(t, p.balanceUnknown())
	p.Balance = 1
	require.False(t, p.balanceUnknown())
	p.Middle = 9
	_, err := Weigh(p)
	require.ErrorContains(t, err, "middle")
	p.Middle, p.Small = .4, .3 // one end is neither
	_, err = Weigh(p)
	require.ErrorContains(t, err, "large")
}

func TestIceSnowAndWaterHangToo(t *testing.T) {
	p := oakPiece(t)
	dry := weigh(t, p)
	p.Weather = Weather{Ice: .01}
	area := 2 * (.3*.25 + (.3+.25)*2.2)
	require.InDelta(t, float64(dry.Expected)+area*.01*917, float64(weigh(t, p).Expected), 1e-9)
	require.InDelta(t, float64(dry.Upper)+area*.01*917, float64(weigh(t, p).Upper), 1e-9)
	last := dry.Upper
	for _, kind := range []Snow{FreshSnow, SettledSnow, LateSnow} {
		p.Weather = Weather{Snow: .1, SnowKind: kind}
		require.Greater(t, weigh(t, p).Upper, last)
		last = weigh(t, p).Upper
	}
	p.Weather.SnowKind = SnowUnknown
	require.Equal(t, last, weigh(t, p).Upper) // nobody said which: the heaviest
	p.Weather = Weather{Wet: true}
	require.InDelta(t, 1.02*float64(dry.Upper), float64(weigh(t, p).Upper), 1e-9)

	p.Weather = Weather{Ice: math.NaN(), Snow: -1, IceArea: 1e9, SnowKind: 9}
	_, err := Weigh(p)
	for _, field := range []string{"ice", "snow", "ice-area", "snow-kind"} {
		require.ErrorContains(t, err, field)
	}
	p = Piece{Shape: Measured, Volume: .2, Length: 2, Density: 800, Weather: Weather{Ice: .01, Snow: .1}}
	_, err = Weigh(p)
	require.ErrorContains(t, err, "snow-area")
	p.Weather.IceArea, p.Weather.SnowArea = 2, 1
	_, err = Weigh(p)
	require.NoError(t, err)
}

func TestPondLogsAreTakenAsFullOfWater(t *testing.T) {
	p := oakPiece(t)
	green := weigh(t, p)
	p.Condition = Soaked
	w := weigh(t, p)
	require.InDelta(t, soaked(.56)*float64(w.Volume), float64(w.Expected), 1e-9)
	require.GreaterOrEqual(t, w.Upper, green.Upper)
	for _, s := range AllSpecies() { // nothing computed is heavier than that
		p.Species, p.Condition = s, Green
		green := weigh(t, p)
		p.Condition = Soaked
		require.LessOrEqual(t, float64(green.Upper), float64(weigh(t, p).Upper)+1e-9, s.Common)
	}
}

// FPL Table 4-3 runs from 6.8 % (western redcedar) to 19.1 % (persimmon).
func TestPublishedShrinkageIsUsedWhereThereIsOne(t *testing.T) {
	known := 0
	for _, s := range AllSpecies() {
		if s.Shrinkage == 0 {
			require.InDelta(t, GravityAt(s.Gravity, .12), s.GravityAt(.12), 1e-12)
			continue
		}
		known++
		require.InDelta(t, s.Gravity/(1-s.Shrinkage), s.GravityAt(0), 1e-12)
		require.True(t, s.Shrinkage >= .068 && s.Shrinkage <= .191, s.Common)
		require.Contains(t, s.Source, "Table 4-3", s.Common)
		require.InDelta(t, 1, s.GravityAt(.12)/GravityAt(s.Gravity, .12), .06, s.Common)
	}
	require.Greater(t, known, 60)
}

func TestGentleLiftsDoubleAndBeamsFeelSpeed(t *testing.T) {
	require.InDelta(t, 2, Snatch(0, .001), 1e-12)
	require.True(t, math.IsInf(Snatch(.05, 0), 1))
	require.Zero(t, BeamImpact(5, true))
	require.InDelta(t, .15, BeamImpact(0, false), 1e-12)
	shift, slab := SlabShift(.2, 0)
	require.Zero(t, shift+slab)
	shift, slab = SlabShift(.2, .2) // half the log: 4R/3π either side
	require.InDelta(t, 4*.2/3/math.Pi, shift, 1e-12)
	require.InDelta(t, shift, slab, 1e-12)
}
