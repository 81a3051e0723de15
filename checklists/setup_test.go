package checklists_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func TestPoweredSetworksAndOffBearingBringTheirStartersAndWithoutThemNone(t *testing.T) {
	has := func(s checklists.SetUp) (energy, piece, procedure, checked bool) {
		plant := procedures.StarterPlant(s.Answers())
		energy = plant.Holds("dogs-and-knees", "set-electric")
		_, piece = plant.Find("off-bearing")
		for _, p := range procedures.StarterProcedures(plant, s.Answers()) {
			procedure = procedure || p.ID == "off-bearing"
		}
		return energy, piece, procedure, checklists.StarterLists(s, plant)[0].Covers("off-bearing")
	}
	for _, by := range []string{"", "hand"} { // "": a mill set up before it was asked
		s := aSetUp()
		s.Setworks = by
		energy, piece, procedure, checked := has(s)
		require.False(t, energy || piece || procedure || checked)
	}
	s := aSetUp()
	s.Setworks, s.OffBearing = "powered", "powered"
	require.NoError(t, s.Validate())
	energy, piece, procedure, checked := has(s)
	require.True(t, energy && piece && procedure && checked)
	for field, change := range map[string]func(*checklists.SetUp){
		"setworks":    func(s *checklists.SetUp) { s.Setworks = "steam" },
		"off_bearing": func(s *checklists.SetUp) { s.OffBearing = "by cart" },
	} {
		s := aSetUp()
		change(&s)
		var bad plain.Problems
		require.ErrorAs(t, s.Validate(), &bad)
		require.NotNil(t, bad.For(field), field)
	}
}
