package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestLiftTakesTheHeaviestOfTheKindsNamed(t *testing.T) {
	squared := func(more ...string) []string {
		return append([]string{"-shape", "squared", "-length", "2m", "-width", "300mm", "-height", "300mm", "-json"}, more...)
	}
	of := func(more ...string) liftAnswer { return answerOf(t, liftIt(t, squared(more...)...)) }
	table := of()
	require.Contains(t, table.Notes, "kind of wood not known: taken as the heaviest in the published table")
	green := of("-kinds", "white ash, Tsuga canadensis")
	require.Contains(t, green.Notes, "kind of wood not known: taken as eastern hemlock, the heaviest this mill saws")
	require.Less(t, green.UpperKg, table.UpperKg)
	dry := of("-kinds", "white ash, Tsuga canadensis", "-state", "12%")
	require.Contains(t, dry.Notes, "kind of wood not known: taken as white ash, the heaviest this mill saws")
	require.Equal(t, of("-species", "white ash", "-state", "12%").UpperKg, dry.UpperKg)
	require.Equal(t, of("-species", "red maple").UpperKg, of("-species", "red maple", "-kinds", "white ash").UpperKg, "the kind is known")
	liftIt(t, squared("-kinds", "white ash,stone")...).failed(t, exitUsage, "-kinds")
}
