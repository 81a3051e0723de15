package lift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

func chartOf(l lift.Lift) lift.ChartOf {
	c := lift.ChartOf{Rig: l.Rig, Shape: lift.Round, Condition: lift.Green, Kinds: lift.AllSpecies(), Span: 1.1, Now: now}
	if l.Rig.Hitch == lift.EndHooks {
		c.Span = 2 * inch
	}
	for d := 8.0; len(c.Diameters) < 40; d += 0.5 {
		c.Diameters = append(c.Diameters, d*inch)
	}
	return c
}

// agrees tells whether every limit is a GO and one step beyond it a NO-GO.
func agrees(t require.TestingT, c lift.ChartOf, chart lift.Chart) bool {
	step, printed := float64(chart.Step), 0
	goes := func(k, d int, length float64) bool {
		v := lift.Check(c.At(c.Kinds[k], c.Diameters[d], length))
		return v.Allowed(!c.Unsigned)
	}
	for k := range chart.Cells {
		for d, cell := range chart.Cells[k] {
			short, long := float64(cell.Shortest), float64(cell.Longest)
			if cell == (lift.Limits{}) {
				continue
			}
			printed++
			if !goes(k, d, short) || !goes(k, d, long) || goes(k, d, short-step) || goes(k, d, long+step) {
				return false
			}
		}
	}
	require.Greater(t, printed, 0)
	return true
}

func TestEveryPrintedLimitAgreesWithTheVerdict(t *testing.T) {
	tight := hookLift(t)
	tight.Rig.HookToYoke, tight.Rig.Headroom = 0.1, 0.95
	squared := chartOf(hookLift(t))
	squared.Shape, squared.Step = lift.Squared, 0.025
	bark, weighed := chartOf(hookLift(t)), chartOf(hookLift(t))
	bark.Bark = true
	for i, kind := range weighed.Kinds {
		one := lift.Weighing{Kind: kind.Scientific, Condition: lift.Green, Predicted: 100, Weighed: 90 + float64(i%5)*6, Volume: 0.1, Lifted: true}
		learned, _ := lift.Learn([]lift.Weighing{one}, kind, lift.Green)
		weighed.Learned = append(weighed.Learned, learned)
	}
	lowBark := chartOf(tight)
	lowBark.Bark = true
	unsigned := chartOf(hookLift(t))
	unsigned.Unsigned = true
	choker := goodLift(t)
	choker.Rig.Hitch = lift.Choker
	for name, c := range map[string]lift.ChartOf{"slings": chartOf(goodLift(t)), "choker": chartOf(choker), "end hooks": chartOf(hookLift(t)), "low roof": chartOf(tight), "low roof, bark on": lowBark, "squared, 25 mm": squared, "bark on": bark, "unsigned": unsigned, "weighed": weighed} {
		chart := c.Chart()
		require.Empty(t, chart.Faults)
		require.True(t, agrees(t, c, chart), name)
		// The check is seen to find a chart that rounds its limits up.
		for k := range chart.Cells {
			for d := range chart.Cells[k] {
				if chart.Cells[k][d].Longest > 0 {
					chart.Cells[k][d].Longest += chart.Step
				}
			}
		}
		require.False(t, agrees(t, c, chart), name)
	}
}

// What weighs more, or may bear less, is never printed longer.
func TestBarkHeavyReadingsAndTheMarginOnlyShorten(t *testing.T) {
	bare, bark, weighed, unsigned := chartOf(hookLift(t)), chartOf(hookLift(t)), chartOf(hookLift(t)), chartOf(hookLift(t))
	bark.Bark, unsigned.Unsigned = true, true
	for _, kind := range weighed.Kinds {
		learned, _ := lift.Learn([]lift.Weighing{{Kind: kind.Scientific, Condition: lift.Green, Predicted: 100, Weighed: 112, Volume: 0.1}}, kind, lift.Green)
		require.Positive(t, learned.N)
		weighed.Learned = append(weighed.Learned, learned)
	}
	published := bare.Chart()
	for _, heavier := range []lift.ChartOf{bark, weighed, unsigned} {
		shorter := 0
		chart := heavier.Chart()
		for k := range chart.Cells {
			for d := range chart.Cells[k] {
				require.LessOrEqual(t, chart.Cells[k][d].Longest, published.Cells[k][d].Longest)
				if chart.Cells[k][d].Longest < published.Cells[k][d].Longest {
					shorter++
				}
			}
		}
		require.Positive(t, shorter)
	}
}

// A cell left empty has no length at all that is a GO, and one with limits none
// outside them: every length of a few diameters is tried.
func TestNothingOutsideTheLimitsIsGo(t *testing.T) {
	c := chartOf(hookLift(t))
	c.Kinds = []lift.Species{kind(t, "live oak"), kind(t, "northern white-cedar")}
	c.Diameters = []float64{8 * inch, 16 * inch, 22 * inch, 40 * inch}
	chart := c.Chart()
	empty := 0
	for k := range c.Kinds {
		for d := range c.Diameters {
			cell := chart.Cells[k][d]
			if cell.Longest == 0 {
				empty++
			}
			for length := inch; length < 6; length += inch {
				inside := cell.Longest > 0 && length > float64(cell.Shortest)-1e-9 && length < float64(cell.Longest)+1e-9
				require.Equal(t, inside, lift.Check(c.At(c.Kinds[k], c.Diameters[d], length)).Go, "%s %v %v", c.Kinds[k].Common, c.Diameters[d]/inch, length/inch)
			}
		}
	}
	require.Positive(t, empty)
}

func TestARigThatLiftsNothingHasAnEmptyChart(t *testing.T) {
	c := chartOf(goodLift(t))
	c.Now = now.Add(1000 * time.Hour) // inspections overdue
	chart := c.Chart()
	require.NotEmpty(t, chart.Faults)
	held := chartOf(goodLift(t))
	held.Holds = []plain.Sentence{plain.Say("dropped")}
	for _, chart := range []lift.Chart{chart, held.Chart()} {
		require.NotEmpty(t, chart.Faults)
		for _, row := range chart.Cells {
			for _, cell := range row {
				require.Zero(t, cell)
			}
		}
	}
}

func BenchmarkChart(b *testing.B) {
	c := chartOf(hookLift(b))
	for b.Loop() {
		if len(c.Chart().Cells) != 118 {
			b.Fatal("not the whole table")
		}
	}
}
