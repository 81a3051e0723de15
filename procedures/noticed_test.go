package procedures_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// What was never measured keeps the coast time it was entered with.
func TestCoastTimeStandsUntilItIsMeasured(t *testing.T) {
	plant := procedures.Plant{{ID: "saw", Energies: []procedures.Energy{{ID: "arbor", Kind: procedures.Rotation, Coast: 90 * time.Second}}}}
	for _, history := range [][]procedures.CoastMeasured{nil, {{Energy: "fan", Seconds: 7}}} {
		require.Equal(t, 90*time.Second, plant.Measured(history)[0].Energies[0].Coast)
	}
	require.Equal(t, 7*time.Second, plant.Measured([]procedures.CoastMeasured{{Energy: "arbor", Seconds: 7}})[0].Energies[0].Coast)
	require.Equal(t, 90*time.Second, plant[0].Energies[0].Coast, "the plant handed in is left as it is")
}

func TestPersonHasOneOfTheRolesThereAre(t *testing.T) {
	for role, ok := range map[procedures.Role]bool{procedures.Operator: true, procedures.Supervisor: true, procedures.Reader: true, "": false, "boss": false} {
		err := procedures.Person{ID: "p", Name: "Jo", Role: role}.Validate()
		require.Equal(t, ok, err == nil, "%q: %v", role, err)
	}
}

// An act that is refused without a clause is refused all the same, and nothing of
// what was sent with it is taken.
func TestActNobodyKnowsIsRefusedAmongOthers(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Isolate)
	isolate := procedures.Event{Kind: procedures.StepDone, Person: ada.ID, At: s.now, Step: "isolate-saw-disconnect", Proof: procedures.Tick}
	before, err := json.Marshal(s.l)
	require.NoError(t, err)
	err = s.l.ApplyTogether([]procedures.Event{isolate, {Kind: "dance", Person: ada.ID, At: s.now}}, ada)
	var problems plain.Problems
	require.ErrorAs(t, err, &problems)
	require.Equal(t, "1", problems[0].Field)
	after, err := json.Marshal(s.l)
	require.NoError(t, err)
	require.Equal(t, string(before), string(after))
}

func TestPlaceOfADeviceIsAFewWords(t *testing.T) {
	plant := starterMill()
	saw, _ := plant.Find("head-saw")
	id := saw.Devices[0].ID
	for _, letters := range []int{200, 201} {
		w := saw.Particulars()
		fitting := w.Devices[id]
		fitting.Place = strings.Repeat("x", letters)
		w.Devices[id] = fitting
		_, err := plant.Changed("head-saw", w)
		if letters == 200 {
			require.NoError(t, err)
			continue
		}
		var problems plain.Problems
		require.ErrorAs(t, err, &problems)
		require.NotNil(t, problems.For("place."+string(id)))
	}
}
