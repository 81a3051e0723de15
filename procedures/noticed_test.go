package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
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
