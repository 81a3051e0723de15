package lift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// A balance point found by trial may lie 3 % of the length from that of the shape.
func TestBalancePointByTrialLiesNearThatOfTheShape(t *testing.T) {
	p := boxed() // 2 m, balanced at 1 m
	for at, want := range map[float64]bool{0: false, 1: false, 1.06 - 1e-9: false, 1.06 + 1e-9: true, 0.94 + 1e-9: false, 0.94 - 1e-9: true} {
		p.Balance = at
		shape, off := p.trialOff()
		require.Equal(t, want, off, at)
		if at > 0 {
			require.InDelta(t, 1, shape, 1e-12)
		} else {
			require.Zero(t, shape)
		}
	}
	m := measured()
	m.Balance = 0.1
	middle := logged()
	middle.Small, middle.Large, middle.Middle, middle.Balance = 0, 0, 0.3, 0.1
	for _, unknown := range []Piece{m, middle} {
		shape, off := unknown.trialOff()
		require.False(t, off)
		require.Zero(t, shape)
		require.InDelta(t, 0.1, unknown.BalancePoint(), 0)
		unknown.Balance = 0
		require.InDelta(t, 1, unknown.BalancePoint(), 1e-12)
	}
}

// Thickness of a cant is what is left between its faces the thinner way, of a log
// its thicker end or middle; across it the thicker way, with bark by its share.
func TestThickAndThinWaysAcross(t *testing.T) {
	cant := logged() // 0.30 to 0.35
	cant.Shape, cant.Slabs = Slabbed, [4]float64{0.05, 0.02, 0.01, 0.03}
	require.InDelta(t, 0.35-0.07, cant.thickness(), 1e-12)
	require.InDelta(t, 0.35-0.04, cant.depth(false), 1e-12)
	require.InDelta(t, (0.35-0.04)/2, cant.depth(true), 1e-12)
	cant.Slabs = [4]float64{0.01, 0.03, 0.05, 0.02}
	require.InDelta(t, 0.35-0.07, cant.thickness(), 1e-12)
	require.InDelta(t, 0.35-0.04, cant.depth(false), 1e-12)
	log := logged()
	require.InDelta(t, 0.35, log.thickness(), 0)
	require.InDelta(t, 0.35, log.depth(false), 0)
	log.Middle = 0.4
	require.InDelta(t, 0.4, log.thickness(), 0)
	require.InDelta(t, 0.4, log.depth(false), 0)
	log.Small, log.Large = 0, 0
	require.InDelta(t, 0.4+2./48/2, log.depth(false), 1e-12) // an inch in 4 ft over half its 2 m
	b := boxed()
	require.InDelta(t, 0.2, b.thickness(), 0)
	require.InDelta(t, 0.3, b.depth(false), 0)
	m := measured()
	require.True(t, math.IsInf(m.thickness(), 1) && math.IsInf(m.depth(false), 1))
	m.Large = 0.4
	require.InDelta(t, 0.4, m.depth(false), 0)
	b.Bark, b.Species.BarkVolume = true, 0.21
	require.InDelta(t, 0.3*1.1, b.depth(false), 1e-12)
	b.OverBark = true
	require.InDelta(t, 0.3, b.depth(false), 0)
	b.OverBark, b.Species.BarkVolume = false, 0
	require.InDelta(t, 0.3*math.Sqrt(1.3), b.depth(false), 1e-12)
	b.Species, b.Fallback = Species{}, Species{Gravity: 0.5, BarkVolume: 0.01}
	require.InDelta(t, 0.3*math.Sqrt(1.3), b.depth(false), 1e-12)
}

