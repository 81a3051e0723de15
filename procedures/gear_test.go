package procedures_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func TestThoroughInspectionIsPassedByTheQualifiedAlone(t *testing.T) {
	crew := procedures.Person{Role: procedures.Operator}
	qualified := procedures.Person{Role: procedures.Operator, QualifiedLifting: true}
	reader := procedures.Person{Role: procedures.Reader, QualifiedLifting: true}
	var refusal *plain.Refusal
	require.ErrorAs(t, procedures.MayEnterGear(crew, true, true), &refusal)
	require.NoError(t, procedures.MayEnterGear(crew, true, false), "what is not fit anybody may say")
	require.NoError(t, procedures.MayEnterGear(crew, false, true))
	require.NoError(t, procedures.MayEnterGear(qualified, true, true))
	for _, thorough := range []bool{false, true} {
		for _, passed := range []bool{false, true} {
			require.ErrorAs(t, procedures.MayEnterGear(reader, thorough, passed), &refusal)
			require.ErrorAs(t, procedures.MayEnterGear(procedures.Person{}, thorough, passed), &refusal)
		}
	}
}
