package procedures_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// Histories an earlier Stillsaw kept, with the state it made of them: locks with
// no position, tags with no word on how they hang, late entries. They fold for
// ever to the same bytes, whatever is asked of a live act since.
func TestHistoriesKeptEarlierFoldToTheSameState(t *testing.T) {
	kept, err := filepath.Glob("../testdata/lockouts/*.json")
	require.NoError(t, err)
	require.Len(t, kept, 2)
	for _, name := range kept {
		raw, err := os.ReadFile(name)
		require.NoError(t, err)
		var one struct {
			P      procedures.Procedure `json:"p"`
			Events []procedures.Event   `json:"events"` // as entered
			Doc    json.RawMessage      `json:"doc"`
		}
		require.NoError(t, json.Unmarshal(raw, &one))
		l, err := procedures.Replay("lockout-1", one.P, one.Events)
		require.NoError(t, err, name)
		require.Equal(t, string(one.Doc), asJSON(t, l), name)
	}
}
