package procedures_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

func TestLighterWoodIsSignedForByASupervisorOnReadingsThatSayIt(t *testing.T) {
	oak, ok := lift.FindSpecies("northern red oak")
	require.True(t, ok)
	light := lift.Learned{Kind: oak.Scientific, Condition: lift.Green, N: 40, Mean: 0.6, Spread: 0.01, Shrunk: 0.63, Bound: 0.62, Heaviest: 0.62}
	sam, ada := procedures.Person{Role: procedures.Supervisor}, procedures.Person{Role: procedures.Operator}
	var refusal *plain.Refusal
	require.NoError(t, procedures.MaySignLighter(sam, oak, lift.Green, light, true))
	require.ErrorAs(t, procedures.MaySignLighter(ada, oak, lift.Green, light, true), &refusal)
	require.ErrorAs(t, procedures.MaySignLighter(ada, oak, lift.Green, light, false), &refusal)
	require.ErrorAs(t, procedures.MaySignLighter(sam, oak, lift.Green, lift.Learned{}, true), &refusal, "no readings")
	require.NoError(t, procedures.MaySignLighter(sam, oak, lift.Green, lift.Learned{}, false), "taken back at any time")
	require.ErrorAs(t, procedures.MaySignLighter(procedures.Person{}, oak, lift.Green, light, true), &refusal)
}
