package procedures_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

func TestEveryProofThatIsOfferedHasItsOwnWords(t *testing.T) {
	said := map[string]bool{}
	for _, p := range procedures.Proofs() {
		require.NotEqual(t, procedures.Proof("").Words(), p.Words(), p)
		said[p.Words().String()] = true
	}
	require.Len(t, said, len(procedures.Proofs()))
	for _, s := range starter(t, "head-rig", answers("electric", "mandrel")).Steps {
		require.Contains(t, procedures.Proofs(), s.Proof)
	}
}
