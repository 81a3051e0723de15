package procedures_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

func ids(names ...procedures.EquipmentID) []procedures.EquipmentID { return names }

// The head rig is one energy system where the saw's mandrel feeds the carriage:
// a worker was carried through the saw in 1995 by a carriage whose rope was
// wound on by turning the saw (public investigation summary).
func TestHoldsTravelAlongLinks(t *testing.T) {
	for _, tc := range []struct {
		name            string
		plant           procedures.Plant
		at              procedures.EquipmentID
		lockout, onStop []procedures.EquipmentID
	}{
		{"saw that feeds the carriage", procedures.StarterPlant(answers("electric", "mandrel")), "head-saw",
			ids("head-saw", "carriage", "dogs-and-knees"), ids("head-saw", "carriage", "dogs-and-knees")},
		{"carriage fed by the saw", procedures.StarterPlant(answers("electric", "mandrel")), "carriage",
			ids("head-saw", "carriage", "dogs-and-knees", "hoist"), ids("carriage", "dogs-and-knees")},
		{"dogs on a carriage fed by the saw of an engine", procedures.StarterPlant(answers("engine", "mandrel")), "dogs-and-knees",
			ids("engine", "head-saw", "carriage", "dogs-and-knees", "hoist"), ids("carriage", "dogs-and-knees")},
		{"carriage with its own motor", procedures.StarterPlant(answers("electric", "own-motor")), "carriage",
			ids("carriage", "dogs-and-knees", "hoist"), ids("carriage", "dogs-and-knees")},
		{"saw beside a carriage with its own motor", procedures.StarterPlant(answers("tractor-shaft", "own-motor")), "head-saw",
			ids("tractor", "head-saw"), ids("head-saw")},
		{"engine", procedures.StarterPlant(answers("engine", "mandrel")), "engine",
			ids("engine", "head-saw", "carriage", "dogs-and-knees"), ids("engine", "head-saw", "carriage", "dogs-and-knees")},
		{"hoist", procedures.StarterPlant(answers("electric", "mandrel")), "hoist", ids("hoist"), ids("hoist")},
		{"dust collection", procedures.StarterPlant(answers("electric", "mandrel")), "dust-collection", ids("dust-collection"), ids("dust-collection")},
		{"site", procedures.StarterPlant(answers("electric", "hand")), "site",
			ids("site", "head-saw", "carriage", "dogs-and-knees", "hoist", "dust-collection"),
			ids("site", "head-saw", "carriage", "dogs-and-knees", "hoist", "dust-collection")},
		{"something the plant doesn't know", procedures.StarterPlant(answers("electric", "hand")), "edger",
			ids("site", "head-saw", "carriage", "dogs-and-knees", "hoist", "dust-collection", "edger"),
			ids("site", "head-saw", "carriage", "dogs-and-knees", "hoist", "dust-collection", "edger")},
	} {
		require.Equal(t, tc.lockout, tc.plant.ReachedByLockout(tc.at), "lockout: %s", tc.name)
		require.Equal(t, tc.onStop, tc.plant.ReachedByStop(tc.at), "stop: %s", tc.name)
	}
}

func TestWhatDrivesOrLoadsAPartReachesWhoeverServicesTheWhole(t *testing.T) {
	plant := procedures.Plant{
		{ID: "site", Kind: procedures.Site, Name: "Mill"},
		{ID: "pump", PartOf: "site", Kind: procedures.Supply, Name: "Pump", Links: []procedures.Link{{Kind: procedures.Supplies, To: "dogs"}}},
		{ID: "carriage", PartOf: "site", Kind: procedures.Carriage, Name: "Carriage"},
		{ID: "dogs", PartOf: "carriage", Kind: procedures.DogsAndKnees, Name: "Dogs"},
		{ID: "hoist", PartOf: "site", Kind: procedures.Hoist, Name: "Hoist", Links: []procedures.Link{{Kind: procedures.LandsOn, To: "dogs"}}},
	}
	require.NoError(t, plant.Validate())
	require.Equal(t, ids("pump", "carriage", "dogs", "hoist"), plant.ReachedByLockout("carriage"))
	require.Equal(t, ids("pump", "carriage", "dogs"), plant.ReachedByStop("pump"), "a carriage lacking its dogs can't run")
	require.Equal(t, ids("carriage", "dogs"), plant.ReachedByStop("carriage"))
}

