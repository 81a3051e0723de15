package procedures_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Clauses of 29 CFR 1910.147 as in Stage.Clause.
func TestActsTogetherAreTakenWholeOrNotAtAll(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Isolate)
	at := s.now
	isolate := procedures.Event{Kind: procedures.StepDone, Person: ada.ID, At: at, Step: "isolate-saw-disconnect", Proof: procedures.Tick}
	lock := procedures.Event{Kind: procedures.LockApplied, Person: ada.ID, At: at, Device: "saw-disconnect", Lock: "14", Position: procedures.PositionOff}
	work := procedures.Event{Kind: procedures.WorkBegan, Person: ada.ID, At: at}
	before, err := json.Marshal(s.l)
	require.NoError(t, err)

	err = s.l.ApplyTogether([]procedures.Event{isolate, work, lock}, ada)
	var problems plain.Problems
	require.ErrorAs(t, err, &problems)
	require.Len(t, problems, 1)
	require.Equal(t, "1", problems[0].Field)
	require.Contains(t, problems[0].Want.String(), "Not yet. First: Your own lock and tag on: Saw disconnect.")
	require.Contains(t, problems[0].Want.String(), "29 CFR 1910.147(d)(4)")
	after, err := json.Marshal(s.l)
	require.NoError(t, err)
	require.Equal(t, string(before), string(after))

	require.NoError(t, s.l.ApplyTogether([]procedures.Event{isolate, lock}, ada))
	require.Equal(t, procedures.Relieve, s.l.Stage)
}

func TestZeroIsProvenAgainOnlyWithEveryVerifyStep(t *testing.T) {
	s := begun(t, "head-saw").to(procedures.Work)
	var verify []procedures.StepID
	for _, step := range s.l.Procedure.Steps {
		if step.Stage == procedures.Verify {
			verify = append(verify, step.ID)
		}
	}
	for i := range verify {
		left := append(append([]procedures.StepID{}, verify[:i]...), verify[i+1:]...)
		_, err := s.l.Reverification(left, verify)
		var problems plain.Problems
		require.ErrorAs(t, err, &problems)
		require.Len(t, problems, 1)
		require.Equal(t, string(verify[i]), problems[0].Field)
	}
	e, err := s.l.Reverification(verify, nil)
	require.NoError(t, err)
	s.refused(ada, e, procedures.ControlsOff.Clause(), "Put the control back to off")
	e, err = s.l.Reverification(verify, verify)
	require.NoError(t, err)
	s.do(ada, e)
}
