package server

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func TestLettersOfThePlotNeverRunTogether(t *testing.T) {
	var lines []weighedLine
	for i := range 60 {
		lines = append(lines, weighedLine{Predicted: plain.Kilograms(200 + i%7), Weighed: plain.Kilograms(200 + i%11), mark: i % 3})
	}
	lines = append(lines, weighedLine{Predicted: 400, Weighed: 390, mark: 1})
	plot := plotWeighed(&views.Frame{Units: checklists.InchPound}, lines)
	require.Len(t, plot.Points, 61)
	lettered := 0
	for i, a := range plot.Points {
		if a.Mark == "" {
			continue
		}
		lettered++
		for j, b := range plot.Points {
			if i != j && b.Mark != "" {
				apart := math.Max(math.Abs(float64(a.Letter.X-b.Letter.X)), math.Abs(float64(a.Letter.Y-b.Letter.Y)))
				require.GreaterOrEqual(t, apart, 2*letterHalf, "%d %d", i, j)
			}
		}
	}
	require.Positive(t, lettered)
	require.Equal(t, "B", plot.Points[60].Mark, "one that stands alone has its letter")
}
