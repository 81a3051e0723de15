package lift

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func oakPiece(t require.TestingT) Piece {
	oak, ok := FindSpecies("northern red oak")
	require.True(t, ok)
	return Piece{Shape: Squared, Width: .3, Height: .25, Length: 2.2, Species: oak, Condition: Green}
}

func weigh(t require.TestingT, p Piece) Weight {
	w, err := Weigh(p)
	require.NoError(t, err)
	return w
}

// readings are weighings of that piece at these ratios to the published mean.
func readings(t require.TestingT, p Piece, ratios ...float64) (list []Weighing) {
	p.Learned = Learned{}
	expected := float64(weigh(t, p).Expected)
	for _, x := range ratios {
		w, err := CompareScale(p, expected*x+12, 12)
		require.NoError(t, err)
		w.Lifted, w.At = true, time.Date(2026, 3, 2+2*len(list), 9, 0, 0, 0, time.UTC)
		list = append(list, w)
	}
	return list
}

func TestScaleReadingLeavesGearBarkAndSnowOut(t *testing.T) {
	p := oakPiece(t)
	p.Bark, p.Extra = true, 7
	p.Weather = Weather{Snow: .05, SnowKind: FreshSnow, Ice: .002, Wet: true}
	w, err := CompareScale(p, float64(weigh(t, p).Expected)+31, 31)
	require.NoError(t, err)
	require.InDelta(t, 1, w.Ratio(), 1e-9)
	p.Species = Species{}
	_, err = CompareScale(p, 300, 400)
	require.ErrorContains(t, err, "species")
	require.ErrorContains(t, err, "scale-gear")
	_, err = CompareScale(p, math.NaN(), 0)
	require.Error(t, err)
}

func TestNothingWeighedIsPublished(t *testing.T) {
	p := oakPiece(t)
	published := weigh(t, p)
	learned, odd := Learn(nil, p.Species, p.Condition)
	require.Equal(t, Learned{}, learned)
	require.Empty(t, odd)
	other := readings(t, p, 1.1)
	other[0].Kind = "Quercus alba"
	aside := readings(t, p, 1.1)[0]
	aside.Aside = true
	p.Learned, odd = Learn(append(other, aside), p.Species, p.Condition)
	require.Empty(t, odd)
	require.Equal(t, published, weigh(t, p))
}

func TestReadingsMoveTheExpectedWeightTowardThemselves(t *testing.T) {
	p := oakPiece(t)
	published := weigh(t, p)
	last := float64(published.Expected)
	var list []Weighing
	for n := 1; n <= 40; n++ {
		list = append(list, readings(t, p, 0.92)...)
		list[n-1].At = list[0].At.AddDate(0, 0, 2*n)
		p.Learned, _ = Learn(list, p.Species, p.Condition)
		w := weigh(t, p)
		require.Less(t, float64(w.Expected), last)
		require.Greater(t, float64(w.Expected), 0.92*float64(published.Expected))
		if n < lighterFrom {
			require.Equal(t, published.Upper, w.Upper)
		}
		last = float64(w.Expected)
	}
	require.InDelta(t, (40*0.92+4)/44*float64(published.Expected), last, 1e-6)
	require.Less(t, weigh(t, p).Upper, published.Upper)
}

// The bound for one more observation: mean + t(.95, n−1)·s·√(1+1/n), with mean,
// deviation and quantile from gonum.
func TestHeavyReadingsRaiseTheUpperWeightByTheirOwnBound(t *testing.T) {
	p := oakPiece(t)
	ratios := []float64{1.02, 1.10, 1.15, 1.08, 1.12, 1.05}
	p.Learned, _ = Learn(readings(t, p, ratios...), p.Species, p.Condition)
	mean, deviation := stat.MeanStdDev(ratios, nil)
	n := float64(len(ratios))
	bound := mean + distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(.95)*deviation*math.Sqrt(1+1/n)
	require.InDelta(t, bound, p.Learned.Bound, 1e-4)

	pine := oakPiece(t) // far from full of water, so there is room above
	pine.Species, _ = FindSpecies("eastern white pine")
	published := weigh(t, pine)
	pine.Learned, _ = Learn(readings(t, pine, 1.18), pine.Species, pine.Condition)
	require.Greater(t, weigh(t, pine).Upper, published.Upper) // one heavy piece counts at once
	pine.Learned, _ = Learn(readings(t, pine, 1.1, 1.6, 1.0, 1.5, 1.2), pine.Species, pine.Condition)
	most := pine.woodWith(pine.Reading.step(), true).volume / pine.wood().volume
	require.InDelta(t, pine.Learned.Bound*most*float64(published.Expected), float64(weigh(t, pine).Upper), 1e-6)
}

func TestUpperStaysAtThePublishedMeanUnlessSigned(t *testing.T) {
	p := oakPiece(t)
	published := weigh(t, p)
	var ratios []float64
	for range 30 {
		ratios = append(ratios, 0.60, 0.61, 0.62)
	}
	p.Learned, _ = Learn(readings(t, p, ratios...), p.Species, p.Condition)
	step := float64(p.woodWith(p.Reading.step(), true).volume / p.wood().volume)
	require.InDelta(t, float64(published.Expected)*step, float64(weigh(t, p).Upper), 1e-6)
	p.Learned.Signed = true
	require.Less(t, weigh(t, p).Upper, published.Expected)
}

