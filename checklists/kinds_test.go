package checklists_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

func TestMillsListOfKindsHoldsNamesOfTheTableOnly(t *testing.T) {
	m := aMill()
	require.Nil(t, m.SawnHere())
	m.Kinds = []string{"white oak", "Tsuga canadensis"}
	require.NoError(t, m.Validate())
	kinds := m.SawnHere()
	require.Len(t, kinds, 2)
	require.Equal(t, "eastern hemlock", kinds[1].Common)
	for _, wrong := range [][]string{{"white oak", "stone"}, {"white oak", "Quercus alba"}, {"white oak", "white oak"}, {""}} {
		m.Kinds = wrong
		problems, ok := m.Validate().(plain.Problems)
		require.True(t, ok, wrong)
		require.NotNil(t, problems.For("kinds"), wrong)
	}
	m.Kinds = []string{"white oak", "stone"}
	require.Nil(t, m.SawnHere(), "of a list that can't be read whole, the heaviest of the table stands in")
}

// The record of a mill without a list reads as it always did.
func TestMillWithoutAListSaysNothingOfIt(t *testing.T) {
	text, err := json.Marshal(aMill())
	require.NoError(t, err)
	require.NotContains(t, string(text), "kinds")
}

func TestCheckOfAnUnknownKindEndsWhenTheMillsListGetsAHeavierOne(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Mill.Kinds = []string{"eastern white pine", "eastern hemlock"}
	l, v := standingLift(at("2026-06-04 12:00"))
	l.Piece = lift.Piece{Shape: lift.Squared, Length: 2, Width: .3, Height: .3, Condition: lift.Green}.WithHeaviestOf(f.Mill.SawnHere(), nil)
	var err error
	v.Weight, err = lift.Weigh(l.Piece)
	require.NoError(t, err)
	stands := func() bool {
		return checklists.StandsStill(f, "hoist", "carriage", &l, &v, nil, nil, at("2025-06-04 11:00")).Stands
	}
	require.True(t, stands())
	f.Mill.Kinds = []string{"eastern hemlock"}
	require.True(t, stands(), "a lighter one taken off")
	f.Mill.Kinds = []string{"eastern hemlock", "white oak"}
	require.False(t, stands(), "a heavier one added")
	f.Mill.Kinds = nil
	require.False(t, stands(), "the list taken away: the heaviest of the table")
	l.Piece.Species, _ = lift.FindSpecies("eastern white pine")
	require.True(t, stands(), "the kind is known")
}