// Volumes with every dimension half a step of the ruler larger: 1/4 in on the
// section and an inch on the length unless it was said.
func TestVolumesWithHalfAStepOfTheRuler(t *testing.T) {
	require.Equal(t, Reading{0.25 * 0.0254, 0.0254}, Reading{}.step())
	require.Equal(t, Reading{0.01, 0.02}, Reading{0.01, 0.02}.step())
	step := Reading{Section: 0.02, Length: 0.1}
	b := boxed()
	require.InDelta(t, 0.31*0.21*2.05, b.woodWith(step, true).volume, 1e-12)
	require.InDelta(t, 0.31*0.21*2.05*2.05/2, b.woodWith(step, true).moment, 1e-12)
	m := measured()
	require.Equal(t, solid{0.2, 0.2}, m.woodWith(step, true))
	require.Equal(t, solid{}, (&Piece{}).woodWith(step, true))
	log := logged()
	require.InDelta(t, math.Pi/12*2.05*(0.31*0.31+0.31*0.36+0.36*0.36), log.woodWith(step, false).volume, 1e-12)
	require.InDelta(t, math.Pi/8*2.05*(0.31*0.31+0.36*0.36), log.woodWith(step, true).volume, 1e-12)
	log.Girths = true
	grow := 0.01 / math.Pi
	require.InDelta(t, math.Pi/8*2.05*((0.3+grow)*(0.3+grow)+(0.35+grow)*(0.35+grow)), log.woodWith(step, true).volume, 1e-12)
	log.Girths, log.Middle = false, 0.34 // fatter than the mean: Newton's rule is the fuller
	newtons := math.Pi / 24 * 2.05 * (0.31*0.31 + 4*0.35*0.35 + 0.36*0.36)
	require.InDelta(t, newtons, log.woodWith(step, false).volume, 1e-12)
	require.InDelta(t, newtons, log.woodWith(step, true).volume, 1e-12)
	require.InDelta(t, math.Pi/24*2.05*2.05*(2*0.35*0.35+0.36*0.36), log.woodWith(step, true).moment, 1e-12)
	log.Middle = 0.31
	require.InDelta(t, math.Pi/8*2.05*(0.31*0.31+0.36*0.36), log.woodWith(step, true).volume, 1e-12)
	log.Small, log.Large = 0, 0
	huber := math.Pi / 4 * 0.32 * 0.32 * 2.05
	require.InDelta(t, huber, log.woodWith(step, false).volume, 1e-12)
	require.InDelta(t, huber*2.05/2, log.woodWith(step, true).moment, 1e-12)
	require.InDelta(t, huber+math.Pi/48*2.05*math.Pow(2.05/48, 2), log.woodWith(step, true).volume, 1e-12)
	cone := frustum(0.2, 0.4, 3)
	require.InDelta(t, math.Pi*3/3*(0.01+0.02+0.04), cone.volume, 1e-12)
	require.InDelta(t, math.Pi*9/12*(0.01+2*0.02+3*0.04), cone.moment, 1e-12)
	require.InDelta(t, 3./4*(math.Pi*0.01+math.Cbrt(math.Pow(math.Pi, 3)*0.01*0.01*0.04)+math.Cbrt(math.Pow(math.Pi, 3)*0.01*0.04*0.04)+math.Pi*0.04), Neiloid(0.2, 0.4, 3), 1e-12)
	require.InDelta(t, 0.3, OvalDiameter(0.2, 0.45), 1e-12)
	// Over the bark: the wood's share of the section is 1/(1+b); of a kind nobody
	// knows all of it is wood.
	log = logged()
	log.OverBark, log.Species.BarkVolume = true, 0.21
	require.InDelta(t, 1/1.1, log.underBark(), 1e-12)
	log.Species = Species{}
	require.InDelta(t, 1, log.underBark(), 0)
	// A cant with one face in the axis, half a step less sawn off and half a step thicker.
	cant := logged()
	cant.Small, cant.Large, cant.Shape, cant.Slabs = 0.3, 0.3, Slabbed, [4]float64{0.15}
	require.InDelta(t, math.Pi*0.0225/2*2.05, cant.woodWith(step, false).volume, 1e-9)
	r := 0.155
	off := 0.005 + 0.01 // the bark lies so much further out, and the slab is so much thinner
	require.InDelta(t, (math.Pi*r*r/2+r*r*math.Asin(off/r)+off*math.Sqrt(r*r-off*off))*2.05, cant.woodWith(step, true).volume, 1e-9)
}

// Of a piece with no wood nothing is known but its middle.
func TestPieceWithoutWoodIsBalancedInItsMiddle(t *testing.T) {
	require.InDelta(t, 1, (&Piece{Length: 2}).BalancePoint(), 0)
	require.InDelta(t, 0.5, (&Piece{Length: 2}).balanceOf(solid{4, 2}), 0)
	require.InDelta(t, 0.3, (&Piece{Length: 2, Balance: 0.3}).balanceOf(solid{4, 2}), 0)
	// Bark is counted on half the log under the bark where a face went past its axis.
	p := logged()
	p.Shape, p.Slabs, p.OverBark, p.Species.BarkVolume = Slabbed, [4]float64{0.16}, true, 0.21
	step := Reading{Section: 0.02, Length: 0.1}
	small, large := 0.31/1.1, 0.36/1.1
	require.InDelta(t, math.Pi/12*2.05*(small*small+small*large+large*large)/2, p.barked(0.001, step), 1e-12)
	p.Girths = true
	small, large = (0.3+0.01/math.Pi)/1.1, (0.35+0.01/math.Pi)/1.1
	require.InDelta(t, math.Pi/12*2.05*(small*small+small*large+large*large)/2, p.barked(0.001, step), 1e-12)
	p.Shape = Round
	require.InDelta(t, 0.001, p.barked(0.001, step), 0)
}