func TestOddReadingsAreFlaggedNotSwallowed(t *testing.T) {
	p := oakPiece(t)
	usual := []float64{.98, 1.01, 1.03, .99, 1.02, 1.00}
	plainly, odd := Learn(readings(t, p, usual...), p.Species, p.Condition)
	require.Empty(t, odd)

	light, odd := Learn(readings(t, p, append(usual, .55)...), p.Species, p.Condition)
	require.Len(t, odd, 1)
	require.False(t, odd[0].Counted)
	require.Equal(t, plainly, light) // hanging on a dog still: teaches nothing

	heavy, odd := Learn(readings(t, p, append(usual, 1.30)...), p.Species, p.Condition)
	require.Len(t, odd, 1)
	require.True(t, odd[0].Counted)
	require.Greater(t, heavy.Mean, plainly.Mean)
	require.Greater(t, heavy.Bound, plainly.Bound)
	list := readings(t, p, append(usual, 1.30)...)
	list[len(list)-1].Aside = true
	asideNow, odd := Learn(list, p.Species, p.Condition)
	require.Empty(t, odd)
	require.Equal(t, plainly, asideNow)

	wild, odd := Learn(readings(t, p, append(usual, 10, .05)...), p.Species, p.Condition)
	require.Len(t, odd, 2)
	require.Equal(t, plainly, wild)
	require.NotEmpty(t, odd[0].Said.String())
}

// Two wild readings among seven would drag a mean and deviation along with
// them; the median doesn't move.
func TestSeveralOddReadingsDontHideEachOther(t *testing.T) {
	p := oakPiece(t)
	_, odd := Learn(readings(t, p, .98, 1.01, 1.03, .99, 1.02, .60, .62), p.Species, p.Condition)
	require.Len(t, odd, 2)
}

func TestLearnedOfOtherWoodIsRefused(t *testing.T) {
	p := oakPiece(t)
	p.Learned, _ = Learn(readings(t, p, 1.02), p.Species, p.Condition)
	weigh(t, p)
	dry := p
	dry.Condition = AirDry
	_, err := Weigh(dry)
	require.ErrorContains(t, err, "learned")
	unknown := p
	unknown.Species = Species{}
	_, err = Weigh(unknown)
	require.ErrorContains(t, err, "learned")
	p.Learned.Shrunk = math.NaN()
	_, err = Weigh(p)
	require.ErrorContains(t, err, "learned")
}

func TestNoReadingsEverMakeAnUpperBelowTheFloor(t *testing.T) {
	kinds := AllSpecies()
	rapid.Check(t, func(t *rapid.T) {
		p := oakPiece(t)
		p.Species = rapid.SampledFrom(kinds).Draw(t, "kind")
		p.Condition = rapid.SampledFrom([]Condition{Green, PartDry, AirDry, Soaked}).Draw(t, "condition")
		published := weigh(t, p)
		ratios := rapid.SliceOfN(rapid.Float64Range(0.2, 3), 1, 30).Draw(t, "ratios")
		p.Learned, _ = Learn(readings(t, p, ratios...), p.Species, p.Condition)
		w := weigh(t, p)
		require.False(t, math.IsNaN(float64(w.Upper)) || math.IsInf(float64(w.Upper), 0))
		require.GreaterOrEqual(t, float64(w.Upper), float64(w.Expected)-1e-9)
		require.GreaterOrEqual(t, float64(w.Upper), float64(published.Expected)-1e-9)
		if p.Learned.N < lighterFrom {
			require.GreaterOrEqual(t, float64(w.Upper), float64(published.Upper)-1e-9)
		}
		total := 0.0
		for _, part := range w.Parts {
			total += float64(part.Mass)
		}
		require.InDelta(t, float64(w.Upper-w.Expected), total, 1e-6)
	})
}

// The mill's readings are worth having: of pieces drawn from wood a tenth
// heavier than published, at least 95 in 100 stay under the learned bound.
func TestLearnedBoundCoversWhatComesNext(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	p := oakPiece(t)
	under, all := 0, 0
	for range 300 {
		var ratios []float64
		for range 8 {
			ratios = append(ratios, 1.10+0.07*random.NormFloat64())
		}
		l, _ := Learn(readings(t, p, ratios...), p.Species, p.Condition)
		for range 10 {
			all++
			if 1.10+0.07*random.NormFloat64() <= l.Bound {
				under++
			}
		}
	}
	require.InDelta(t, 0.95, float64(under)/float64(all), 0.02)
}

func TestStudentAgreesWithGonum(t *testing.T) {
	for n := 1; n <= 500; n++ {
		require.InDelta(t, distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n)}.Quantile(.95), student95(n), 6e-4, "%d", n)
	}
	require.True(t, math.IsInf(student95(0), 1))
}

func TestBelowMeanIsWhereOnlyASignatureLetsTheWeightGo(t *testing.T) {
	p := oakPiece(t)
	var light, usual []float64
	for range 30 {
		light, usual = append(light, 0.60, 0.61, 0.62), append(usual, 0.95, 1.0, 1.05)
	}
	l, _ := Learn(readings(t, p, light...), p.Species, p.Condition)
	require.True(t, l.BelowMean(p.Species, p.Condition))
	require.True(t, l.SignedFor(true).BelowMean(p.Species, p.Condition), "signed or not")
	require.False(t, l.BelowMean(p.Species, AirDry), "of another condition")
	pine, _ := FindSpecies("eastern white pine")
	require.False(t, l.BelowMean(pine, p.Condition), "of another kind")
	few, _ := Learn(readings(t, p, light[:lighterFrom-1]...), p.Species, p.Condition)
	require.False(t, few.BelowMean(p.Species, p.Condition), "too few to make it less")
	mean, _ := Learn(readings(t, p, usual...), p.Species, p.Condition)
	require.False(t, mean.BelowMean(p.Species, p.Condition))
	require.False(t, Learned{}.BelowMean(p.Species, p.Condition))
	require.Equal(t, Learned{}, Learned{}.SignedFor(true), "nothing learned is nothing signed")
}