func TestPartsAreFoundUnderTheirWhole(t *testing.T) {
	plant := procedures.StarterPlant(answers("electric", "mandrel"))
	require.Equal(t, ids("dogs-and-knees"), plant.Parts("carriage"))
	require.Empty(t, plant.Parts("hoist"))
	require.Empty(t, plant.Parts(""))
}

func TestAPlantWithAGapIsRefused(t *testing.T) {
	find := func(p procedures.Plant, id procedures.EquipmentID) *procedures.Equipment {
		for i := range p {
			if p[i].ID == id {
				return &p[i]
			}
		}
		return nil
	}
	for name, spoil := range map[string]func(p procedures.Plant) procedures.Plant{
		"no site":           func(p procedures.Plant) procedures.Plant { return p[1:] },
		"nothing":           func(procedures.Plant) procedures.Plant { return nil },
		"two sites":         func(p procedures.Plant) procedures.Plant { p[2].Kind = procedures.Site; return p },
		"same id twice":     func(p procedures.Plant) procedures.Plant { return append(p, p[1]) },
		"no name":           func(p procedures.Plant) procedures.Plant { p[1].Name = " "; return p },
		"unknown kind":      func(p procedures.Plant) procedures.Plant { p[1].Kind = "edger"; return p },
		"part of nothing":   func(p procedures.Plant) procedures.Plant { p[1].PartOf = "attic"; return p },
		"parts in a circle": func(p procedures.Plant) procedures.Plant { find(p, "carriage").PartOf = "dogs-and-knees"; return p },
		"link to nothing":   func(p procedures.Plant) procedures.Plant { find(p, "hoist").Links[0].To = "attic"; return p },
		"link to itself":    func(p procedures.Plant) procedures.Plant { find(p, "hoist").Links[0].To = "hoist"; return p },
		"link to the site":  func(p procedures.Plant) procedures.Plant { find(p, "hoist").Links[0].To = "site"; return p },
		"unknown link":      func(p procedures.Plant) procedures.Plant { find(p, "hoist").Links[0].Kind = "pulls"; return p },
		"cuts nothing":      func(p procedures.Plant) procedures.Plant { find(p, "hoist").Devices[0].Cuts = nil; return p },
		"cuts what isn't":   func(p procedures.Plant) procedures.Plant { find(p, "hoist").Devices[0].Cuts[0] = "luck"; return p },
		"stop button":       func(p procedures.Plant) procedures.Plant { find(p, "hoist").Devices[0].Kind = "pendant"; return p },
		"device twice":      func(p procedures.Plant) procedures.Plant { find(p, "hoist").Devices[0].ID = "saw-pin"; return p },
		"energy twice":      func(p procedures.Plant) procedures.Plant { find(p, "hoist").Energies[0].ID = "saw-heat"; return p },
		"unknown energy":    func(p procedures.Plant) procedures.Plant { find(p, "hoist").Energies[0].Kind = "luck"; return p },
		"negative coasting": func(p procedures.Plant) procedures.Plant { find(p, "hoist").Energies[0].Coast = -1; return p },
		"drives in a circle": func(p procedures.Plant) procedures.Plant {
			find(p, "carriage").Links = []procedures.Link{{Kind: procedures.Drives, To: "head-saw"}}
			return p
		},
	} {
		plant := procedures.StarterPlant(answers("engine", "mandrel"))
		require.NoError(t, plant.Validate())
		require.Error(t, spoil(plant).Validate(), name)
	}
}

// 29 CFR 1910.147(b) "energy isolating device".
func TestControlsAreNoIsolators(t *testing.T) {
	for _, control := range []string{"stop button", "e-stop", "Emergency stop", "push-button", "pendant", "selector switch", "ignition key", "ignition", "key", "clutch-lever", "clutch", "feed lever", "", "charm"} {
		kind, err := procedures.ParseDeviceKind(control)
		require.ErrorContains(t, err, "29 CFR 1910.147(b)", control)
		require.Empty(t, kind)
	}
	for _, kind := range procedures.DeviceKinds() {
		parsed, err := procedures.ParseDeviceKind(string(kind))
		require.NoError(t, err)
		require.Equal(t, kind, parsed)
	}
}
