package lift_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

func TestOnlyAllYesRefusesNothingOfARun(t *testing.T) {
	l := goodLift(t)
	require.Empty(t, l.Rig.Refusals(l.Questions))
	require.Len(t, l.Rig.Refusals(lift.Questions{}), len(l.Rig.Asks()))
	for _, q := range l.Rig.Asks() {
		for _, answer := range []lift.Answer{lift.Unanswered, lift.No, 9} {
			asked := l.Questions
			*asked.At(q.Field) = answer
			refused := l.Rig.Refusals(asked)
			require.Len(t, refused, 1, q.Field)
			require.True(t, refused[0].Blocks)
		}
	}
}

func TestWhatACheckCoversIsSaidForEveryShape(t *testing.T) {
	l := goodLift(t)
	v := lift.Check(l)
	seen := map[string]bool{}
	for shape := lift.Round; shape <= lift.Measured; shape++ {
		l.Piece.Shape = shape
		said := lift.Covered(&l, &v)
		require.Len(t, said, 4)
		seen[said[2].Format] = true
	}
	require.Len(t, seen, 4)
}
