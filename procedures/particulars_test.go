package procedures_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func starterMill() procedures.Plant {
	return procedures.StarterPlant(procedures.Answers{Drive: "electric", Feed: "mandrel", Dogs: "hand", Hoist: "electric", Collector: "cyclone", Headblocks: 2})
}

func TestUnchangedParticularsLeaveThePlantAsItIs(t *testing.T) {
	plant := starterMill()
	for _, e := range plant {
		same, err := plant.Changed(e.ID, e.Particulars())
		require.NoError(t, err, e.ID)
		require.Equal(t, plant, same)
	}
}

func TestParticularsNameEveryFieldThatIsWrong(t *testing.T) {
	plant := starterMill()
	saw, _ := plant.Find("head-saw")
	energy, device := saw.Energies[0].ID, saw.Devices[0].ID
	for field, change := range map[string]func(*procedures.Particulars){
		"name":                    func(w *procedures.Particulars) { w.Name = " " },
		"size." + string(energy):  func(w *procedures.Particulars) { w.Sizes[energy] = strings.Repeat("9", 300) },
		"coast." + string(energy): func(w *procedures.Particulars) { w.Coasts[energy] = math.MinInt64 },
		"label." + string(device): func(w *procedures.Particulars) { w.Devices[device] = procedures.Fitting{} },
		"number." + string(device): func(w *procedures.Particulars) {
			w.Devices[device] = procedures.Fitting{Marking: procedures.Marking{Label: "x", Number: 100}}
		},
		"links": func(w *procedures.Particulars) {
			w.Links = []procedures.Link{{Kind: procedures.Drives, To: "head-saw"}}
		},
	} {
		w := saw.Particulars()
		change(&w)
		kept, err := plant.Changed("head-saw", w)
		var problems plain.Problems
		require.True(t, errors.As(err, &problems), field)
		assert.NotNil(t, problems.For(field), "%s: %v", field, err)
		if field != "links" {
			assert.Equal(t, plant, kept)
		}
	}
	_, err := plant.Changed("nothing", procedures.Particulars{Name: "x"})
	assert.Error(t, err)
}

func TestMeasuredCoastTimeIsKept(t *testing.T) {
	plant := starterMill()
	saw, _ := plant.Find("head-saw")
	w := saw.Particulars()
	w.Coasts[saw.Energies[0].ID] = 95 * time.Second
	changed, err := plant.Changed("head-saw", w)
	require.NoError(t, err)
	again, _ := changed.Find("head-saw")
	assert.Equal(t, 95*time.Second, again.Energies[0].Coast)
	before, _ := plant.Find("head-saw")
	assert.Zero(t, before.Energies[0].Coast, "the plant read is not the plant changed")
}

func TestAPieceOthersHangOnCantBeRemoved(t *testing.T) {
	plant := starterMill()
	for _, id := range []procedures.EquipmentID{"site", "carriage", "nothing"} { // parts, links to it, unknown
		_, err := plant.Removed(id)
		assert.Error(t, err, id)
	}
	more, err := plant.Added(procedures.Equipment{ID: "conveyor", Kind: procedures.OffBearing, Name: "Slab conveyor", PartOf: "site"})
	require.NoError(t, err)
	less, err := more.Removed("conveyor")
	require.NoError(t, err)
	assert.Equal(t, plant, less)
	for _, e := range []procedures.Equipment{{ID: "a", Kind: procedures.Hoist, PartOf: "site"}, {ID: "a", Kind: procedures.Site, Name: "a", PartOf: "site"},
		{ID: "a", Kind: procedures.Hoist, Name: "a", PartOf: "nowhere"}, {ID: "hoist", Kind: procedures.Hoist, Name: "a", PartOf: "site"}} {
		_, err := plant.Added(e)
		assert.Error(t, err)
	}
}

func TestEveryKindHasWords(t *testing.T) {
	for _, e := range starterMill() {
		assert.NotEqual(t, "not known", e.Kind.Words().Format)
		for _, energy := range e.Energies {
			assert.NotEqual(t, "not known", energy.Kind.Words().Format)
		}
		for _, d := range e.Devices {
			assert.NotEqual(t, "not known", d.Kind.Words().Format)
		}
	}
	for _, kind := range procedures.DeviceKinds() {
		assert.NotEqual(t, "not known", kind.Words().Format)
	}
}
